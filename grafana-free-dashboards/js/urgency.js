// How soon: a shape and a word, so that colour is never alone. The fuller the shape, the sooner.

import { el, svg } from "./dom.js";
import { T } from "./texts.js";

const SHAPES = {
  now: () => [svg("path", { d: "M8 1l7 13H1z" })],
  today: () => [svg("circle", { cx: 8, cy: 8, r: 6.5 })],
  "this-week": () => [
    svg("circle", { cx: 8, cy: 8, r: 5.8, class: "ring" }),
    svg("path", { d: "M8 2.2a5.8 5.8 0 0 1 0 11.6z" }),
  ],
  "for-information": () => [svg("circle", { cx: 8, cy: 8, r: 5.8, class: "ring" })],
  answered: () => [svg("path", { d: "M2.5 8.5l3.5 3.5 7.5-8", class: "ring" })],
  none: () => [svg("path", { d: "M3 8h10", class: "ring" })],
};

// How soon an advisory (or what a line says of one) is to be done: the one place that says so on all pages. `late`: the
// day by which it should have been done has passed; `answer`: what was answered, as long as it holds.
export function urgencyMark({ urgency, late = false, answer = null }) {
  const name = answer ? "answered" : late ? "late" : (urgency ?? "none");
  return el(
    "span",
    { class: `urgency ${name === "late" ? "now" : name}` },
    svg("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" }, SHAPES[name === "late" ? "now" : name]()),
    el("span", {}, answer ? T.answer[answer].toLocaleLowerCase(T.locale) : T.urgency[name]),
  );
}

// An advisory's title as a sentence, marked where it was answered; of a day that has passed hivemon's own words tell.
export function saidOf({ title, answer }) {
  const text = T.sentence(title);
  return answer ? T.answer.marked[answer](text) : text;
}

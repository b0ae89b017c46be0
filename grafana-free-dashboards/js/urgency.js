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
  none: () => [svg("path", { d: "M3 8h10", class: "ring" })],
};

// `late`: the day by which it should have been done has passed.
export function urgencyMark(urgency, late = false) {
  const name = urgency ?? "none";
  return el(
    "span",
    { class: `urgency ${late ? "now" : name}` },
    svg("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" }, SHAPES[late ? "now" : name]()),
    el("span", {}, late ? T.urgency.late : T.urgency[name]),
  );
}

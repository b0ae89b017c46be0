// The letters on the weight curve: buttons that lead to what happened there.

import { el, replace } from "./dom.js";
import { moment } from "./format.js";
import { T } from "./texts.js";

const APART = 26; // px: a finger finds it
const LEVELS = 3;

let made = { node: null, found: null, buttons: [] };

// Places a letter for each thing found above the plot. Letters that stand already are only moved, so that a finger or
// the focus on one is not lost.
export function placeMarks(node, found, plot, zone) {
  if (made.node !== node || made.found !== found) {
    made = { node, found, buttons: found.map((item) => button(item, zone)) };
    replace(node, made.buttons);
    node.hidden = found.length === 0;
  }
  const left = plot.bbox.left / devicePixelRatio;
  const right = plot.bbox.width / devicePixelRatio;
  const ends = Array(LEVELS).fill(-Infinity);
  let used = 1;
  found.forEach((item, i) => {
    // What began before the time that is shown stands at its beginning.
    const x = left + Math.max(Math.min(plot.valToPos(item.time, "x"), right), 0);
    const level = freeLevel(ends, x);
    ends[level] = x;
    used = Math.max(used, level + 1);
    made.buttons[i].style.left = `${x}px`;
    made.buttons[i].style.top = `${level * APART}px`;
  });
  node.style.height = `${used * APART}px`;
}

// Returns the uppermost level with room at a place, or the one that was left longest.
function freeLevel(ends, x) {
  const free = ends.findIndex((end) => x - end >= APART);
  return free >= 0 ? free : ends.indexOf(Math.min(...ends));
}

function button(item, zone) {
  const told = T.hive.mark(item.letter, `${item.text}, ${moment(item.time, zone)}`);
  return el(
    "button",
    {
      type: "button",
      class: `mark ${item.kind}`,
      "data-key": `mark-${item.event?.id ?? item.entry.id}`,
      "aria-label": told,
      title: item.text,
      on: { click: () => lead(item.letter) },
    },
    item.letter,
  );
}

function lead(letter) {
  const item = document.getElementById(`happened-${letter}`);
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  item?.querySelector("details.why")?.setAttribute("open", "");
  item?.scrollIntoView({ block: "center", behavior: still ? "auto" : "smooth" });
  item?.focus({ preventScroll: true });
}

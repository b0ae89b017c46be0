// The letters on the weight curve: buttons that lead to what happened there.

import { el, replace } from "./dom.js";
import { moment } from "./format.js";
import { T } from "./texts.js";

const APART = 26; // px: a finger finds it
const LEVELS = 3;

export function placeMarks(node, found, plot, zone) {
  const left = plot.bbox.left / devicePixelRatio;
  const ends = Array(LEVELS).fill(-Infinity);
  const buttons = found.map((item) => {
    const x = left + Math.min(plot.valToPos(item.time, "x"), plot.bbox.width / devicePixelRatio);
    let level = ends.findIndex((end) => x - end >= APART);
    if (level < 0) level = ends.indexOf(Math.min(...ends));
    ends[level] = x;
    const button = el(
      "button",
      {
        type: "button",
        class: `mark ${item.kind}`,
        "data-key": `mark-${item.letter}`,
        "aria-label": T.hive.mark(item.letter, `${item.text}, ${moment(item.time, zone)}`),
        title: item.text,
        on: { click: () => lead(item.letter) },
      },
      item.letter,
    );
    button.style.left = `${x}px`;
    button.style.top = `${level * APART}px`;
    return button;
  });
  node.style.height = `${(1 + Math.max(0, ...buttons.map((button) => parseInt(button.style.top, 10) / APART))) * APART}px`;
  replace(node, buttons);
  node.hidden = buttons.length === 0;
}

function lead(letter) {
  const item = document.getElementById(`happened-${letter}`);
  item?.querySelector("details.why")?.setAttribute("open", "");
  item?.scrollIntoView({
    block: "center",
    behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth",
  });
  item?.focus({ preventScroll: true });
}

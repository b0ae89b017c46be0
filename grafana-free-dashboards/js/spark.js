// The small curve of a hive: its weight at dawn and dusk of the last two weeks, drawn as SVG.

import { svg } from "./dom.js";
import { change } from "./format.js";
import { T } from "./texts.js";

const WIDTH = 120;
const HEIGHT = 34;
const LEAST_SPAN = 2; // kg: a flat curve shall look flat

export function spark([time, kg]) {
  const known = kg.filter((value) => value !== null);
  if (known.length < 2) return svg("svg", { class: "spark", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, "aria-hidden": "true" });
  const [low, high] = [Math.min(...known), Math.max(...known)];
  const middle = (low + high) / 2;
  const span = Math.max(high - low, LEAST_SPAN);
  const x = (at) => 3 + ((WIDTH - 9) * (at - time[0])) / (time[time.length - 1] - time[0] || 1);
  const y = (value) => HEIGHT / 2 - ((HEIGHT - 8) * (value - middle)) / span;
  const path = kg
    .map((value, i) =>
      value === null ? "" : `${i && kg[i - 1] !== null ? "L" : "M"}${x(time[i]).toFixed(1)} ${y(value).toFixed(1)}`,
    )
    .join("");
  const last = kg.findLastIndex((value) => value !== null);
  return svg(
    "svg",
    {
      class: "spark",
      viewBox: `0 0 ${WIDTH} ${HEIGHT}`,
      preserveAspectRatio: "xMinYMid",
      role: "img",
      "aria-label": T.today.curve(change(known[known.length - 1] - known[0], 1)),
    },
    svg("path", { d: path }),
    svg("circle", { cx: x(time[last]).toFixed(1), cy: y(kg[last]).toFixed(1), r: 2.6 }),
  );
}

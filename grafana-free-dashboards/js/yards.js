// All yards, a line each: how many hives need you there, and whether it is heard.

import { get } from "./api.js";
import { el, replace } from "./dom.js";
import { ago, fullDay, readAs } from "./format.js";
import { T } from "./texts.js";

const OLD = 26 * 3600000; // as hivemon has it (pages/advised.py)

export async function showYards(main) {
  const view = await get("yards");
  readAs(view);
  replace(
    main,
    el("h1", {}, T.yards.title),
    el(
      "ul",
      { class: "places" },
      view.yards.map((yard) => line(yard, view.clock)),
    ),
  );
  return { title: T.yards.title, onlyYard: view.only_yard };
}

function line(yard, clock) {
  const says = [T.yards.hives(yard.hives)];
  if (yard.wanted) says.push(T.yards.wanted(yard.wanted));
  if (yard.asks) says.push(T.yards.asks);
  if (!yard.wanted && !yard.asks) says.push(T.yards.nothing);
  return el(
    "li",
    { class: yard.wanted || yard.asks ? "wanted" : null },
    el("a", { href: `/yard/${encodeURIComponent(yard.id)}` }, yard.name),
    el("span", { class: "says" }, says.join(", ")),
    heard(yard, clock),
  );
}

function heard({ newest, silent, timezone }, clock) {
  if (newest === null) return el("span", { class: "old" }, T.sensors.never);
  if (clock - newest > OLD) return el("span", { class: "old" }, T.yards.unheard(fullDay(newest, timezone)));
  return [
    silent ? el("span", { class: "old" }, T.yards.silent(silent)) : null,
    el("span", { class: "small" }, T.today.newest(ago(clock - newest))),
  ];
}

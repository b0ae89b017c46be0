// The yard's hives side by side, day by day, all on one scale.

import { advisory } from "./advice.js";
import { get, whoAmI } from "./api.js";
import { el, replace, svg } from "./dom.js";
import { change, dateOnly, fullDay, moment, readAs, unitOf, weight } from "./format.js";
import { told } from "./telling.js";
import { T } from "./texts.js";
import { pageLinks } from "./today.js";
import { urgencyMark } from "./urgency.js";

const STEP = 10;
const HEIGHT = 44;
const OLD = 26 * 3600000; // as hivemon has it (pages/advised.py)

export async function showYard(main, [yard], query) {
  const page = Number(query.get("page") ?? 0) || 0;
  const [view, who] = await Promise.all([get(`yards/${encodeURIComponent(yard)}?page=${page}`), whoAmI()]);
  readAs(view);
  replace(
    main,
    el("h1", {}, T.yard.title(view.yard.name)),
    view.clock - view.yard.newest > OLD
      ? el("p", { class: "old" }, T.today.ofThen(fullDay(view.yard.newest, view.yard.timezone)))
      : null,
    el("p", { class: "lead small" }, T.yard.lead),
    view.advisories.length
      ? el(
          "section",
          { class: "needs", "aria-labelledby": "needs" },
          el("h2", { id: "needs" }, T.yard.needs),
          view.advisories.map((item) => advisory(item, view.yard.timezone, who.role === "owner")),
        )
      : null,
    view.dates.length ? table(view) : el("p", {}, T.yard.none),
    view.pages > 1 ? pageLinks(view, (wanted) => `/yard/${encodeURIComponent(yard)}?page=${wanted}`) : null,
    view.events.length ? shared(view) : null,
  );
  return { title: T.yard.title(view.yard.name), onlyYard: view.only_yard };
}

function table(view) {
  const values = [...view.median, ...view.hives.flatMap((hive) => hive.gains)].filter((gain) => gain !== null);
  const scale = { high: Math.max(0.5, ...values), low: Math.min(-0.5, ...values) };
  const ends = el(
    "span",
    { class: "dates" },
    el("span", {}, dateOnly(view.dates[0])),
    el("span", {}, dateOnly(view.dates.at(-1))),
  );
  return el(
    "table",
    { class: "yard" },
    el("caption", {}, T.yard.caption(unitOf("weight"))),
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        el("th", { scope: "col" }, T.yard.hive),
        el("th", { scope: "col" }, ends),
        el("th", { scope: "col" }, T.yard.total(view.dates.length)),
        el("th", { scope: "col" }, T.yard.weight),
      ),
    ),
    el(
      "tbody",
      {},
      view.hives.map((hive) => row(view, hive, scale)),
      view.hives.length > 1 ? middle(view, scale) : null,
    ),
  );
}

function row(view, hive, scale) {
  const total = sum(hive.gains);
  return el(
    "tr",
    {},
    el(
      "th",
      { scope: "row" },
      el("a", { href: `/hive/${encodeURIComponent(view.yard.id)}/${encodeURIComponent(hive.hive)}` }, hive.name),
      urgencyMark(hive),
    ),
    el(
      "td",
      { class: "bars" },
      drawing(hive.gains, view.median, scale, T.yard.gains(hive.name, `${change(total, 1)} ${unitOf("weight")}`)),
    ),
    el("td", {}, change(total, 1)),
    el("td", {}, weight(hive.weight)),
  );
}

function middle(view, scale) {
  const total = sum(view.median);
  return el(
    "tr",
    { class: "middle" },
    el("th", { scope: "row" }, T.yard.middle),
    el(
      "td",
      { class: "bars" },
      drawing(view.median, null, scale, T.yard.gains(T.yard.middle, `${change(total, 1)} ${unitOf("weight")}`)),
    ),
    el("td", {}, change(total, 1)),
    el("td", {}),
  );
}

function sum(gains) {
  const known = gains.filter((gain) => gain !== null);
  return known.length ? known.reduce((total, gain) => total + gain, 0) : null;
}

function drawing(gains, median, { high, low }, label) {
  const y = (value) => 2 + ((HEIGHT - 4) * (high - value)) / (high - low);
  const bar = (gain, i) =>
    gain === null
      ? null
      : svg("rect", {
          class: gain < 0 ? "loss" : "gain",
          x: i * STEP + 1.5,
          width: STEP - 3,
          y: Math.min(y(gain), y(0)).toFixed(1),
          height: Math.max(Math.abs(y(gain) - y(0)), 0.8).toFixed(1),
        });
  const path = median ? stairs(median, y) : null;
  return svg(
    "svg",
    { viewBox: `0 0 ${gains.length * STEP} ${HEIGHT}`, preserveAspectRatio: "none", role: "img", "aria-label": label },
    svg("path", { class: "zero", d: `M0 ${y(0).toFixed(1)}H${gains.length * STEP}` }),
    gains.map(bar),
    path ? svg("path", { class: "median", d: path }) : null,
  );
}

// A line that goes over each day at its height; it breaks where nothing is known.
function stairs(values, y) {
  const steps = values.map((value, i) => {
    if (value === null) return "";
    const before = i > 0 && values[i - 1] !== null ? "" : `M${i * STEP} ${y(value).toFixed(1)}`;
    return `${before}V${y(value).toFixed(1)}H${(i + 1) * STEP}`;
  });
  return steps.join("");
}

function shared(view) {
  return el(
    "section",
    {},
    el("h2", {}, T.yard.shared),
    el(
      "ol",
      { class: "entries" },
      view.events.map((event) =>
        el(
          "li",
          {},
          el("span", { class: "when" }, moment(event.onset, view.yard.timezone)),
          el("span", { class: "what" }, told(event)),
        ),
      ),
    ),
  );
}

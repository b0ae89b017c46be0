// The logbook: write an entry, see what stands, strike what never happened.

import { get, whoAmI } from "./api.js";
import { correctButton } from "./correct.js";
import { el, freshId, keepingPlace, replace, say } from "./dom.js";
import { moment, readAs } from "./format.js";
import { fields, logButton, save, strike, throwAway, waiting } from "./quick.js";
import { entryText, noteText } from "./telling.js";
import { T } from "./texts.js";

export async function showLogbook(main, _where, query) {
  const [view, who] = await Promise.all([get("logbook"), whoAmI()]);
  const writable = who.role === "owner";
  readAs(view);
  const parts = { held: el("div"), list: el("div") };
  replace(
    main,
    el("h1", {}, T.logbook.title),
    el("p", { class: "lead small" }, writable ? T.logbook.lead : T.logbook.guest),
    parts.held,
    writable ? [quick(view), form(view, query.get("hive"))] : null,
    el("h2", {}, T.logbook.entries),
    parts.list,
  );
  draw(parts, view, writable);
  // What is half written in the form stays: only what stands is made anew.
  const refresh = async () => {
    const newer = await get("logbook");
    keepingPlace([parts.held, parts.list], () => draw(parts, newer, writable));
  };
  return { title: T.logbook.title, onlyYard: view.only_yard, refresh };
}

function draw(parts, view, writable) {
  const names = new Map(view.hives.map((hive) => [`${hive.yard}/${hive.hive}`, hive.name]));
  replace(parts.held, waiting().length ? held(names) : null);
  replace(
    parts.list,
    view.entries.length ? list(view, names, writable) : el("p", {}, T.logbook.empty),
    view.total > view.entries.length
      ? el("p", { class: "small" }, T.logbook.cut(view.entries.length, view.total))
      : null,
  );
}

const zone = (view, yard) => view.yards.find((place) => place.id === yard)?.timezone ?? "UTC";

// What is still on this device only.
function held(names) {
  return el(
    "section",
    {},
    el("p", { class: "old" }, T.logbook.waiting(waiting().length)),
    el(
      "ul",
      {},
      waiting().map((item) =>
        el(
          "li",
          {},
          `${names.get(`${item.entry.yard}/${item.entry.hive}`) ?? item.entry.hive}: ${entryText(item.entry)}. ${item.refused ?? ""} `,
          el("button", { type: "button", class: "plain", on: { click: () => throwAway(item) } }, T.logbook.throwAway),
        ),
      ),
    ),
  );
}

// The hive, then what was done: two taps.
function quick(view) {
  return el(
    "div",
    { class: "quickly", role: "group", "aria-label": T.logbook.which },
    el("p", {}, T.logbook.which),
    view.hives.slice(0, 40).map((hive) => logButton({ ...hive, timezone: zone(view, hive.yard) }, hive.name)),
  );
}

function form(view, chosen) {
  const [hive, what] = [freshId("hive"), freshId("what")];
  const details = fields();
  const hives = el(
    "select",
    { id: hive, name: "hive" },
    view.hives.map((item, i) => el("option", { value: i, selected: item.hive === chosen }, item.name)),
  );
  const kinds = el(
    "select",
    { id: what, name: "entry", on: { change: () => details.about(kinds.value) } },
    Object.entries(T.entry).map(([value, name]) => el("option", { value }, name)),
  );
  details.about(kinds.value);
  const send = (event) => {
    event.preventDefault();
    const item = view.hives[Number(hives.value)];
    if (!item) return;
    const entry = details.read({ ...item, timezone: zone(view, item.yard) }, kinds.value);
    if (typeof entry === "string") say(entry);
    else save(entry, item.name);
    document.activeElement?.blur();
  };
  const fill = el(
    "form",
    { class: "entry", on: { submit: send } },
    el("p", { class: "field" }, el("label", { for: hive }, T.logbook.hive), hives),
    el("p", { class: "field" }, el("label", { for: what }, T.logbook.what), kinds),
    details.node,
    el("button", { type: "submit", class: "main" }, T.logbook.write),
  );
  return el("details", { class: "fully", "data-key": "fully" }, el("summary", {}, T.logbook.fully), fill);
}

function list(view, names, writable) {
  return el(
    "ol",
    { class: "entries" },
    view.entries.map((entry) => {
      const name = names.get(`${entry.yard}/${entry.hive}`) ?? entry.hive;
      const text = entryText(entry);
      const when = moment(entry.time, zone(view, entry.yard));
      return el(
        "li",
        {},
        el("span", { class: "when" }, when),
        el(
          "span",
          { class: "what" },
          el("a", { href: `/hive/${encodeURIComponent(entry.yard)}/${encodeURIComponent(entry.hive)}` }, name),
          `: ${text}`,
          entry.note ? el("small", {}, noteText(entry.note)) : null,
        ),
        writable ? el("span", { class: "amend" }, amend(entry, view, `${text}, ${name}, ${when}`)) : null,
      );
    }),
  );
}

function amend(entry, view, what) {
  const hives = view.hives.filter((hive) => hive.yard === entry.yard);
  return [
    correctButton(entry, hives, zone(view, entry.yard)),
    el(
      "button",
      {
        type: "button",
        class: "plain",
        "data-key": `strike-${entry.id}`,
        "aria-label": T.logbook.strikeWhich(what),
        on: { click: () => strike(entry.id) },
      },
      T.logbook.strike,
    ),
  ];
}

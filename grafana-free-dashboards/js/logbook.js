// The logbook: write an entry, see what stands, strike what never happened.

import { get, whoAmI } from "./api.js";
import { el, freshId, replace, say } from "./dom.js";
import { moment, useUnits } from "./format.js";
import { entryText } from "./happenings.js";
import { fields, logButton, save, strike, throwAway, waiting } from "./quick.js";
import { T } from "./texts.js";

export async function showLogbook(main, _where, query) {
  const [view, who] = await Promise.all([get("logbook"), whoAmI()]);
  useUnits(view.units);
  const zones = new Map(view.yards.map((yard) => [yard.id, yard.timezone]));
  const names = new Map(view.hives.map((hive) => [`${hive.yard}/${hive.hive}`, hive.name]));
  replace(
    main,
    el("h1", {}, T.logbook.title),
    el("p", { class: "lead small" }, who.role === "owner" ? T.logbook.lead : T.logbook.guest),
    waiting().length ? held(names) : null,
    who.role === "owner" ? [quick(view, zones), form(view, zones, query.get("hive"))] : null,
    el("h2", {}, T.logbook.entries),
    view.entries.length ? list(view, zones, names, who.role === "owner") : el("p", {}, T.logbook.empty),
    view.total > view.entries.length
      ? el("p", { class: "small" }, T.logbook.cut(view.entries.length, view.total))
      : null,
  );
  return { title: T.logbook.title, yards: view.yards };
}

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
function quick(view, zones) {
  return el(
    "div",
    { class: "quickly", role: "group", "aria-label": T.logbook.which },
    el("p", {}, T.logbook.which),
    view.hives.slice(0, 40).map((hive) => logButton({ ...hive, timezone: zones.get(hive.yard) }, hive.name)),
  );
}

function form(view, zones, chosen) {
  const [hive, what] = [freshId("hive"), freshId("what")];
  const details = fields();
  const hives = el(
    "select",
    { id: hive, name: "hive" },
    view.hives.map((item, i) => el("option", { value: i, selected: item.hive === chosen }, item.name)),
  );
  const kinds = el(
    "select",
    { id: what, name: "entry" },
    Object.entries(T.entry).map(([value, name]) => el("option", { value }, name)),
  );
  const send = (event) => {
    event.preventDefault();
    const item = view.hives[Number(hives.value)];
    if (!item) return;
    const entry = details.read({ ...item, timezone: zones.get(item.yard) }, kinds.value);
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

function list(view, zones, names, writable) {
  return el(
    "ol",
    { class: "entries" },
    view.entries.map((entry) => {
      const name = names.get(`${entry.yard}/${entry.hive}`) ?? entry.hive;
      const text = entryText(entry);
      const when = moment(entry.time, zones.get(entry.yard) ?? "UTC");
      return el(
        "li",
        {},
        el("span", { class: "when" }, when),
        el(
          "span",
          { class: "what" },
          el("a", { href: `/hive/${encodeURIComponent(entry.yard)}/${encodeURIComponent(entry.hive)}` }, name),
          `: ${text}`,
          entry.note ? el("small", {}, entry.note.replace(/ \[[^\]]*\]$/, "")) : null,
        ),
        writable
          ? el(
              "button",
              {
                type: "button",
                class: "plain",
                "data-key": `strike-${entry.id}`,
                "aria-label": T.logbook.strikeWhich(`${text}, ${name}, ${when}`),
                on: { click: () => strike(entry.id) },
              },
              T.logbook.strike,
            )
          : null,
      );
    }),
  );
}

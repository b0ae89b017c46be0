// What each sensor last said, whether it can be believed, and who may look at these pages.

import { change, get, logOut, whoAmI } from "./api.js";
import { el, replace, say } from "./dom.js";
import { ago, amount, moment, readAs } from "./format.js";
import { told } from "./telling.js";
import { T } from "./texts.js";
import { pageLinks } from "./today.js";

const SILENT = 3 * 3600000;

export async function showSensors(main, _where, query) {
  const page = Number(query.get("page") ?? 0) || 0;
  const [view, who] = await Promise.all([get(`sensors?page=${page}`), whoAmI()]);
  readAs(view);
  const zones = new Map(view.yards.map((yard) => [yard.id, yard.timezone]));
  replace(
    main,
    el("h1", {}, T.sensors.title),
    el("p", { class: "lead small" }, T.sensors.lead),
    view.troubled ? el("p", { class: "old" }, T.sensors.troubled(view.troubled, view.total)) : null,
    el(
      "table",
      { class: "sensors" },
      el(
        "thead",
        {},
        el(
          "tr",
          {},
          [T.sensors.heads.what, T.sensors.heads.value, T.sensors.heads.when].map((name) =>
            el("th", { scope: "col" }, name),
          ),
        ),
      ),
      el(
        "tbody",
        {},
        view.places.map((place) => line(place, zones.get(place.yard), view)),
      ),
    ),
    view.pages > 1 ? pageLinks(view, (wanted) => `/sensors?page=${wanted}`, T.sensors) : null,
    el("p", { class: "small" }, came(view) ? T.sensors.aside(view.set_aside) : T.sensors.nothing),
    access(who),
  );
  return { title: T.sensors.title, onlyYard: view.only_yard };
}

function came(view) {
  return view.set_aside || view.places.some((place) => place.streams.length);
}

// One line a place: what it last said, when, and what is wrong with it.
function line(place, zone, view) {
  const newest = Math.max(...place.streams.map((stream) => stream.time));
  const name =
    place.hive === null
      ? T.sensors.yard(place.name)
      : [
          el("a", { href: `/hive/${encodeURIComponent(place.yard)}/${encodeURIComponent(place.hive)}` }, place.name),
          view.yards.length > 1 ? el("small", {}, ` ${view.yards.find((yard) => yard.id === place.yard).name}`) : null,
        ];
  const silent = place.streams.length === 0;
  const wrong = silent ? [] : troubles(place, newest, view);
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, name),
    el(
      "td",
      {},
      place.streams.map((stream) =>
        el(
          "span",
          { class: "value" },
          el("small", {}, `${T.sensors.quantity[stream.quantity] ?? stream.quantity} `),
          amount(stream.quantity, stream.value),
        ),
      ),
    ),
    el(
      "td",
      {},
      silent ? neverCame(place) : moment(newest, zone),
      wrong.map((text) => el("span", { class: "old" }, text)),
      place.faults.map((fault) => el("span", { class: "old" }, `${moment(fault.onset, zone)}: ${told(fault)}`)),
    ),
  );
}

// A hive without readings wants something done about it; the yard can do without.
function neverCame({ yard, hive }) {
  const [must, how] =
    hive === null ? [null, T.sensors.outside(`hives/${yard}`)] : ["old", T.sensors.publish(`hives/${yard}/${hive}`)];
  return [el("span", { class: must }, T.sensors.never), " ", how];
}

function troubles(place, newest, view) {
  const silent = view.clock - newest > SILENT ? [T.sensors.silent(ago(view.clock - newest))] : [];
  const behind = place.streams
    .filter((stream) => newest - stream.time > SILENT)
    .map((stream) =>
      T.sensors.behind(T.sensors.quantity[stream.quantity] ?? stream.quantity, ago(view.clock - stream.time)),
    );
  const told = place.faults.some((fault) => fault.reason === "battery-low");
  const low = !told && place.streams.some((stream) => stream.quantity === "battery" && stream.value <= view.low_battery)
    ? [T.sensors.low]
    : [];
  return [...silent, ...behind, ...low];
}

function access(who) {
  const unkept = window.isSecureContext ? null : el("p", {}, T.offline.unkept);
  if (!who.password) return el("section", {}, el("h2", {}, T.sensors.access), el("p", {}, T.sensors.open), unkept);
  const link = el("p", { class: "link" });
  const press = (text, done) =>
    el(
      "button",
      { type: "button", on: { click: () => done().catch((error) => say(error.told)) } },
      text,
    );
  return el(
    "section",
    {},
    el("h2", {}, T.sensors.access),
    who.role === "owner"
      ? [
          link,
          press(T.sensors.link, async () => {
            const made = await change("POST", "guest-link");
            replace(link, T.sensors.linkMade, " ", el("code", {}, new URL(made.path, location.href).href));
          }),
          press(T.sensors.linkEnd, async () => {
            await change("DELETE", "guest-link");
            replace(link, T.sensors.linkEnded);
          }),
        ]
      : el("p", {}, T.logbook.guest),
    unkept,
    press(T.sensors.out, async () => {
      await logOut();
      document.dispatchEvent(new CustomEvent("hivemon-go", { detail: "/login" }));
    }),
  );
}

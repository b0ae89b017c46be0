// What each sensor last said, whether it can be believed, and who may look at these pages.

import { change, get, logOut, whoAmI } from "./api.js";
import { el, replace, say } from "./dom.js";
import { ago, amount, moment, useUnits } from "./format.js";
import { T } from "./texts.js";
import { pageLinks } from "./today.js";

const SILENT = 3 * 3600000;

export async function showSensors(main, _where, query) {
  const page = Number(query.get("page") ?? 0) || 0;
  const [view, who] = await Promise.all([get(`sensors?page=${page}`), whoAmI()]);
  useUnits(view.units);
  const zones = new Map(view.yards.map((yard) => [yard.id, yard.timezone]));
  replace(main, el("h1", {}, T.sensors.title), el("p", { class: "lead small" }, T.sensors.lead),
    view.places.map((place) => section(place, zones.get(place.yard), view)),
    view.pages > 1 ? pageLinks(view, (wanted) => `/sensors?page=${wanted}`) : null,
    el("p", { class: "small" }, T.sensors.aside(view.set_aside)),
    access(who));
  return { title: T.sensors.title, yards: view.yards };
}

function section(place, zone, view) {
  const heads = T.sensors.heads;
  return el("section", { class: "sensor" },
    el("h2", {}, place.hive ? el("a", { href: `/hive/${encodeURIComponent(place.yard)}/${encodeURIComponent(place.hive)}` }, T.hive.title(place.name)) : T.sensors.yard(place.name)),
    place.streams.length === 0 ? el("p", { class: "old" }, T.sensors.never)
      : el("table", {}, el("thead", {}, el("tr", {}, [heads.what, heads.value, heads.when].map((name) => el("th", { scope: "col" }, name)))),
        el("tbody", {}, place.streams.map((stream) => row(stream, zone, view)))),
    place.faults.length ? [el("h3", {}, T.sensors.faults), el("ul", {}, place.faults.map((fault) => el("li", {}, `${moment(fault.onset, zone)}: ${fault.summary}`)))] : null);
}

function row(stream, zone, view) {
  const age = view.clock - stream.time;
  const low = stream.quantity === "battery" && stream.value <= view.low_battery;
  return el("tr", {}, el("th", { scope: "row" }, T.sensors.quantity[stream.quantity] ?? stream.quantity),
    el("td", {}, amount(stream.quantity, stream.value), low ? el("span", { class: "old" }, ` ${T.sensors.low}`) : null),
    el("td", {}, moment(stream.time, zone), age > SILENT ? el("span", { class: "old" }, ` ${T.sensors.silent}, ${ago(age)}`) : null));
}

function access(who) {
  if (!who.password) return el("section", {}, el("h2", {}, T.sensors.access), el("p", {}, T.sensors.open));
  const link = el("p", { class: "link" });
  const press = (text, done) => el("button", { type: "button", on: { click: () => done().catch((error) => say(`${error.message}. ${error.hint}`)) } }, text);
  return el("section", {}, el("h2", {}, T.sensors.access),
    who.role === "owner" ? [link, press(T.sensors.link, async () => {
      const made = await change("POST", "guest-link");
      replace(link, T.sensors.linkMade, " ", el("code", {}, new URL(made.path, location.href).href));
    }), press(T.sensors.linkEnd, async () => {
      await change("DELETE", "guest-link");
      replace(link, T.sensors.linkEnded);
    })] : el("p", {}, T.logbook.guest),
    press(T.sensors.out, async () => {
      await logOut();
      document.dispatchEvent(new CustomEvent("hivemon-go", { detail: "/login" }));
    }));
}

// One advisory: its title, and behind it what was seen, what that means, what to do and what to take care of.

import { el } from "./dom.js";
import { dayName, moment } from "./format.js";
import { T } from "./texts.js";
import { urgencyMark } from "./urgency.js";

export function advisory(item, zone) {
  const part = (name, content) =>
    content.length ? [el("dt", {}, name), content.map((text) => el("dd", {}, text))] : [];
  return el(
    "details",
    { class: "advice", "data-key": item.id, open: item.urgency === "now" },
    el("summary", {}, urgencyMark(item.urgency), el("span", { class: "says" }, item.title)),
    el(
      "dl",
      {},
      part(T.hive.saw, [item.saw]),
      part(T.hive.means, [item.means]),
      item.do.length
        ? [
            el("dt", {}, item.do_by ? `${T.hive.do}, ${T.hive.doBy(dayName(item.do_by, zone))}` : T.hive.do),
            el(
              "dd",
              {},
              el(
                "ol",
                {},
                item.do.map((step) => el("li", {}, step)),
              ),
            ),
          ]
        : null,
      part(T.hive.could, item.could_also_be),
      part(T.hive.care, item.cautions),
    ),
    el("p", { class: "small" }, T.hive.said(moment(item.raised, zone))),
  );
}

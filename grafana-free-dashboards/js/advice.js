// One advisory: its title, and behind it what was seen, what that means, what to do and what to take care of.

import { change as send } from "./api.js";
import { el, say } from "./dom.js";
import { dayName, moment } from "./format.js";
import { save } from "./quick.js";
import { T } from "./texts.js";
import { urgencyMark } from "./urgency.js";

const ANSWERS = ["seen", "done", "wrong"];

export function advisory(item, zone, writable, names = {}) {
  const part = (name, content) =>
    content.length ? [el("dt", {}, name), content.map((text) => el("dd", {}, text))] : [];
  return el(
    "details",
    { class: item.answer ? "advice answered" : "advice", "data-key": item.id, open: item.urgency === "now" && !item.answer },
    el("summary", {}, urgencyMark(item), el("span", { class: "says" }, item.title)),
    el(
      "dl",
      {},
      part(T.hive.saw, [item.saw]),
      part(T.hive.means, [item.means]),
      item.do.length
        ? [
            el("dt", {}, T.hive.do, item.do_by ? `, ${due(item, dayName(item.do_by, zone))}` : ""),
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
    writable ? answers(item, names) : null,
  );
}

function due({ late }, day) {
  return late ? T.hive.wasDue(day) : T.hive.doBy(day);
}

function answers(item, names) {
  const place = el("div", { class: "answers", role: "group", "aria-label": T.answer.ask });
  const buttons = ANSWERS.map((key) =>
    el(
      "button",
      {
        type: "button",
        "data-key": `${item.id}/${key}`,
        "aria-pressed": String(item.answer === key),
        on: { click: () => answer(item, key, place, names) },
      },
      T.answer[key],
    ),
  );
  place.append(el("span", {}, T.answer.ask), ...buttons);
  return place;
}

async function answer(item, key, place, names) {
  for (const button of place.querySelectorAll("button")) button.disabled = true;
  try {
    const kept = await send("POST", "advice-answers", { advisory: item.id, answer: key });
    say(...reply(kept, names));
    document.dispatchEvent(new CustomEvent("hivemon-refresh"));
  } catch (error) {
    say(error.status === 0 ? T.logbook.needsConnection : error.told);
  }
  for (const button of place.querySelectorAll("button")) button.disabled = false;
}

// What was done belongs in the logbook too, where it is not there yet: one more tap writes it down.
function reply({ answer, yard, hive, log }, names) {
  if (!log) return [T.answer.kept[answer]];
  const what = T.entry[log];
  if (hive === null || log === "mite-wash") return [T.answer.logThere(what)];
  const entry = { yard, hive, entry: log, time: null, amount: null, note: "" };
  const write = () => save(entry, names[hive] ?? hive);
  return [T.answer.logIt(what), el("button", { type: "button", on: { click: write } }, T.answer.write)];
}

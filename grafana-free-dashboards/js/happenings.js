// What happened to a hive: events and what was done to it, in order of time, each with a letter that stands on the curve.

import { change as send } from "./api.js";
import { correctButton } from "./correct.js";
import { el, replace, say } from "./dom.js";
import { moment } from "./format.js";
import { because, entryText, evidence, noteText, regret, told } from "./telling.js";
import { T } from "./texts.js";

const LETTERS = "abcdefghijklmnopqrstuvwxyz";
const MOST = 80;

// Returns what happened or went on between two moments, the oldest first: {letter, time, until, kind, event | entry, text}.
export function happenings(story, since, until) {
  const events = story.events.map((event) => ({
    time: event.onset,
    until: story.lasts[event.id] ?? event.onset,
    kind: event.withdrawn !== null ? "gone" : event.hive === null ? "event shared" : "event",
    event,
    text: told(event),
  }));
  const entries = story.entries.map((entry) => ({ time: entry.time, until: entry.time, kind: "entry", entry, text: entryText(entry) }));
  const end = until >= story.newest ? Infinity : until; // what came after the newest reading stands at its end
  const found = [...events, ...entries]
    .filter((item) => item.until >= since && item.time <= end)
    .sort((a, b) => a.time - b.time)
    .slice(-MOST);
  return found.map((item, i) => ({ ...item, letter: letter(i) }));
}

function letter(place) {
  return place < 26 ? LETTERS[place] : LETTERS[Math.floor(place / 26) - 1] + LETTERS[place % 26];
}

export function happeningList(node, found, story, writable) {
  replace(
    node,
    el("h2", { id: "happened" }, T.hive.happened),
    found.length === 0
      ? el("p", {}, T.hive.nothing)
      : el(
          "ol",
          { class: "happenings" },
          found.map((item) =>
            el(
              "li",
              {
                id: `happened-${item.letter}`,
                "data-key": `${item.event?.id ?? item.entry.id}`,
                class: item.kind,
                tabindex: -1,
              },
              el("span", { class: "letter", "aria-hidden": "true" }, item.letter),
              el(
                "div",
                {},
                el(
                  "p",
                  { class: "when" },
                  moment(item.time, story.timezone),
                  item.kind === "entry"
                    ? `, ${T.hive.inLogbook}`
                    : item.event.hive === null
                      ? `, ${T.hive.wholeYard}`
                      : "",
                ),
                el("p", { class: "what" }, item.text),
                item.kind === "entry" ? written(item.entry, story, writable) : reasons(item.event, story, writable),
              ),
            ),
          ),
        ),
  );
}

function written(entry, story, writable) {
  return [
    entry.note ? el("p", { class: "small" }, noteText(entry.note)) : null,
    writable ? correctButton(entry, [story], story.timezone) : null,
  ];
}

function reasons(event, story, writable) {
  const zone = story.timezone;
  const sure = T.hive.surely(T.hive.sure(event.confidence), Math.round(event.confidence * 100));
  return el(
    "details",
    { class: "why", "data-key": event.id },
    el("summary", {}, T.hive.why),
    event.withdrawn === null
      ? null
      : el("p", {}, T.hive.takenBack(moment(event.withdrawn, zone), regret(event))),
    el(
      "p",
      {},
      because(event),
      " ",
      sure,
      " ",
      T.hive.raised(moment(event.raised, zone)),
    ),
    numbers(evidence(event, zone)),
    writable && event.choices.length ? answers(event, story) : null,
  );
}

function numbers(rows) {
  if (!rows.length) return null;
  return el(
    "table",
    { class: "evidence" },
    el("caption", {}, T.hive.measured),
    el(
      "tbody",
      {},
      rows.map(([what, value]) => el("tr", {}, el("th", { scope: "row" }, what), el("td", {}, value))),
    ),
  );
}

function answers(event, story) {
  const place = el(
    "div",
    { class: "answers", role: "group", "aria-label": `${T.hive.asked} ${told(event)}` },
    el("span", {}, T.hive.asked),
  );
  for (const key of event.choices) {
    place.append(
      el(
        "button",
        { type: "button", "data-key": `${event.id}/${key}`, on: { click: () => answer(event, key, story, place) } },
        T.answers[key] ?? key,
      ),
    );
  }
  return place;
}

async function answer(event, key, story, place) {
  for (const button of place.querySelectorAll("button")) button.disabled = true;
  try {
    await send("POST", "answers", { event: event.id, hive: story.hive, answer: key });
    say(T.hive.answered);
    document.dispatchEvent(new CustomEvent("hivemon-refresh"));
  } catch (error) {
    say(error.told);
  }
  for (const button of place.querySelectorAll("button")) button.disabled = false;
}

// What happened to a hive: events and what was done to it, in order of time, each with a letter that stands on the curve.

import { change as send } from "./api.js";
import { el, replace, say } from "./dom.js";
import { change, moment, numeral, shown, unitOf } from "./format.js";
import { T } from "./texts.js";

const LETTERS = "abcdefghijklmnopqrstuvwxyz";
const MOST = 80;

// Returns what lies between two moments, the oldest first: {letter, time, kind, event | entry, text}.
export function happenings(story, since, until) {
  const events = story.events.map((event) => ({
    time: event.onset,
    kind: event.withdrawn !== null ? "gone" : event.hive === null ? "event shared" : "event",
    event,
    text: event.summary,
  }));
  const entries = story.entries.map((entry) => ({ time: entry.time, kind: "entry", entry, text: entryText(entry) }));
  const end = until >= story.newest ? Infinity : until; // what came after the newest reading stands at its end
  const found = [...events, ...entries]
    .filter((item) => item.time >= since && item.time <= end)
    .sort((a, b) => a.time - b.time)
    .slice(-MOST);
  return found.map((item, i) => ({ ...item, letter: letter(i) }));
}

function letter(place) {
  return place < 26 ? LETTERS[place] : LETTERS[Math.floor(place / 26) - 1] + LETTERS[place % 26];
}

export function entryText(entry) {
  const name = T.entry[entry.entry] ?? entry.entry;
  if (entry.amount === null) return name;
  if (entry.entry === "mite-wash") return `${name}, ${entry.amount}`;
  return `${name}, ${numeral(shown("kg", entry.amount), 1)} ${unitOf("weight")}`;
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
                item.kind === "entry" ? note(item.entry) : reasons(item.event, story, writable),
              ),
            ),
          ),
        ),
  );
}

function note(entry) {
  return entry.note ? el("p", { class: "small" }, entry.note.replace(/ \[[^\]]*\]$/, "")) : null;
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
      : el("p", {}, T.hive.takenBack(moment(event.withdrawn, zone), event.withdrawn_because)),
    el(
      "p",
      {},
      T.hive.because(event.reason.replaceAll("-", " ")),
      " ",
      sure,
      " ",
      T.hive.raised(moment(event.raised, zone)),
    ),
    el(
      "table",
      { class: "evidence" },
      el("caption", {}, T.hive.measured),
      el(
        "tbody",
        {},
        Object.entries(event.evidence)
          .sort(byMeaning)
          .map(([name, value]) => evidence(name, value, zone)),
      ),
    ),
    writable && event.choices.length ? answers(event, story) : null,
  );
}

const MEANING = Object.keys(T.evidence);

// The numbers in the order of the texts, those without words last.
function byMeaning([one], [other]) {
  const place = (name) => (MEANING.includes(name) ? MEANING.indexOf(name) : MEANING.length);
  return place(one) - place(other);
}

function evidence(name, value, zone) {
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, T.evidence[name] ?? name.replaceAll("_", " ")),
    el("td", {}, measured(name, value, zone)),
  );
}

function measured(name, value, zone) {
  if (name.endsWith("_ms")) return moment(value, zone);
  if (/_kg$|^rate/.test(name))
    return `${/^(old|new|noise|overshoot)_|_sd$/.test(name) ? numeral(shown("kg", value), 2) : change(value)} ${unitOf("weight")}`;
  if (/^(nest_change|swing)_celsius$/.test(name))
    return `${numeral(shown("Cel", value) - shown("Cel", 0), 1)} ${unitOf("Cel")}`;
  if (name.startsWith("bees_")) return (Math.round(value / 100) * 100).toLocaleString(T.locale);
  if (name.endsWith("_celsius")) return `${numeral(shown("Cel", value), 1)} ${unitOf("Cel")}`;
  return Number.isInteger(value) ? value.toLocaleString(T.locale) : numeral(value, 1);
}

function answers(event, story) {
  const place = el(
    "div",
    { class: "answers", role: "group", "aria-label": `${T.hive.asked} ${event.summary}` },
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
    say(`${error.message} ${error.hint ?? ""}`);
  }
  for (const button of place.querySelectorAll("button")) button.disabled = false;
}

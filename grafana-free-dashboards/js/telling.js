// What an event is, in the yard's language and units: a sentence, the reason, the numbers behind it. What a newer
// hivemon tells and these pages do not know is said in hivemon's own words.

import { amount, change, moment, numeral, shown, unitOf, weight } from "./format.js";
import { T } from "./texts.js";

const degrees = (value) => amount("temperature", value);
// A difference of temperatures: 1 °C is 1.8 °F, without the 32.
const apart = (value) => `${numeral(shown("Cel", value) - shown("Cel", 0), 1)} ${unitOf("Cel")}`;
const count = (value) => numeral(value, Number.isInteger(value) ? 0 : 1);
const bees = (step) => (value) => numeral(Math.round(value / step) * step, 0);
const gained = (value) => `${change(value)} ${unitOf("weight")}`;
const heavy = (value) => weight(value, 2);
const least = (value) => weight(Math.max(value, 0));

// The numbers that the sentence of each kind needs, as people read them.
const PARTS = {
  "flow-onset": (event) => ({ rate: weight(event.size) }),
  "flow-end": () => ({}),
  "dearth-onset": (event) => ({ rate: heavy(Math.abs(event.size)) }),
  "dearth-end": () => ({}),
  swarm: (event, { minutes, bees_low, bees_high }) => ({
    lost: weight(event.size),
    took: whole(minutes),
    low: bees(1000)(needed(bees_low)),
    high: bees(1000)(needed(bees_high)),
  }),
  "brood-cold": (event, { hours }) => ({ hours: count(needed(hours)), furthest: degrees(event.size) }),
  "brood-hot": (event, { hours }) => ({ hours: count(needed(hours)), furthest: degrees(event.size) }),
  "brood-unstable": (event, { usual_celsius }) => ({ swing: apart(event.size), usual: degrees(needed(usual_celsius)) }),
  "brood-recovered": (event) => ({ usual: degrees(event.size) }),
  robbing: (_event, { today, usual, others }) => ({
    today: weight(needed(today)),
    usual: least(usual ?? 0),
    others: others === undefined ? null : least(others),
  }),
  "robbing/loses-alone-all-day": (_event, { lost }) => ({ lost: weight(needed(lost)) }),
  "unlogged-step": (event, { minutes }) => ({
    step: weight(Math.abs(event.size)),
    came: event.size > 0,
    took: whole(minutes),
  }),
  "off-scale": (_event, { new_kg, old_kg }) => ({ now: weight(needed(new_kg)), before: weight(needed(old_kg)) }),
  "sensor-fault": (event) => ({ fault: needed(T.faults[event.reason]) }),
};

// How each number of the evidence is written; "kind/name" or "reason/name" where that changes its meaning. The others are counts.
const MEASURES = {
  old_kg: heavy,
  new_kg: heavy,
  overshoot_kg: heavy,
  noise_kg: heavy,
  others_kg: gained,
  routine_kg: heavy,
  nest_change_celsius: apart,
  outside_celsius: degrees,
  bees_low: bees(100),
  bees_high: bees(100),
  rate: gained,
  rate_sd: heavy,
  newest_day: gained,
  spread: heavy,
  "robbing/rate": heavy,
  today: heavy,
  usual: heavy,
  "robbing/others": heavy,
  lost: heavy,
  gain: gained,
  "loses-alone-all-day/others": gained,
  "robbing/steady": heavy,
  overnight: heavy,
  alike: yesOrNo,
  hot: yesOrNo,
  fed: yesOrNo,
  degree_hours: (value) => numeral(shown("Cel", value) - shown("Cel", 0), 1),
  mean_celsius: degrees,
  swing_celsius: apart,
  usual_celsius: degrees,
  steady: yesOrNo,
};

const MISSING = new Error("a number that the sentence needs is not there");

function needed(value) {
  if (value === undefined || value === null) throw MISSING;
  return value;
}

function whole(value) {
  return Math.max(Math.floor(needed(value)), 1);
}

function yesOrNo(value) {
  return value ? T.yes : T.no;
}

function own(words, event, name) {
  return words[`${event.reason}/${name}`] ?? words[`${event.kind}/${name}`] ?? words[name];
}

// Returns the sentence of an event.
export function told(event) {
  const exact = `${event.kind}/${event.reason}`;
  const say = T.told[exact] ?? T.told[event.kind];
  const parts = PARTS[exact] ?? PARTS[event.kind];
  if (!say || !parts) return event.summary;
  try {
    return say(parts(event, event.evidence));
  } catch (error) {
    if (error === MISSING) return event.summary;
    throw error;
  }
}

// Returns why it is thought to be so.
export function because(event) {
  return T.reasons[event.reason] ?? T.sentence(event.reason.replaceAll("-", " "));
}

// Returns why it was taken back, or nothing.
export function regret(event) {
  return T.takenBack[event.withdrawn_because] ?? event.withdrawn_because;
}

// Returns [what, how much] for each number behind an event, those with words first.
export function evidence(event, zone) {
  const order = Object.keys(T.evidence);
  const place = ([name]) => {
    const keys = [`${event.reason}/${name}`, `${event.kind}/${name}`, name];
    const known = Math.max(...keys.map((key) => order.indexOf(key)));
    return known < 0 ? order.length : known;
  };
  return Object.entries(event.evidence)
    .sort((one, other) => place(one) - place(other))
    .map(([name, value]) => [
      own(T.evidence, event, name) ?? name.replaceAll("_", " "),
      name.endsWith("_ms") ? moment(value, zone) : (own(MEASURES, event, name) ?? count)(value),
    ]);
}

const ANSWERED = /^[a-z ]+: ([a-z, ]+) \[[^\]]*\/([a-z-]+)\/[^\]/]*\]$/;
// How a note names the event that it answers.
export const LINK = / \[[^\]]*\]$/;

// Returns the note of a logbook entry for people. A note that hivemon wrote for an answer is said in their language.
export function noteText(note) {
  const [, said, kind] = ANSWERED.exec(note) ?? [];
  const key = said?.replace(/^(yes|no), .*$/, "$1").replaceAll(" ", "-");
  if (T.kinds[kind] && T.answers[key]) return `${T.kinds[kind]}: ${T.answers[key]}`;
  return note.replace(LINK, "");
}

// Returns what was done, and how much of it.
export function entryText(entry) {
  const name = T.entry[entry.entry] ?? entry.entry;
  if (entry.amount === null) return name;
  if (entry.entry === "mite-wash") return `${name}, ${numeral(entry.amount, 0)}`;
  return `${name}, ${numeral(shown("kg", entry.amount), 1)} ${unitOf("weight")}`;
}

// Writing into the logbook from the yard: tap "Log", tap what was done. What cannot be sent waits on this device.

import { askWhoIAm, change, isFile, whoAmI } from "./api.js";
import { el, freshId, openSheet, replace, say } from "./dom.js";
import { fromLocal, shown, toKilograms, toLocal, typed, unitOf } from "./format.js";
import { T } from "./texts.js";

const OFTEN = ["super-on", "super-off", "inspect", "feed", "harvest", "treat"];
const SELDOM = ["mite-wash", "split", "combine", "requeen", "swarm-seen", "moved", "scale-reset", "note"];
const WEIGHED = new Set(["super-on", "super-off", "harvest", "feed", "split"]);
const COUNTED = "mite-wash";
const BEES = /\bbees=(\d+)\b/;
const WAITING = "hivemon-waiting";

export function logButton(hive, text = T.today.log) {
  if (isFile) return null;
  return el(
    "button",
    {
      type: "button",
      class: "log",
      "data-key": `log-${hive.yard}-${hive.hive}`,
      "aria-label": T.today.logFor(text, hive.name),
      on: { click: () => open(hive) },
    },
    text,
  );
}

async function open(hive) {
  const who = await whoAmI().catch(() => ({ role: "owner" }));
  if (who.role !== "owner") return say(T.logbook.guest);
  const details = fields();
  const wrong = el("p", { class: "old", role: "alert" });
  const choose = (names) =>
    el(
      "div",
      { class: "choices" },
      names.map((name) => el("button", { type: "button", on: { click: () => choice(name) } }, T.entry[name])),
    );
  const choices = [choose(OFTEN), choose(SELDOM)];
  const more = el("details", {}, el("summary", {}, T.logbook.details), details.node);
  const write = el(
    "button",
    { type: "button", class: "main", hidden: true, on: { click: () => done(COUNTED) } },
    T.logbook.write,
  );
  const dialog = openSheet(
    el(
      "div",
      {},
      choices[0],
      more,
      choices[1],
      wrong,
      write,
      el("button", { type: "button", class: "plain", on: { click: () => dialog.close() } }, T.logbook.cancel),
    ),
    T.logbook.choose(hive.name),
  );
  // A count is nothing without its numbers: they are asked for first.
  function choice(name) {
    if (name !== COUNTED) return done(name);
    for (const node of [...choices, more.firstChild]) node.hidden = true;
    replace(dialog.querySelector("h2"), T.logbook.counting(hive.name));
    more.open = true;
    write.hidden = false;
    details.about(COUNTED);
    return details.node.querySelector("input").focus();
  }
  async function done(name) {
    const entry = details.read(hive, name);
    if (typeof entry === "string") return replace(wrong, entry);
    dialog.close();
    return save(entry, hive.name);
  }
}

// The fields for when, how much and a note. `about` shows those that an entry has; `read` makes an entry of them, or says
// in words what is wrong. `filled` is what they hold at first: {time, amount, weighed, note, zone}.
export function fields(filled = null) {
  const input = (given) => el("input", { id: freshId("field"), ...given });
  const when = input({ type: "datetime-local" });
  const amount = input({ type: "text", inputmode: "decimal" });
  const bees = input({ type: "text", inputmode: "numeric", placeholder: "300" });
  const note = input({ type: "text", maxlength: 400 });
  if (filled) {
    when.value = toLocal(filled.time, filled.zone);
    amount.value = filled.amount === null ? "" : typed(filled.weighed ? shown("kg", filled.amount) : filled.amount);
    bees.value = BEES.exec(filled.note)?.[1] ?? "";
    note.value = filled.note.replace(BEES, "").trim();
  }
  const labelled = (field, text) => el("p", { class: "field" }, el("label", { for: field.id }, text), field);
  const rows = { amount: labelled(amount, ""), bees: labelled(bees, T.logbook.bees) };
  const node = el(
    "div",
    { class: "fields" },
    rows.amount,
    rows.bees,
    labelled(when, filled ? T.logbook.then : T.logbook.when),
    labelled(note, T.logbook.note),
  );
  // `name`: the entry; null while it is not chosen yet.
  function about(name) {
    rows.amount.firstChild.textContent = name === COUNTED ? T.logbook.mites : T.logbook.amount(unitOf("weight"));
    rows.amount.hidden = name !== null && name !== COUNTED && !WEIGHED.has(name);
    rows.bees.hidden = name !== COUNTED;
  }
  function read(hive, name) {
    const time = when.value
      ? fromLocal(when.value, hive.timezone ?? Intl.DateTimeFormat().resolvedOptions().timeZone)
      : null;
    if (when.value && time === null) return T.logbook.wrongTime;
    const value = rows.amount.hidden ? null : asNumber(amount);
    if (value !== null && !Number.isFinite(value)) return T.logbook.wrongAmount;
    const kept = value === null ? null : WEIGHED.has(name) ? Math.round(toKilograms(value) * 1000) / 1000 : value;
    const entry = { yard: hive.yard, hive: hive.hive, entry: name, time, amount: kept, note: note.value };
    return name === COUNTED ? counted(entry, asNumber(bees)) : entry;
  }
  about(null);
  return { node, read, about };
}

function asNumber(field) {
  const text = field.value.trim().replace(",", ".");
  return text === "" ? null : Number(text);
}

// A mite wash with its bees in the note, as the logbook has them; without a number of bees the usual one is meant.
function counted(entry, bees) {
  if (entry.amount === null) return T.logbook.noMites;
  if (bees === null) return entry;
  if (!Number.isInteger(bees) || bees < 1) return T.logbook.wrongBees;
  return { ...entry, note: `bees=${bees} ${entry.note}`.trim() };
}

// An entry without a time is of now: hivemon's own clock says when that is, since a phone's may be wrong.
export async function save(entry, name) {
  const what = T.entry[entry.entry];
  // The key makes an entry that is sent again, because its answer was lost, the same entry.
  const keyed = { ...entry, key: `${Date.now()}-${Math.random().toString(36).slice(2)}` };
  try {
    const kept = await change("POST", "logbook", keyed);
    say(T.logbook.saved(what, name), undo(kept.id));
  } catch (error) {
    if (error.status !== 0) return say(error.told);
    remember([...waiting(), { entry: keyed, tapped: Date.now() }]);
    say(T.logbook.waits(what));
  }
  document.dispatchEvent(new CustomEvent("hivemon-refresh"));
}

function undo(id) {
  return el("button", { type: "button", on: { click: () => strike(id) } }, T.logbook.undo);
}

export async function strike(id) {
  try {
    await change("DELETE", `logbook/${id}`);
    say(T.logbook.undone);
  } catch (error) {
    say(error.told);
  }
  document.dispatchEvent(new CustomEvent("hivemon-refresh"));
}

export function waiting() {
  try {
    return JSON.parse(localStorage.getItem(WAITING) ?? "[]");
  } catch {
    return [];
  }
}

function remember(entries) {
  if (entries.length) localStorage.setItem(WAITING, JSON.stringify(entries));
  else localStorage.removeItem(WAITING);
}

// Sends what waited, one by one; an entry leaves this device only after hivemon has it, or by the person's own hand.
export async function sendWaiting() {
  let sent = 0;
  for (const item of waiting().filter(({ refused }) => !refused)) {
    try {
      await change("POST", "logbook", { ...item.entry, time: item.entry.time ?? (await momentOf(item.tapped)) });
      remember(without(item));
      sent += 1;
    } catch (error) {
      if (error.status === 0 || error.status === 401 || error.status >= 429) break;
      remember([...without(item), { ...item, refused: error.told }]);
    }
  }
  if (sent) say(T.logbook.sent(sent));
  return sent;
}

export function throwAway(item) {
  remember(without(item));
  document.dispatchEvent(new CustomEvent("hivemon-refresh"));
}

function without(item) {
  return waiting().filter((other) => other.tapped !== item.tapped);
}

// When something was tapped, by hivemon's clock.
async function momentOf(tapped) {
  const who = await askWhoIAm();
  return who.clock - Math.max(Date.now() - tapped, 0);
}

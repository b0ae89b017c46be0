// Correcting an entry of the logbook in its place. What stood there stays in its history, and is shown below.

import { change, get } from "./api.js";
import { el, freshId, openSheet, replace, say } from "./dom.js";
import { moment } from "./format.js";
import { fields } from "./quick.js";
import { entryText, LINK, noteText } from "./telling.js";
import { T } from "./texts.js";

// Returns the button that opens it. `hives` are those of the entry's yard, the entry may belong to another of them.
export function correctButton(entry, hives, zone) {
  const name = hives.find((hive) => hive.hive === entry.hive)?.name ?? entry.hive;
  const what = `${entryText(entry)}, ${name}, ${moment(entry.time, zone)}`;
  return el(
    "button",
    {
      type: "button",
      class: "plain",
      "data-key": `correct-${entry.id}`,
      "aria-label": T.logbook.correctWhich(what),
      on: { click: () => open(entry, hives, zone, what) },
    },
    T.logbook.correct,
  );
}

function open(entry, hives, zone, what) {
  const wrong = el("p", { class: "old", role: "alert" });
  const [hive, kind] = [choice(T.logbook.hive, hives.map((item) => [item.hive, item.name]), entry.hive),
    choice(T.logbook.what, Object.entries(T.entry), entry.entry)];
  const details = fields(filled(entry, zone));
  const fit = () => details.about(kind.chosen());
  kind.node.addEventListener("change", fit);
  fit();
  const history = el("div");
  const keep = async (event) => {
    event.preventDefault();
    const at = hives.find((item) => item.hive === hive.chosen()) ?? { hive: entry.hive, yard: entry.yard, name: entry.hive };
    const corrected = details.read({ ...at, yard: entry.yard, timezone: zone }, kind.chosen());
    if (typeof corrected === "string") return replace(wrong, corrected);
    try {
      await change("PUT", `logbook/${entry.id}`, untouched(corrected, entry, zone));
    } catch (error) {
      return replace(wrong, error.status === 0 ? T.logbook.needsConnection : error.told);
    }
    dialog.close();
    say(T.logbook.corrected(T.entry[kind.chosen()], at.name));
    document.dispatchEvent(new CustomEvent("hivemon-refresh"));
  };
  const dialog = openSheet(
    el(
      "form",
      { on: { submit: keep } },
      el("div", { class: "fields" }, hive.node, kind.node),
      details.node,
      wrong,
      el("button", { type: "submit", class: "main" }, T.logbook.keep),
      el("button", { type: "button", class: "plain", on: { click: () => dialog.close() } }, T.logbook.cancel),
      history,
    ),
    T.logbook.correcting(what),
  );
  tell(history, entry, zone);
}

function choice(label, options, chosen) {
  const id = freshId("choice");
  const select = el(
    "select",
    { id },
    options.map(([value, name]) => el("option", { value, selected: value === chosen }, name)),
  );
  return {
    node: el("p", { class: "field" }, el("label", { for: id }, label), select),
    chosen: () => select.value,
  };
}

function filled(entry, zone) {
  return { time: entry.time, amount: entry.amount, weighed: entry.entry !== "mite-wash", note: noteText(entry.note), zone };
}

// What was not touched stays as it was, to the second and the gram, and a note stays linked to the event it answers.
function untouched(corrected, entry, zone) {
  const same = filled(entry, zone);
  const minute = (time) => Math.floor(time / 60000);
  return {
    ...corrected,
    time: corrected.time === null || minute(corrected.time) === minute(entry.time) ? entry.time : corrected.time,
    amount: Math.abs(corrected.amount - entry.amount) < 0.001 && corrected.amount !== null ? entry.amount : corrected.amount,
    note: corrected.note === same.note ? entry.note : `${corrected.note}${LINK.exec(entry.note)?.[0] ?? ""}`,
  };
}

// What was done to the entry before, the newest first; without a connection there is nothing to show.
async function tell(node, entry, zone) {
  const { versions } = await get(`logbook/${entry.id}`).catch(() => ({ versions: [] }));
  if (versions.length < 2) return;
  replace(
    node,
    el("h3", {}, T.logbook.history),
    el(
      "ul",
      { class: "small" },
      versions.toReversed().map((version) => {
        const note = noteText(version.entry.note);
        const when = T.logbook.version(moment(version.recorded, zone), T.logbook.changes[version.change]);
        return el(
          "li",
          {},
          `${when} ${entryText(version.entry)}, ${version.entry.hive}, ${moment(version.entry.time, zone)}${note ? `. ${note}` : ""}`,
        );
      }),
    ),
  );
}

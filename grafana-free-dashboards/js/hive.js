// One hive's story: what it needs, its curves with letters on them, and for each letter what happened and why.

import { advisory } from "./advice.js";
import { get, isFile, whoAmI } from "./api.js";
import { el, keepingPlace, replace } from "./dom.js";
import { ago, amount, change, dateOnly, fullDay, moment, numeral, readAs, shown, unitOf, weight } from "./format.js";
import { happenings, happeningList } from "./happenings.js";
import { logButton } from "./quick.js";
import { Strips } from "./strips.js";
import { T } from "./texts.js";
import { saidOf } from "./urgency.js";

const OLD = 26 * 3600000;

export async function showHive(main, [yard, hive]) {
  const address = `yards/${encodeURIComponent(yard)}/hives/${encodeURIComponent(hive)}`;
  const [story, who] = await Promise.all([get(address), whoAmI()]);
  readAs(story);
  const told = new Story(main, address, story, who.role === "owner" && !isFile);
  return told.page();
}

class Story {
  constructor(main, address, story, writable) {
    Object.assign(this, { address, story, writable });
    this.head = el("div");
    this.needs = el("section", { class: "needs", "aria-labelledby": "needs" });
    this.list = el("section", { class: "happened", "aria-labelledby": "happened" });
    this.table = el("section", { class: "days", "aria-labelledby": "days" });
    this.strips = new Strips(address, story, () => this.told());
    this.parts = [this.head, this.needs, this.strips.node, this.list, this.table];
    replace(main, this.parts);
    // The curves are asked for first: the words are written while they are on their way.
    this.ready = this.strips.load().catch((error) => this.strips.fail(error));
    this.draw();
  }

  page() {
    return {
      title: T.hive.title(this.story.name),
      onlyYard: this.story.only_yard,
      mounted: () => this.strips.mount(),
      ready: this.ready,
      refresh: () => this.refresh(),
    };
  }

  async refresh() {
    await this.update(await get(this.address));
  }

  async update(story) {
    this.story = story;
    this.strips.follow(story);
    keepingPlace(this.parts, () => this.draw());
    await this.strips.load();
  }

  draw() {
    drawHead(this.head, this.story, this.writable);
    drawNeeds(this.needs, this.story, this.writable);
    drawDays(this.table, this.story);
  }

  // Tells what lies in the time that is shown, with the letters that stand on the curve.
  told() {
    const found = happenings(this.story, this.strips.since, this.strips.until);
    keepingPlace([this.list, this.strips.node], () => {
      this.strips.mark(found);
      happeningList(this.list, found, this.story, this.writable);
    });
  }
}

function drawHead(node, story, writable) {
  const latest = story.latest;
  const facts = [
    latest.weight ? weight(latest.weight.value) : null,
    latest.temperature ? T.hive.nest(amount("temperature", latest.temperature.value)) : null,
    T.hive.supers(story.supers),
  ];
  const age = story.clock - story.heard;
  replace(
    node,
    el(
      "div",
      { class: "title" },
      el("h1", {}, T.hive.title(story.name)),
      writable ? logButton({ yard: story.yard, hive: story.hive, name: story.name }) : null,
    ),
    el(
      "p",
      { class: "facts" },
      facts.filter(Boolean).map((fact, i) => [i ? " · " : "", el("span", { class: "whole" }, fact)]),
      el(
        "span",
        { class: age > OLD ? "whole old" : "whole" },
        ` · ${story.heard === null ? T.hive.unread : T.hive.asOf(isFile || age > OLD ? moment(story.heard, story.timezone) : ago(age))}`,
      ),
    ),
  );
}

function drawNeeds(node, story, writable) {
  replace(
    node,
    el("h2", { id: "needs" }, T.hive.needs),
    story.heard !== null && story.clock - story.heard > OLD && !isFile
      ? el("p", { class: "old" }, T.today.ofThen(fullDay(story.heard, story.timezone)))
      : null,
    story.advisories.length
      ? story.advisories.map((item) => advisory(item, story.timezone, writable, { [story.hive]: story.name }))
      : el("p", {}, needsNothing(story)),
    story.shared.length ? shared(story) : null,
  );
}

// What the whole yard wants, this hive wants too.
function shared(story) {
  const address = `/yard/${encodeURIComponent(story.yard)}`;
  return el(
    "p",
    {},
    `${T.yard.needs}: `,
    story.shared.map((item) => [isFile ? saidOf(item) : el("a", { href: address }, saidOf(item)), " "]),
  );
}

// Of a hive that is not heard nobody can say that it needs nothing.
function needsNothing(story) {
  if (story.heard === null) return T.hive.neverHeard;
  if (story.clock - story.heard <= OLD) return story.shared.length ? T.hive.needsNothingOwn : T.hive.needsNothing;
  return T.hive.needsUnknown(moment(story.heard, story.timezone));
}

// The table is made when somebody opens it: a season has many days.
function drawDays(node, story) {
  const place = el("div", { class: "scroll", tabindex: 0, role: "region", "aria-labelledby": "days" });
  const fill = () => place.childElementCount || replace(place, dayTable(story));
  if (node.querySelector("details")?.open) fill();
  replace(
    node,
    el(
      "details",
      { "data-key": "days", on: { toggle: fill } },
      el("summary", {}, el("h2", { id: "days" }, T.hive.days)),
      place,
    ),
  );
}

// Days of another year than ours stand below it.
function headOfYear(date, newer, clock) {
  const year = date.slice(0, 4);
  if (year === newer?.slice(0, 4) || (!newer && year === String(new Date(clock).getUTCFullYear()))) return null;
  return el("tr", {}, el("th", { scope: "rowgroup", colspan: 8 }, year));
}

// A phone has no room for the day of the week.
function dayCell(date) {
  const [weekday, ...rest] = dateOnly(date, false).split(" ");
  return [el("span", { class: "weekday" }, `${weekday} `), rest.join(" ")];
}

function dayTable(story) {
  const heads = T.hive.table;
  const temperature = (value, isSwing) =>
    value === null ? T.unknown : numeral(isSwing ? shown("Cel", value) - shown("Cel", 0) : shown("Cel", value), 1);
  const rows = story.days.toReversed().map((day, i, days) => [
    headOfYear(day.date, days[i - 1]?.date, story.clock),
    el(
      "tr",
      {},
      el("th", { scope: "row" }, dayCell(day.date)),
      [change(day.net_gain), change(day.foraging_gain), change(day.overnight_change)].map((text) => el("td", {}, text)),
      el("td", {}, day.dawn_weight === null ? T.unknown : numeral(shown("kg", day.dawn_weight), 1)),
      el("td", {}, temperature(day.temperature_mean, false)),
      el("td", {}, temperature(day.temperature_swing, true)),
      el("td", {}, day.handled ? change(day.handled, 1) : ""),
    ),
  ]);
  const [kg, heat] = [unitOf("weight"), unitOf("temperature")];
  const head = [
    [heads.date, ""],
    [heads.gain, kg],
    [heads.foraging, kg],
    [heads.night, kg],
    [heads.dawn, kg],
    [heads.nest, heat],
    [heads.swing, heat],
    [heads.handled, kg],
  ];
  return el(
    "table",
    {},
    el(
      "thead",
      {},
      el(
        "tr",
        {},
        head.map(([name, unit]) => el("th", { scope: "col" }, name, unit ? el("small", {}, ` ${unit}`) : null)),
      ),
    ),
    el("tbody", {}, rows),
  );
}

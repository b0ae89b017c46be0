// The first page: a note in sentences, then the hives in order of need, one line and one small curve each.

import { get } from "./api.js";
import { el, replace } from "./dom.js";
import { ago, change, longDay, moment, readAs, unitOf, weight } from "./format.js";
import { logButton } from "./quick.js";
import { spark } from "./spark.js";
import { T } from "./texts.js";
import { urgencyMark } from "./urgency.js";

const OLD = 26 * 3600000; // readings older than this cannot be last night's

export async function showToday(main, _where, query) {
  const page = Number(query.get("page") ?? 0) || 0;
  const view = await get(`today?page=${page}`);
  readAs(view);
  replace(main, el("h1", { class: "sr" }, T.today.title), note(view), hiveList(view), pager(view));
  return { title: T.today.title, yards: view.yards };
}

// The day's note: what a friend who had looked would say.
function note(view) {
  const first = view.yards[0];
  return el(
    "section",
    { class: "note" },
    el("p", { class: "dateline" }, longDay(view.clock, first?.timezone ?? "UTC")),
    el("p", { class: "lead" }, lead(view)),
    ...(view.page === 0 ? [el("p", {}, hiveSentences(view)), el("p", {}, yardSentences(view))] : []),
    ...silences(view).map((text) => el("p", { class: "old" }, text)),
    ...view.yards.map((yard) => freshLine(view, yard)),
    unread(view) ? el("p", {}, quietLink("/sensors", T.today.comesIn)) : null,
  );
}

function lead(view) {
  if (view.wanted) return T.today.wanted(view.wanted);
  if (view.yards.some((yard) => yard.news.some((item) => item.urgency !== "for-information"))) return T.today.yardWants;
  if (unread(view)) return T.today.noReadings;
  if (view.yards.every((yard) => yard.newest === null || view.clock - yard.newest > OLD)) return T.today.unheard;
  return view.yards.some((yard) => yard.news.length) ? T.today.newsOnly : T.today.nothing;
}

function unread(view) {
  return view.yards.every((yard) => yard.newest === null);
}

// Which hives of this page are not heard although their yard is; where a whole yard is silent, its own line says so.
function silences(view) {
  const yards = new Map(view.yards.map((yard) => [yard.id, yard]));
  const silent = view.hives.filter(({ yard, heard }) => {
    const { newest } = yards.get(yard);
    return newest !== null && newest - heard > OLD && view.clock - newest <= OLD;
  });
  return silent.slice(0, 3).map((hive) =>
    hive.heard === null
      ? T.today.neverHeard(hive.name)
      : T.today.silent(hive.name, moment(hive.heard, yards.get(hive.yard).timezone)),
  );
}

// What the neediest hives want, and that the others want nothing.
function hiveSentences(view) {
  const wanted = view.hives.filter((hive) => hive.wanted).slice(0, 4);
  const others = view.total - view.wanted;
  return [
    wanted.map((hive) => [quietLink(hiveAddress(hive), T.sentence(hive.title)), " "]),
    view.wanted && others ? T.today.rest(others) : "",
  ];
}

function yardSentences(view) {
  return view.yards.flatMap((yard) =>
    yard.news
      .slice(0, 3)
      .map((item) => [quietLink(`/yard/${encodeURIComponent(yard.id)}`, T.sentence(item.title)), " "]),
  );
}

function quietLink(address, text) {
  return el("a", { href: address, class: "quietly" }, text);
}

function hiveAddress(hive) {
  return `/hive/${encodeURIComponent(hive.yard)}/${encodeURIComponent(hive.hive)}`;
}

function freshLine(view, yard) {
  if (yard.newest === null) return null;
  const age = view.clock - yard.newest;
  const name = view.yards.length > 1 ? `${yard.name}: ` : "";
  return el(
    "p",
    { class: age > OLD ? "fresh old" : "fresh" },
    name,
    age > OLD ? T.today.old(ago(age)) : T.today.newest(ago(age)),
    age > OLD ? ` ${moment(yard.newest, yard.timezone)}.` : "",
  );
}

function hiveList(view) {
  const names = new Map(view.yards.map((yard) => [yard.id, yard.name]));
  return el(
    "section",
    { "aria-labelledby": "hives" },
    el("h2", { id: "hives", class: "quiet" }, T.today.hives),
    el(
      "ol",
      { class: "hives", start: view.page * 24 + 1 },
      view.hives.map((hive) => line(hive, view.clock, view.yards.length > 1 ? names.get(hive.yard) : null)),
    ),
  );
}

function line(hive, clock, yard) {
  return el(
    "li",
    { class: hive.wanted ? "hive wanted" : "hive" },
    urgencyMark(hive.urgency, hive.do_by !== null && hive.do_by < clock && hive.wanted),
    el(
      "a",
      { href: hiveAddress(hive), class: "open" },
      el("span", { class: "name" }, hive.name),
      yard ? el("span", { class: "at" }, yard) : null,
      el("span", { class: "says" }, saying(hive)),
    ),
    el("span", { class: "curve" }, spark(hive.curve)),
    el("span", { class: "number" }, el("b", {}, weight(hive.weight)), el("span", {}, gain(hive))),
    logButton({ yard: hive.yard, hive: hive.hive, name: hive.name }),
  );
}

function saying(hive) {
  if (hive.title === null) return hive.heard === null ? T.hive.unread : (T.today.states[hive.state] ?? hive.verdict);
  const text = T.today.calls(hive.name).reduce((said, name) => (said.startsWith(name) ? said.slice(name.length) : said), hive.title);
  return hive.more ? `${text}, ${T.today.more(hive.more)}` : text;
}

function gain(hive) {
  const unit = unitOf("weight");
  if (hive.trend !== null) return T.today.perDay(change(hive.trend, 1), unit);
  return hive.yesterday === null ? "" : T.today.lastDay(change(hive.yesterday, 1), unit);
}

function pager(view) {
  if (view.pages < 2) return null;
  return pageLinks(view, (page) => (page ? `/?page=${page}` : "/"));
}

// Links to the page before and after; `address` gives a page's address.
export function pageLinks(view, address) {
  return el(
    "nav",
    { class: "pager", "aria-label": T.today.page(view.page + 1, view.pages) },
    view.page > 0 ? el("a", { href: address(view.page - 1) }, T.today.back) : null,
    el("span", {}, T.today.page(view.page + 1, view.pages)),
    view.page + 1 < view.pages ? el("a", { href: address(view.page + 1) }, T.today.further) : null,
  );
}

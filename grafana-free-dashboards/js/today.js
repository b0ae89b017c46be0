// The first page: a note in sentences, then the hives in order of need, one line and one small curve each.

import { get } from "./api.js";
import { el, replace } from "./dom.js";
import { ago, change, fullDay, longDay, moment, readAs, unitOf, weight } from "./format.js";
import { logButton } from "./quick.js";
import { spark } from "./spark.js";
import { T } from "./texts.js";
import { saidOf, urgencyMark } from "./urgency.js";

const OLD = 26 * 3600000; // readings older than this cannot be last night's (pages/advised.py)
const MOST_SENTENCES = 4;
const MOST_SILENCES = 3;
const MOST_NAMES = 6;
const MOST_SILENT = 12;

export async function showToday(main, _where, query) {
  const page = Number(query.get("page") ?? 0) || 0;
  const view = await get(`today?page=${page}`);
  readAs(view);
  replace(main, el("h1", { class: "sr" }, T.today.title), note(view), hiveList(view), pager(view));
  return { title: T.today.title, onlyYard: view.only_yard };
}

// The day's note: what a friend who had looked would say.
function note(view) {
  const first = view.yards[0];
  const words = view.page > 0 ? [] : manyThings(view) ? tasks(view) : [el("p", {}, hiveSentences(view)), el("p", {}, yardSentences(view))];
  return el(
    "section",
    { class: "note" },
    el("p", { class: "dateline" }, longDay(view.clock, first?.timezone ?? "UTC")),
    el("p", { class: "lead" }, lead(view)),
    silentSince(view) !== null && view.wanted ? el("p", {}, T.today.wantedThen(view.wanted)) : null,
    ...view.yards.map((yard) => unheardLine(view, yard)),
    ...words,
    ...(view.page === 0 ? silences(view) : []).map((text) => el("p", { class: "old" }, text)),
    freshLine(view),
    unread(view) ? el("p", {}, quietLink("/sensors", T.today.comesIn)) : null,
  );
}

// More than anybody reads as sentences.
function manyThings(view) {
  return view.wanted > MOST_SENTENCES || view.yards.length > 2;
}

function lead(view) {
  const since = silentSince(view);
  const asking = view.yards.filter((yard) => yard.news.some(asks));
  if (since !== null) return view.wanted || asking.length ? T.today.ofThen(since) : T.today.unheard(since);
  if (view.wanted) return T.today.wanted(view.wanted);
  if (asking.length) return T.today.yardWants(asking.length);
  if (unread(view)) return T.today.noReadings;
  if (view.seen) return T.today.seenOnly(view.seen);
  return view.yards.some((yard) => yard.news.length) ? T.today.newsOnly : T.today.nothing;
}

const asks = ({ urgency, answer }) => urgency !== "for-information" && answer === null;
const isOld = (view, { newest }) => newest !== null && view.clock - newest > OLD;

function unread(view) {
  return view.yards.every((yard) => yard.newest === null);
}

// The day of the newest reading of all where none is of last night, else null.
function silentSince(view) {
  if (unread(view) || view.yards.some((yard) => yard.newest !== null && !isOld(view, yard))) return null;
  const last = view.yards.reduce((one, other) => (other.newest > one.newest ? other : one));
  return fullDay(last.newest, last.timezone);
}

// Which hives are not heard although their yard is; where a whole yard is silent, its own line says so.
function silences(view) {
  const yards = new Map(view.yards.map((yard) => [yard.id, yard]));
  if (view.silent.length > MOST_SILENCES) {
    const names = view.silent.slice(0, MOST_SILENT).map(({ name }) => name);
    return [quietLink("/sensors", T.today.silentMany(view.silent.length, listed(names, view.silent.length)))];
  }
  return view.silent.map((hive) =>
    hive.heard === null
      ? T.today.neverHeard(hive.name)
      : T.today.silent(hive.name, moment(hive.heard, yards.get(hive.yard).timezone)),
  );
}

// What the neediest hives want, and that the others want nothing.
function hiveSentences(view) {
  const wanted = view.hives.filter((hive) => hive.wanted).slice(0, MOST_SENTENCES);
  const others = view.total - view.wanted;
  return [
    wanted.map((hive) => [quietLink(hiveAddress(hive), saidOf(hive)), " "]),
    view.wanted && others && silentSince(view) === null ? T.today.rest(others) : "",
  ];
}

function yardSentences(view) {
  return view.yards.flatMap((yard) =>
    yard.news.slice(0, 3).map((item) => [quietLink(yardAddress(yard.id), saidOf(item)), " "]),
  );
}

// What is wanted in each yard, a line for each kind, and once what the whole yard wants; the neediest yard first.
function tasks(view) {
  const needy = new Set(view.tasks.map(({ yard }) => yard));
  const asking = (yard) => needy.has(yard.id) || yard.news.some(asks);
  const order = [...needy].map((id) => view.yards.find((yard) => yard.id === id));
  const rest = view.yards.filter((yard) => !needy.has(yard.id) && yard.news.length);
  rest.sort((one, other) => asking(other) - asking(one));
  return [...order, ...rest].map((yard) =>
    el(
      "section",
      { class: "task" },
      el("h2", {}, el("a", { href: yardAddress(yard.id) }, yard.name)),
      el(
        "ul",
        {},
        view.tasks.filter((task) => task.yard === yard.id).map((task) => el("li", {}, kindOf(task))),
        yard.news.map((item) => el("li", { class: asks(item) ? null : "small" }, saidOf(ownWords(item, yard)))),
      ),
    ),
  );
}

function kindOf({ yard, kind, parts }) {
  const name = T.kindsOfAdvice[kind] ?? kind.replaceAll("-", " ");
  return [
    el("b", {}, name),
    ": ",
    parts.map(({ when, total, hives }, i) => [
      i ? "; " : "",
      el("span", { class: when === "late" || when === "now" ? "old" : null }, T.today.due[when](total)),
      " (",
      hives.slice(0, MOST_NAMES).map((hive, n) => [n ? ", " : "", quietLink(hiveAddress({ yard, ...hive }), hive.name)]),
      total > Math.min(hives.length, MOST_NAMES) ? ` ${T.today.more(total - Math.min(hives.length, MOST_NAMES))}` : "",
      ")",
    ]),
    ".",
  ];
}

// A yard's news below its name need not begin with it.
function ownWords(item, { name }) {
  const text = item.title.startsWith(`${name}: `) ? item.title.slice(name.length + 2) : item.title;
  return { ...item, title: text.charAt(0).toLocaleUpperCase(T.locale) + text.slice(1) };
}

function listed(names, total) {
  return total > names.length ? `${names.join(", ")} ${T.today.more(total - names.length)}` : names.join(", ");
}

function yardAddress(yard) {
  return `/yard/${encodeURIComponent(yard)}`;
}

function quietLink(address, text) {
  return el("a", { href: address, class: "quietly" }, text);
}

function hiveAddress(hive) {
  return `/hive/${encodeURIComponent(hive.yard)}/${encodeURIComponent(hive.hive)}`;
}

// One yard among others that is long silent; of all together the first words tell.
function unheardLine(view, yard) {
  if (silentSince(view) !== null || !isOld(view, yard)) return null;
  return el("p", { class: "old" }, `${yard.name}: ${T.today.ofThen(fullDay(yard.newest, yard.timezone))}`);
}

// How fresh the yards are that are heard: that of the one heard longest ago.
function freshLine(view) {
  const ages = view.yards
    .filter((yard) => yard.newest !== null && !isOld(view, yard))
    .map((yard) => view.clock - yard.newest);
  if (!ages.length) return null;
  const age = ago(Math.max(...ages));
  return el("p", { class: "fresh" }, view.yards.length > 1 ? T.today.newestOfAll(age) : T.today.newest(age));
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
      view.hives.map((hive) => line(hive, view.yards.length > 1 ? names.get(hive.yard) : null)),
    ),
  );
}

function line(hive, yard) {
  return el(
    "li",
    { class: hive.wanted ? "hive wanted" : "hive" },
    urgencyMark(hive),
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

// Links to the page before and after; `address` gives a page's address, `words` what they are called.
export function pageLinks(view, address, words = T.today) {
  return el(
    "nav",
    { class: "pager", "aria-label": T.today.page(view.page + 1, view.pages) },
    view.page > 0 ? el("a", { href: address(view.page - 1) }, words.back) : null,
    el("span", {}, T.today.page(view.page + 1, view.pages)),
    view.page + 1 < view.pages ? el("a", { href: address(view.page + 1) }, words.further) : null,
  );
}

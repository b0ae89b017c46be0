// A hive's curves, one under the other on one axis of time: weight, days, brood nest, humidity.

import { get } from "./api.js";
import { el, replace } from "./dom.js";
import { followFingers } from "./fingers.js";
import { amount, change, dayName, moment, unitOf, weight } from "./format.js";
import { placeMarks } from "./marks.js";
import { bars, lines } from "./plots.js";
import { T } from "./texts.js";

const DAY = 86400000;
const CLOSEST = 2 * 3600000;
const QUANTITIES = ["weight", "temperature", "outside-temperature", "humidity"];

export class Strips {
  constructor(address, story, moved) {
    Object.assign(this, { address, story, moved, curves: {}, drawings: [], nights: [], moments: [] });
    this.until = story.newest;
    this.since = Math.max(story.newest - 14 * DAY, story.first);
    this.range = 14;
    this.build();
    new ResizeObserver(() => this.resized()).observe(this.node);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw(true));
    matchMedia("print").addEventListener("change", () => this.draw(true));
  }

  build() {
    this.readout = el("p", { class: "readout", "aria-hidden": "true" });
    this.shows = el("p", { class: "shows", "aria-live": "polite" });
    this.marks = el("div", { class: "marks" });
    this.nothing = el("p", { hidden: true });
    this.places = Object.fromEntries(
      ["weight", "gains", "temperature", "humidity"].map((name) => [name, el("div", { class: `plot ${name}` })]),
    );
    this.figures = Object.fromEntries(
      Object.entries(this.places).map(([name, place]) => [name, this.figure(name, place)]),
    );
    const button = (text, done) => el("button", { type: "button", on: { click: done } }, text);
    this.ranges = el(
      "div",
      { class: "ranges", role: "group", "aria-label": T.hive.range },
      ["3", "14", "60", "0"].map((days) => button(T.hive.ranges[days], () => this.choose(Number(days)))),
    );
    const moves = el(
      "div",
      { class: "moves", role: "group", "aria-label": T.hive.curves },
      button(T.hive.earlier, () => this.shift(-0.7)),
      button(T.hive.later, () => this.shift(0.7)),
      button(T.hive.closer, () => this.zoom(0.5)),
      button(T.hive.wider, () => this.zoom(2)),
    );
    this.body = el(
      "div",
      {
        class: "strips",
        tabindex: 0,
        role: "group",
        "aria-label": `${T.hive.curves}. ${T.hive.help}`,
        on: { keydown: (event) => this.key(event) },
      },
      this.readout,
      this.nothing,
      this.figures.weight,
      this.figures.gains,
      this.figures.temperature,
      this.figures.humidity,
    );
    followFingers(this.body, this);
    this.node = el(
      "section",
      { class: "story", "aria-labelledby": "curves" },
      el("div", { class: "bar" }, el("h2", { id: "curves" }, T.hive.curves), this.ranges),
      this.shows,
      this.body,
      el("div", { class: "bar under" }, moves),
    );
  }

  figure(name, place) {
    this.labels ??= {};
    this.labels[name] = el(
      "figcaption",
      {},
      captionOf(name),
    );
    return el("figure", { class: name }, this.labels[name], name === "weight" ? this.marks : null, place);
  }

  // A new reading moves the curves on, unless the reader looks at an earlier time.
  follow(story) {
    const atEnd = this.until >= this.story.newest;
    const before = this.until;
    this.story = story;
    if (atEnd && story.newest > before) {
      this.since += story.newest - before;
      this.until = story.newest;
      if (this.range === 0) this.since = story.first;
    }
  }

  choose(days) {
    this.range = days;
    this.move(days === 0 ? this.story.first : this.until - days * DAY, days === 0 ? this.story.newest : this.until);
  }

  shift(part) {
    const span = this.until - this.since;
    this.move(this.since + part * span, this.until + part * span);
  }

  zoom(times) {
    this.range = null;
    const half = ((this.until - this.since) * times) / 2;
    const middle = (this.since + this.until) / 2;
    this.move(middle - half, middle + half);
  }

  move(since, until) {
    this.show(since, until);
    this.moved();
    return this.load();
  }

  // Shows a span of time, or the nearest one that there is, with the curves that are at hand.
  show(since, until) {
    const { first, newest } = this.story;
    const span = Math.min(Math.max(until - since, CLOSEST), Math.max(newest - first, CLOSEST));
    const end = Math.min(Math.max((since + until + span) / 2, first + span), newest);
    this.since = Math.round(end - span);
    this.until = Math.round(end);
    for (const { plot } of this.drawings) plot.setScale("x", { min: this.since, max: this.until });
  }

  // While fingers move, what is at hand moves with them; finer curves come once they rest.
  glide(since, until) {
    if (Math.abs(until - since - (this.until - this.since)) > 1) this.range = null;
    this.show(since, until);
  }

  settle() {
    this.moved();
    this.load();
  }

  plane() {
    const { left, width } = this.drawings[0]?.plot.over.getBoundingClientRect() ?? this.body.getBoundingClientRect();
    return { left, width: Math.max(width, 1) };
  }

  key(event) {
    if (event.target !== this.body) return;
    const act = {
      ArrowLeft: () => this.shift(-0.25),
      ArrowRight: () => this.shift(0.25),
      "+": () => this.zoom(0.5),
      "=": () => this.zoom(0.5),
      "-": () => this.zoom(2),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  // Gets the curves of the time that is shown, as fine as the screen; an answer that is overtaken is dropped.
  async load() {
    this.asked?.abort();
    const asked = (this.asked = new AbortController());
    const width = Math.round(
      Math.min(Math.max(this.node.clientWidth || Math.min(window.innerWidth, 960) - 32, 320), 2000),
    );
    const query = `since=${this.since}&until=${this.until}&width=${width}`;
    const wanted = QUANTITIES.filter((name) => this.story.latest[name] || name === "weight");
    try {
      const found = await Promise.all(
        wanted.map((name) => get(`${this.address}/curves/${name}?${query}`, asked.signal)),
      );
      this.curves = Object.fromEntries(found.map((curve) => [curve.quantity, curve]));
      this.nights = found[0].nights;
    } catch (error) {
      if (error.name === "AbortError") return;
      if (!this.known) throw error;
    }
    this.known = true;
    this.draw();
    this.moved();
  }

  // Where not even the first curves came, it is said in their place; the words above and below stay.
  fail(error) {
    for (const figure of Object.values(this.figures)) figure.hidden = true;
    replace(this.nothing, error.message);
    this.nothing.hidden = false;
  }

  mount() {
    this.draw();
    this.moved();
  }

  resized() {
    this.draw();
  }

  // Puts the newest data into the plots; makes them anew only when they must look different.
  draw(anew = false) {
    if (!this.known || !this.node.isConnected || !this.node.clientWidth) return;
    const kind = JSON.stringify([
      this.node.clientWidth,
      Object.keys(this.curves).filter((name) => this.curves[name].time.length),
      this.story.days.length > 0,
    ]);
    if (!anew && this.kind === kind) for (const { fill } of this.drawings) fill();
    else this.make();
    this.kind = kind;
    this.describe();
  }

  make() {
    for (const { plot } of this.drawings) plot.destroy();
    this.drawings = [];
    const add = (name, drawing) => {
      this.figures[name].hidden = drawing === null;
      if (drawing) this.drawings.push(drawing);
    };
    add("weight", lines(this.places.weight, this, { weight: "weight" }, { height: 230, lettered: true }));
    add("gains", bars(this.places.gains, this));
    add(
      "temperature",
      lines(
        this.places.temperature,
        this,
        { temperature: "nest", "outside-temperature": "outside" },
        { height: 170, band: this.story.band },
      ),
    );
    add("humidity", lines(this.places.humidity, this, { humidity: "humidity" }, { height: 110 }));
    replace(this.nothing, T.hive.none);
    this.nothing.hidden = this.drawings.length > 0;
  }

  describe() {
    const zone = this.story.timezone;
    replace(this.shows, T.hive.shows(dayName(this.since, zone), dayName(this.until, zone)));
    for (const name of ["weight", "temperature", "humidity"]) {
      const text = summary(name, this.curves[name]);
      this.places[name].setAttribute("role", "img");
      this.places[name].setAttribute("aria-label", text);
    }
    this.places.gains.setAttribute("role", "img");
    this.places.gains.setAttribute(
      "aria-label",
      `${T.hive.gains}: ${this.story.days
        .slice(-7)
        .map((day) => change(day.net_gain))
        .join(", ")}`,
    );
    const [low, high] = this.story.band.map((value) => amount("temperature", value));
    replace(
      this.labels.temperature,
      el("b", { class: "key nest" }, captionOf("temperature")),
      " ",
      this.curves["outside-temperature"]?.time.length ? el("span", { class: "key outside" }, T.hive.outside) : null,
      " ",
      el("span", { class: "key band" }, T.hive.band(low, high)),
    );
    [...this.ranges.children].forEach((button, i) =>
      button.setAttribute("aria-pressed", String(this.range === [3, 14, 60, 0][i])),
    );
  }

  mark(found) {
    this.found = found;
    this.moments = found.map((item) => item.time);
    this.drawings[0]?.plot.redraw(false);
    this.placed();
  }

  // The letters move with the weight curve, whenever it has been drawn.
  drawn(plot) {
    if (plot === this.drawings[0]?.plot) this.placed();
  }

  placed() {
    const plot = this.drawings[0]?.plot;
    if (plot?.bbox.width && this.found) placeMarks(this.marks, this.found, plot, this.story.timezone);
  }

  // Writes what the curves show at a moment.
  read(time) {
    if (time === null) return replace(this.readout);
    const at = (name, tell) => {
      const curve = this.curves[name];
      const value = curve ? nearest(curve, time) : null;
      return value === null ? null : tell(value);
    };
    return replace(
      this.readout,
      [
        moment(time, this.story.timezone),
        at("weight", (kg) => weight(kg, 2)),
        at("temperature", (value) => T.hive.nest(amount("temperature", value))),
        at("outside-temperature", (value) => `${T.hive.outside} ${amount("outside-temperature", value)}`),
        at("humidity", (value) => amount("humidity", value)),
      ]
        .filter(Boolean)
        .join(" · "),
    );
  }
}

// What is drawn, and in which unit its axis is.
function captionOf(name) {
  const unit = unitOf({ gains: "weight" }[name] ?? name);
  return `${T.hive[name]}, ${unit}`;
}

function summary(name, curve) {
  const known = (curve?.value ?? []).filter((value) => value !== null);
  if (!known.length) return T.hive.none;
  const text = (value) => amount(name, value);
  return T.hive.curve(
    T.hive[name],
    text(known[0]),
    text(known[known.length - 1]),
    text(Math.min(...known)),
    text(Math.max(...known)),
  );
}

function nearest(curve, time) {
  let [low, high] = [0, curve.time.length - 1];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (curve.time[middle] < time) low = middle + 1;
    else high = middle;
  }
  const before = Math.max(low - 1, 0);
  const best = Math.abs(curve.time[before] - time) < Math.abs(curve.time[low] - time) ? before : low;
  return curve.value[best] ?? null;
}

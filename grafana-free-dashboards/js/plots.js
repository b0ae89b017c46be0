// Drawing with uPlot: lines over shaded nights, bars for hive days.

import { numeral, shown } from "./format.js";
import { T } from "./texts.js";

const LOOKS = {
  weight: { colour: "--weight", width: 2 },
  nest: { colour: "--nest", width: 1.6 },
  outside: { colour: "--outside", width: 1.4, dash: [5, 4] },
  humidity: { colour: "--humidity", width: 1.4 },
};
const AXIS = 46;
// As the program has it (signals/clean.py), kg, °C and %RH.
const CAN_BE = { weight: [-5, 400], temperature: [-40, 60], "outside-temperature": [-60, 60], humidity: [0, 105] };

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// Each drawing is {plot, fill}: `fill` puts the owner's newest data into the plot. `owner` has since, until, nights, curves,
// story and width, and is asked anew whenever something is drawn.

// Draws the curves named in `looks` (quantity: look), or returns null when none of them has a reading.
export function lines(place, owner, looks, { height, band = null, lettered = false }) {
  const names = Object.keys(looks).filter((name) => owner.curves[name]?.time.length);
  if (!names.length) return null;
  const data = () => table(names.map((name) => owner.curves[name] ?? { time: [], value: [], quantity: name }));
  const plot = new window.uPlot(
    {
      ...common(owner, height, band?.map((value) => shown("Cel", value)) ?? null, lettered),
      series: [
        {},
        ...names.map((name) => {
          const { colour: ink, width, dash } = LOOKS[looks[name]];
          return { stroke: colour(ink), width, dash, points: { show: false }, spanGaps: names.length > 1 };
        }),
      ],
      scales: {
        x: { min: owner.since, max: owner.until },
        y: { range: (plot, low, high) => roomy(...possible(plot, low, high, names[0]), names[0]) },
      },
      axes: axes(owner, (value, step) => numeral(value, step < 1 ? 1 : 0)),
    },
    data(),
    place,
  );
  return drawing(plot, owner, data);
}

function table(curves) {
  const tables = curves.map((curve) => [curve.time, curve.value.map((value) => shown(curve.quantity, value))]);
  return tables.length > 1
    ? window.uPlot.join(
        tables,
        tables.map((each) => each.map(() => 2)),
      )
    : tables[0];
}

function drawing(plot, owner, data) {
  const fill = () => {
    plot.setData(data(), false);
    plot.setScale("x", { min: owner.since, max: owner.until });
  };
  return { plot, fill };
}

// Draws the net gain of each hive day as a bar from its dawn to the next.
export function bars(place, owner) {
  const days = () => owner.story.days.filter((day) => day.net_gain !== null);
  if (!days().length) return null;
  const data = () => [days().map((day) => (day.start + day.end) / 2), days().map((day) => shown("kg", day.net_gain))];
  const base = common(owner, 110, null);
  const plot = new window.uPlot(
    {
      ...base,
      series: [{}, { paths: () => null, points: { show: false } }],
      scales: {
        x: { min: owner.since, max: owner.until },
        y: { range: (_plot, low, high) => [Math.min(low ?? 0, -0.5) * 1.1, Math.max(high ?? 0, 0.5) * 1.1] },
      },
      axes: axes(owner, (value, step) => numeral(value, step < 1 ? 1 : 0)),
      hooks: { ...base.hooks, drawClear: [], draw: [(drawn) => drawBars(drawn, days())] },
    },
    data(),
    place,
  );
  return drawing(plot, owner, data);
}

function drawBars(plot, days) {
  const { ctx } = plot;
  const zero = plot.valToPos(0, "y", true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(plot.bbox.left, plot.bbox.top, plot.bbox.width, plot.bbox.height);
  ctx.clip();
  for (const day of days) {
    const [left, right] = [plot.valToPos(day.start, "x", true), plot.valToPos(day.end, "x", true)];
    const top = plot.valToPos(shown("kg", day.net_gain), "y", true);
    const gap = Math.min((right - left) * 0.12, 3 * devicePixelRatio);
    const box = [
      left + gap,
      Math.min(top, zero),
      Math.max(right - left - 2 * gap, 1),
      Math.max(Math.abs(top - zero), 1),
    ];
    ctx.fillStyle = colour(day.net_gain < 0 ? "--loss" : "--gain");
    ctx.fillRect(...box);
  }
  ctx.strokeStyle = colour("--ink-soft");
  ctx.lineWidth = devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(plot.bbox.left, zero);
  ctx.lineTo(plot.bbox.left + plot.bbox.width, zero);
  ctx.stroke();
  ctx.restore();
}

function common(owner, height, band, lettered = false) {
  return {
    width: owner.body.clientWidth,
    height,
    ms: 1,
    tzDate: (time) => window.uPlot.tzDate(new Date(time), owner.story.timezone),
    legend: { show: false },
    padding: [8, 10, 0, 0],
    cursor: {
      y: false,
      points: { show: false },
      sync: { key: "story", setSeries: false },
      drag: { x: true, y: false, setScale: false },
    },
    hooks: {
      drawClear: [(plot) => shade(plot, owner.nights, band, lettered ? owner.moments : [])],
      setSelect: [(plot) => selected(plot, owner)],
      setCursor: [(plot) => told(plot, owner)],
      draw: [(plot) => owner.drawn(plot)],
    },
  };
}

function selected(plot, owner) {
  const { left, width } = plot.select;
  if (width < 12) return;
  plot.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
  owner.range = null;
  owner.move(plot.posToVal(left, "x"), plot.posToVal(left + width, "x"));
}

function told(plot, owner) {
  if (plot.cursor.event || plot.cursor.left < 0)
    owner.read(plot.cursor.left < 0 ? null : plot.posToVal(plot.cursor.left, "x"));
}

// Shades nights and the band of a kept brood nest, and leads each letter's line down to the curve.
function shade(plot, nights, band, moments) {
  const { ctx, bbox } = plot;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.fillStyle = colour("--night");
  for (const [dusk, dawn] of nights) {
    const left = plot.valToPos(dusk, "x", true);
    ctx.fillRect(left, bbox.top, plot.valToPos(dawn, "x", true) - left, bbox.height);
  }
  ctx.strokeStyle = colour("--ink-soft");
  ctx.lineWidth = devicePixelRatio;
  ctx.setLineDash([2 * devicePixelRatio, 3 * devicePixelRatio]);
  for (const time of moments) {
    const at = plot.valToPos(time, "x", true);
    ctx.beginPath();
    ctx.moveTo(at, bbox.top);
    ctx.lineTo(at, bbox.top + bbox.height);
    ctx.stroke();
  }
  if (band) {
    ctx.fillStyle = colour("--band");
    const top = plot.valToPos(band[1], "y", true);
    ctx.fillRect(bbox.left, top, bbox.width, plot.valToPos(band[0], "y", true) - top);
  }
  ctx.restore();
}

function axes(owner, text) {
  const look = { stroke: colour("--ink-soft"), font: "12px system-ui, sans-serif", ticks: { show: false } };
  const grid = { stroke: colour("--rule"), width: 1 };
  return [
    {
      ...look,
      grid: { show: false },
      size: 26,
      space: 70,
      values: (_plot, splits, _axis, _space, step) => splits.map((time) => timeLabel(time, step, owner.story.timezone)),
    },
    {
      ...look,
      grid,
      size: AXIS,
      space: 34,
      values: (_plot, splits, _axis, _space, step) => splits.map((value) => text(value, step)),
    },
  ];
}

const labels = new Map();

function timeLabel(time, step, zone) {
  const kind = step < 86400000 ? "clock" : "day";
  const key = `${kind}/${zone}/${T.locale}`;
  if (!labels.has(key)) {
    const options =
      kind === "clock" ? { hour: "2-digit", minute: "2-digit", hourCycle: "h23" } : { day: "numeric", month: "short" };
    labels.set(key, [
      new Intl.DateTimeFormat(T.locale, { timeZone: zone, ...options }),
      new Intl.DateTimeFormat(T.locale, { timeZone: zone, day: "numeric", month: "short" }),
    ]);
  }
  const [usual, day] = labels.get(key);
  const written = usual.format(time);
  return written === "00:00" ? day.format(time) : written;
}

// What cannot be true is drawn, but makes no room for itself: one 85 °C of a sensor that has just been switched on would
// press the nest's own curve flat.
function possible(plot, low, high, name) {
  const [least, most] = CAN_BE[name].map((value) => shown(name, value));
  if (low === null || (low >= least && high <= most)) return [low, high];
  const [times, ...curves] = plot.data;
  const [min, max] = [plot.scales.x.min ?? -Infinity, plot.scales.x.max ?? Infinity];
  const seen = curves.flatMap((values) =>
    values.filter((value, i) => times[i] >= min && times[i] <= max && value != null && value >= least && value <= most),
  );
  return seen.length ? [Math.min(...seen), Math.max(...seen)] : [low, high];
}

function roomy(low, high, name) {
  if (low === null || high === null) return [0, 1];
  const least = { weight: shown("kg", 3), humidity: 20 }[name] ?? 8;
  const missing = Math.max(least - (high - low), (high - low) * 0.12) / 2;
  return [low - missing, high + missing];
}

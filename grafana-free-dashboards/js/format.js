// Values as people read them: the configuration's units, the yard's own time, the browser's way to write numbers.

import { speak, T } from "./texts.js";

const KG_PER_POUND = 0.45359237; // exactly: international yard and pound agreement, 1959
const DAY = 86400000;

let units = { weight: "kg", temperature: "C" };
let now = Date.now(); // hivemon's own clock, as of the last answer
const formats = new Map();

// From now on everything is written as an answer of the API asks for: its units, its language; the year is written where it is not that of its clock.
export function readAs(answer) {
  if (answer.units) units = answer.units;
  if (answer.clock) now = answer.clock;
  speak(answer.language);
}

export function unitOf(quantity) {
  if (quantity === "weight" || quantity === "kg") return units.weight;
  if (quantity.endsWith("temperature") || quantity === "Cel") return units.temperature === "F" ? "°F" : "°C";
  return { humidity: "%", "outside-humidity": "%", battery: "V", rain: "mm" }[quantity] ?? "";
}

// Converts from the API's own units (kg, °C) to those a person wants to see.
export function shown(quantity, value) {
  if (value === null || value === undefined) return null;
  if (quantity === "weight" || quantity === "kg") return units.weight === "lb" ? value / KG_PER_POUND : value;
  if (quantity.endsWith("temperature") || quantity === "Cel")
    return units.temperature === "F" ? (value * 9) / 5 + 32 : value;
  return value;
}

// Converts what a person typed to kg.
export function toKilograms(value) {
  return units.weight === "lb" ? value * KG_PER_POUND : value;
}

export function numeral(value, decimals) {
  const rounded = Number(value.toFixed(decimals)) + 0; // never minus nothing
  return rounded
    .toLocaleString(T.locale, { minimumFractionDigits: decimals, maximumFractionDigits: decimals })
    .replace("-", "−");
}

// A number as a person would type it.
export function typed(value) {
  return value.toLocaleString(T.locale, { useGrouping: false, maximumFractionDigits: 3 });
}

export function weight(kg, decimals = 1) {
  return kg === null || kg === undefined ? T.unknown : `${numeral(shown("kg", kg), decimals)} ${units.weight}`;
}

export function change(kg, decimals = units.weight === "kg" ? 2 : 1) {
  if (kg === null || kg === undefined) return T.unknown;
  const value = shown("kg", kg);
  return `${Number(value.toFixed(decimals)) > 0 ? "+" : ""}${numeral(value, decimals)}`;
}

export function amount(quantity, value) {
  if (value === null || value === undefined) return T.unknown;
  const decimals = { battery: 2, humidity: 0, "outside-humidity": 0 }[quantity] ?? 1;
  return `${numeral(shown(quantity, value), decimals)} ${unitOf(quantity)}`.trim();
}

function format(zone, options) {
  const key = JSON.stringify([T.locale, zone, options]);
  if (!formats.has(key)) formats.set(key, new Intl.DateTimeFormat(T.locale, { timeZone: zone, ...options }));
  return formats.get(key);
}

export function clockTime(time, zone) {
  return format(zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(time);
}

// The year, where it is not the one we are in.
function year(time, zone) {
  const of = (moment) => format(zone, { year: "numeric" }).format(moment);
  return of(time) === of(now) ? {} : { year: "numeric" };
}

export function dayName(time, zone) {
  return format(zone, { weekday: "long", day: "numeric", month: "long", ...year(time, zone) }).format(time);
}

export function longDay(time, zone) {
  return format(zone, { weekday: "long", day: "numeric", month: "long", year: "numeric" }).format(time);
}

// A date with its year.
export function fullDay(time, zone) {
  return format(zone, { day: "numeric", month: "long", year: "numeric" }).format(time);
}

export function shortDay(time, zone, withYear = true) {
  const wanted = withYear ? year(time, zone) : {};
  return format(zone, { weekday: "short", day: "numeric", month: "short", ...wanted }).format(time);
}

export function moment(time, zone) {
  return `${shortDay(time, zone)}, ${clockTime(time, zone)}`;
}

// Writes a hive day's date (YYYY-MM-DD), which has no zone of its own.
export function dateOnly(date, withYear = true) {
  return shortDay(Date.parse(`${date}T12:00:00Z`), "UTC", withYear);
}

export function ago(millis) {
  if (millis < 90000) return T.ago.now;
  for (const [size, name] of [
    [365 * DAY, "year"],
    [30 * DAY, "month"],
    [DAY, "day"],
    [3600000, "hour"],
    [60000, "minute"],
  ]) {
    const count = Math.floor(millis / size);
    if (count >= (name === "minute" ? 1 : 2)) return T.ago[name](count);
  }
  return T.ago.minute(Math.max(1, Math.round(millis / 60000)));
}

// The moment meant by a local date and time ("2026-06-12T14:00") on the yard's own clock.
export function fromLocal(text, zone) {
  const asUtc = Date.parse(`${text}Z`);
  if (Number.isNaN(asUtc)) return null;
  let guess = asUtc;
  for (let i = 0; i < 2; i += 1) guess += asUtc - Date.parse(`${toLocal(guess, zone)}Z`);
  return guess;
}

// A moment as a local date and time on the yard's own clock, in the form of an input field.
export function toLocal(time, zone) {
  const parts = format(zone, {
    year: "numeric",
    month: "2-digit",
    day: "2-digit",
    hour: "2-digit",
    minute: "2-digit",
    hourCycle: "h23",
  }).formatToParts(time);
  const found = Object.fromEntries(parts.map((part) => [part.type, part.value]));
  return `${found.year.padStart(4, "0")}-${found.month}-${found.day}T${found.hour}:${found.minute}`;
}

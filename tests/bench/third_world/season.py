"""A season of a family: `make(family, seed, folder)`."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

from . import bees, day, elements, folder, keeper, mishaps, nest, scale, sky
from .brood_truth import brood_rows
from .families import FAMILIES
from .yard_truth import yard

if TYPE_CHECKING:
    from pathlib import Path

    from .places import Family
    from .sky import Array, Grid

LEAST_SWARM_KG = 0.8
"""Smaller swarms are not called clear: they drown in foragers (this package's guess)."""
MOST_SWARM_KG = 4.8
"""30,000 bees of 160 mg (derived from Fell and others 1977 and Combs 1972, from memory); larger ones are not clear."""
FULL_SUN = 1000
"""On level ground, W/m²."""
SLOW_MINUTES = 30
"""Readings this far apart show a swarm as one step, like a hand's."""


def make(family: str, seed: int, where: Path) -> dict[str, Any]:
    """Write readings.csv.gz, logbook.csv, hivemon.toml and truth.json into a folder, and return the truth.

    The same family and seed give the same files. Raises KeyError for a family that does not exist.
    """
    f = FAMILIES[family]
    rng = np.random.default_rng([seed, zlib.crc32(family.encode())])
    return _Season(family, seed, f, rng).write(where)


class _Season:
    """Draws a season in the order of cause and effect."""

    def __init__(self, name: str, seed: int, f: Family, rng: np.random.Generator) -> None:
        self.name, self.seed, self.f, self.rng = name, seed, f, rng
        self.hives = int(rng.integers(f.hives[0], f.hives[1] + 1))
        self.names = [f"{f.yard[0]}{h + 1}" for h in range(self.hives)]
        g = self.g = sky.grid(f, int(rng.integers(f.days[0], f.days[1] + 1)))
        w = self.w = sky.weather(f.climate, f, g, rng)
        plants = day.forage(f, g, rng)
        self.fates = bees.fates(f, self.hives, g.days, rng)
        self.c = bees.live(f, self.fates, plants[0], g, w, rng)
        self.nat = day.natural(plants, self.c, self.fates, g, w, rng)
        self.book = keeper.Beekeeper(f, g, w, self.c, self.nat, rng).run()
        handled, self.opened = keeper.disturb(self.book, self.hives, g, rng)
        ripe, wet = self._daily(self.nat.ripe), self._daily(self.nat.ripe + self.nat.water)
        self.m = mishaps.mishaps(f, self.c, self.book, g, w, np.median(ripe, axis=0), rng)
        self.flows = self._flows(ripe, wet)
        tare = rng.uniform(22, 40, (self.hives, 1))
        n = self.nat
        true = tare + n.ripe + n.water - n.out - n.swarmed + handled + self.m.kg
        true += elements.wetness(f, self.hives, g, w, rng)
        self.shown, self.wrong = scale.weigh(true, self.m.instead, f, g, w, rng)
        self.nest = nest.nest(self.c, self.fates, g, w)
        self.warm, self.damp = nest.readings(self.nest, self.c, self.opened, g, w, rng)
        for h in range(self.hives):
            scale.thermometer(self.warm[h], h, f, g, self.wrong, rng)
        self.missing = np.zeros((self.hives, g.n), dtype=bool)
        self.columns = self._inside() + self._outside()

    def _daily(self, running: Array) -> Array:
        """Return what a running sum gains from dawn to dawn, of shape (hives, days)."""
        edges = np.append(self.g.dawn, self.g.n - 1)
        return np.diff(running[:, edges], axis=-1)

    def _flows(self, ripe: Array, wet: Array) -> list[dict[str, Any]]:
        """Return rows of flow and dearth of the median working hive."""
        adults = self.c.adults
        works = (adults > 9_000) & (adults > 0.4 * adults.max(axis=0))
        for h, days in self.m.robbed_days.items():
            works[h, list(days)] = False
        works[:, ~works.any(axis=0)] = True
        hours = self.g.per_day((self.w.fly > 0.45).astype(float)) * self.g.dt / 60
        gain = np.nanmedian(np.where(works, ripe, np.nan), axis=0)
        wet_gain = np.nanmedian(np.where(works, wet, np.nan), axis=0)
        rows = yard(gain, wet_gain, np.median(ripe, axis=0), hours, self.g.per_day(self.w.rain))
        for row in rows:
            row["at"] = int(self.g.dawn[row.pop("day")])
            stop = row.pop("stop_day")
            row["stop"] = None if stop is None else int(self.g.dawn[stop])
        return rows

    def _swarms(self) -> list[dict[str, Any]]:
        """Return rows of swarms; on slow scales also of frames with bees taken and not told, which look the same."""
        rows = [self._swarm(leave) for leave in self.c.departures if leave.kg >= 0]
        for x in self.book.works:
            if x.action == "split" and not x.logged and self.f.interval >= SLOW_MINUTES:
                row = {"kind": "swarm", "hive": x.hive, "at": round(x.start), "stop": round(x.stop)}
                row |= {"size": round(-x.kg, 3), "unit": "kg", "clear": False}
                row |= {"note": "not a swarm: frames taken and not told; nobody could tell at this interval"}
                rows.append(row)
        return rows

    def _swarm(self, leave: bees.Departure) -> dict[str, Any]:
        """Return the row of one departure; clear where its size, the hour's readings and its absence leave no doubt."""
        f, g = self.f, self.g
        least = LEAST_SWARM_KG
        least += (0.15 if f.interval >= SLOW_MINUTES else 0.0) + (0.2 if max(f.cell.per_degree) > 30 else 0.0)
        row: dict[str, Any] = {"kind": "swarm", "hive": leave.hive, "at": leave.at, "size": round(leave.kg, 3)}
        row |= {"stop": leave.at + round(leave.minutes / g.dt), "unit": "kg", "note": leave.kind}
        row |= {"bees": round(leave.kg / bees.TYPICAL_BEE_KG), "returned": leave.returned_at is not None}
        row["clear"] = bool(least <= leave.kg <= MOST_SWARM_KG and self._seen(leave.hive, leave.at))
        if leave.returned_at is not None:
            row["back"] = leave.returned_at + g.steps(20)
            row["clear"] = row["clear"] and f.interval * 2 < (leave.returned_at - leave.at) * g.dt
        return row

    def _seen(self, h: int, at: int) -> bool:
        """Say whether nothing else went on about the hive at that hour, and its readings came."""
        near = slice(max(at - self.g.steps(60), 0), at + self.g.steps(60))
        faulty = any(
            r["hive"] == h and r.get("quantity") == "weight" and r["at"] <= at <= r["stop"] for r in self.wrong.rows
        )
        quiet = not self.opened[h, near].any() and bool(np.isnan(self.m.instead[h, near]).all())
        return quiet and not faulty and not self.missing[h, near].any()

    def _inside(self) -> list[folder.Column]:
        """Return the sampled, rounded, thinned columns of the hives; marks which hours of each are missing."""
        g, f, rng = self.g, self.f, self.rng
        every = f.interval // g.dt
        columns: list[folder.Column] = []
        digits = {1: 3, 5: 3, 10: 2, 20: 2, 50: 2, 100: 1}[f.cell.readout]
        for h in range(self.hives):
            lost = _gaps(self.missing[h], f, g, rng)
            at = np.arange(int(rng.integers(every)), g.n, every)
            ms = g.t0 + at * g.dt * 60_000 + int(rng.integers(0, g.dt * 60_000)) + rng.integers(0, 4000, len(at))
            here = ~self.missing[h, at] & (rng.random(len(at)) >= lost)
            step = f.cell.readout / 1000
            weight = np.where(here, np.round(self.shown[h, at] / step) * step, np.nan)
            columns.append((self.names[h], "weight", ms, weight, f"%.{digits}f"))
            thin = max(1, f.nest_every // f.interval)
            for quantity, x, form in (("temperature", self.warm, "%.2f"), ("humidity", self.damp, "%.1f")):
                value = np.where(here, x[h, at], np.nan)[::thin]
                columns.append((self.names[h], quantity, ms[::thin], value, form))
            if f.battery:
                volts = 3.9 - 0.25 * at / g.n + 0.08 * (self.w.sun[at] / FULL_SUN) + rng.normal(0, 0.01, len(at))
                columns.append((self.names[h], "battery", ms[:: 24 * 12], volts[:: 24 * 12], "%.2f"))
        return columns

    def _outside(self) -> list[folder.Column]:
        """Return the columns of the yard: air in a hut that the sun warms (up to 2.5 °C), rain by a tipping gauge."""
        g, f, rng, w = self.g, self.f, self.rng, self.w
        every = f.interval // g.dt
        at = np.arange(0, g.n, max(every, 10 // g.dt if g.dt == 1 else 1))
        ms = g.t0 + at * g.dt * 60_000 + 30_000
        columns: list[folder.Column] = []
        if f.outside:
            hut = w.sun[at] / FULL_SUN * rng.uniform(0, 2.5)
            columns.append(("", "outside-temperature", ms, w.air[at] + hut + rng.normal(0, 0.1, len(at)), "%.1f"))
            columns.append(("", "outside-humidity", ms, w.humidity[at], "%.0f"))
        if f.gauge:
            total = np.floor(np.cumsum(w.rain) / 0.2) * 0.2
            columns.append(("", "rain", ms, np.diff(total[at], prepend=0.0), "%.1f"))
        return columns

    def write(self, where: Path) -> dict[str, Any]:
        """Write the four files, and return the truth."""
        where.mkdir(parents=True, exist_ok=True)
        folder.readings(where / "readings.csv.gz", self.f.yard, self.columns)
        folder.logbook(where / "logbook.csv", self.names, self.book.lines)
        boxes = [1 if f.weak or f.empty else int(self.rng.integers(1, 3)) for f in self.fates]
        folder.settings(where / "hivemon.toml", self.f, self.names, boxes)
        rows = self.flows + self._swarms() + self._brood()
        rows += self.m.rows + self.wrong.rows + self._carried()
        return folder.truth(where / "truth.json", self._head(), rows, self.g, self.names, self.f.yard)

    def _brood(self) -> list[dict[str, Any]]:
        """Return brood trouble; it is not clear where the nest's thermometer lies or its readings are missing."""
        day = 1440 // self.g.dt
        faults = [r for r in self.wrong.rows if r.get("quantity") == "temperature"]
        rows = brood_rows(self.nest, self.c, self.fates, self.g)
        for row in rows:
            low, high = row["at"] - 3 * day, row["at"] + 6 * day
            blind = any(r["hive"] == row["hive"] and r["at"] < high and r["stop"] > low for r in faults)
            if blind or self.missing[row["hive"], max(low, 0) : high].mean() > 0.2:
                row["clear"] = False
        return rows

    def _carried(self) -> list[dict[str, Any]]:
        """Return the times hives were lifted off by people: true, but nobody need be told."""
        return [
            {
                "kind": "off-scale",
                "hive": x.hive,
                "at": int(x.start),
                "stop": int(np.ceil(x.stop)),
                "size": 0,
                "unit": "kg",
            }
            | {"clear": False, "note": f"by the beekeeper: {x.action}"}
            for x in self.book.works
            if x.rough >= 3
        ]

    def _head(self) -> dict[str, Any]:
        """Return what the truth says besides events: the season, its hives and all handling."""
        g = self.g
        hives = {
            n: {"weak": f.weak, "bees": round(float(self.c.adults[h, 0]))}
            for h, (n, f) in enumerate(zip(self.names, self.fates, strict=True))
        }
        handling = [
            {"hive": self.names[x.hive], "action": x.action}
            | {"start": folder.moment(g.ms(x.start)), "end": folder.moment(g.ms(x.stop))}
            | {"kg": round(x.kg, 3), "settles_kg": round(x.settles, 3), "logged": x.logged}
            for x in sorted(self.book.works, key=lambda x: x.start)
        ]
        head: dict[str, Any] = {"scenario": self.name, "seed": self.seed, "yard": self.f.yard}
        head |= {"start": folder.moment(g.t0), "end": folder.moment(g.ms(g.n))}
        head |= {"interval_minutes": self.f.interval, "interval_changes": []}
        return head | {"hives": hives, "handling": handling, "gaps": []}


def _gaps(missing: Array, f: Family, g: Grid, rng: np.random.Generator) -> float:
    """Mark gaps of hours to two days; return the share of single readings lost."""
    for _ in range(rng.poisson(f.cell.gaps)):
        at = int(rng.integers(g.n))
        missing[at : at + g.steps(60 * float(np.exp(rng.uniform(0, 3.9))))] = True
    return float(rng.uniform(*f.cell.lost))

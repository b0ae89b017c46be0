"""What befalls hives and scales without a beekeeper: robbing, tipping, animals, branches, grass, faults."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from .bees import Colonies
    from .keeper import Book
    from .places import Family
    from .sky import Array, Grid, Ints, Weather


@dataclass
class Mishaps:
    """kg added (hives, steps); where the reading is replaced (NaN: not); truth rows in grid steps."""

    kg: Array
    instead: Array
    rows: list[dict[str, Any]] = field(default_factory=list)
    robbed_days: dict[int, set[int]] = field(default_factory=dict)


def mishaps(
    family: Family, c: Colonies, book: Book, g: Grid, w: Weather, net: Array, rng: np.random.Generator
) -> Mishaps:
    """Draw a season's mishaps; `net` (days,) is what the typical hive gains, to find days without forage."""
    hives = c.adults.shape[0]
    m = Mishaps(np.zeros((hives, g.n)), np.full((hives, g.n), np.nan))
    if rng.random() < family.chances.robbed and hives > 1:
        _rob(m, c, book, g, w, net, rng)
    for h in range(hives):
        _tip(m, h, family, g, w, rng)
        _objects(m, h, family, g, w, rng)
        _handle_lightly(m, h, family, g, rng)
    return m


def _rob(m: Mishaps, c: Colonies, book: Book, g: Grid, w: Weather, net: Array, rng: np.random.Generator) -> None:
    """Let the weakest hive be robbed for some days of dearth, best after somebody opened it.

    10,000 robbers an hour carry off 0.2 to 0.4 kg (derived from the 20 mg payload of Meikle and others 2018 and a crop
    of 40 mg, from memory).
    """
    hours = g.per_day((w.fly > 0.5).astype(float)) * g.dt / 60
    poor = [d for d in range(10, g.days - 4) if net[d] < -0.02 and hours[d] > 5]
    if not poor:
        return
    day = int(rng.choice(_inviting(poor, book, g)))
    alive = np.where(c.adults[:, day] > 1_000, c.adults[:, day], np.inf)
    victim = int(alive.argmin())
    length = int(rng.integers(1, 4))
    hourly = rng.uniform(0.1, 0.4)
    seen: list[Ints] = []
    total = 0.0
    for d in range(day, day + length):
        from_hour, to_hour = rng.uniform(9, 12), rng.uniform(15.5, 18.5)
        steps = np.flatnonzero((g.day == d) & (g.solar > from_hour) & (g.solar < to_hour))
        if hours[d] < 4 or len(steps) < 3:
            continue
        taken = np.cumsum(hourly * g.dt / 60 * w.fly[steps] * np.exp(rng.normal(0, 0.25, len(steps))))
        _carry(m, victim, steps, taken, rng)
        seen.append(steps)
        total += taken[-1]
        m.robbed_days.setdefault(victim, set()).add(d)
    if seen:
        row = {"kind": "robbing", "hive": victim, "at": int(seen[0][0]), "stop": int(seen[-1][-1])}
        row |= {"size": round(total, 3), "unit": "kg", "clear": bool(total > 1.2 and hourly > 0.15)}
        m.rows.append(row | {"note": f"{hourly:.2f} kg an hour at most"})


def _inviting(days: list[int], book: Book, g: Grid) -> list[int]:
    """Return those of the days that follow an inspection, on it or the day after; all where none does."""
    opened = {int(g.day[min(int(x.start), g.n - 1)]) for x in book.works if x.action == "inspect"}
    return [d for d in days if d in opened or d - 1 in opened] or days


def _carry(m: Mishaps, victim: int, steps: Ints, taken: Array, rng: np.random.Generator) -> None:
    """Take honey from the victim, and give some of it to the strong hives of the yard."""
    m.kg[victim, steps] -= taken
    m.kg[victim, steps[-1] + 1 :] -= taken[-1]
    others = [h for h in range(m.kg.shape[0]) if h != victim]
    part = rng.uniform(0.2, 0.8) / len(others)
    for h in others:
        m.kg[h, steps] += taken * part
        m.kg[h, steps[-1] + 1 :] += taken[-1] * part


def _tip(m: Mishaps, h: int, family: Family, g: Grid, w: Weather, rng: np.random.Generator) -> None:
    """Blow or push a hive over, to be set up again after hours or a day or two."""
    if rng.random() >= family.chances.tipped:
        return
    at = int(rng.choice(np.argsort(w.wind)[-200:]))
    stop = min(at + g.steps(rng.uniform(300, 2800)), g.n - 1)
    left = rng.uniform(0, 1.5)
    m.instead[h, at:stop] = left + rng.normal(0, 0.02, stop - at)
    m.kg[h, stop:] -= rng.uniform(0.5, 3)
    row = {"kind": "off-scale", "hive": h, "at": at, "stop": stop, "size": 0, "unit": "kg"}
    m.rows.append(row | {"note": "blown over"})


def _objects(m: Mishaps, h: int, family: Family, g: Grid, w: Weather, rng: np.random.Generator) -> None:
    """Lay branches on lids, let cats sit there and grass lift the platform."""
    c = family.chances
    if rng.random() < c.branch:
        at = int(rng.choice(np.argsort(w.wind)[-2000:]))
        stop = min(at + g.steps(rng.uniform(60, 9000)), g.n)
        m.kg[h, at:stop] += rng.uniform(0.3, 3.0)
    for _ in range(rng.poisson(c.animal * 4)):
        at = int(rng.integers(g.n))
        m.kg[h, at : at + g.steps(rng.exponential(15))] += rng.choice([0.02, 0.4, 1.2, 3.5]) * rng.uniform(0.8, 1.3)
    if rng.random() < c.grass:
        at = int(rng.integers(g.n // 2))
        k = min(g.steps(rng.uniform(10, 30) * 1440), g.n - at)
        lift = rng.uniform(0.2, 0.8) * (np.arange(k) / k) ** 1.5
        m.kg[h, at : at + k] -= lift


def _handle_lightly(m: Mishaps, h: int, family: Family, g: Grid, rng: np.random.Generator) -> None:
    """Heft hives for a moment, and mow beside them."""
    for _ in range(rng.poisson(family.keeper.heft * g.n * g.dt / 1440)):
        at = int(rng.integers(g.n))
        if 9 < g.solar[at] < 18:
            m.kg[h, at] -= rng.uniform(4, 18)
    for _ in range(rng.poisson(family.keeper.mows)):
        at = int(rng.integers(g.n))
        if 9 < g.solar[at] < 18:
            part = m.kg[h, at : at + g.steps(rng.uniform(5, 20))]
            part += rng.normal(0, 0.15, len(part))

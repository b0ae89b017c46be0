"""Within the day: bees out, nectar in, water off, food eaten; from daily states to kg on the grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .bees import BEE_KG, Colonies, Fate
from .sky import Array, Grid, Weather, lag

if TYPE_CHECKING:
    from .places import Bloom, Family

RIPE_SUGAR = 0.82
"""Of ripe honey, by mass: 18 % is water (17.2 on average: White and others 1962)."""


@dataclass
class Natural:
    """What the colonies do to the weight, each of shape (hives, steps), kg from the start of the season."""

    ripe: Array
    """Nectar after evaporation and pollen, less what is eaten: the net forage gain, running sum."""
    water: Array
    """Water still in the nectar, and water carried for cooling."""
    out: Array
    """Bees in the air or the field, without swarms (subtract)."""
    swarmed: Array
    """Bees that left for good, until they return (subtract)."""


def forage(family: Family, g: Grid, rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """Return for each day kg of ripe stores that a strong colony finds, its sugar, and its best hour."""
    d = np.arange(g.days, dtype=float)
    base = rng.uniform(*family.background) * np.exp(lag(rng.normal(0, 1.2, g.days), 5.0))
    total, sugar, hour = base.copy(), base * 0.45, base * 12.0
    for bloom in family.blooms:
        kg = _course(bloom, d, rng)
        total, sugar, hour = total + kg, sugar + kg * bloom.sugar, hour + kg * bloom.hour
    return total, sugar / total, hour / total


def _course(bloom: Bloom, d: Array, rng: np.random.Generator) -> Array:
    """Return kg a day that one plant gives on each hive day: a rise, a plateau of moody days, a fall."""
    start, length = rng.uniform(*bloom.start), rng.uniform(*bloom.days)
    up, down = rng.uniform(*bloom.ramp), rng.uniform(*bloom.ramp)
    rise = np.clip((d - start) / up + 0.5, 0, 1)
    fall = np.clip((start + length - d) / down + 0.5, 0, 1)
    moody = np.exp(rng.normal(0, 0.22, len(d)))
    return rng.uniform(*bloom.kg) * rise * fall * moody


def natural(
    plants: tuple[Array, Array, Array],
    c: Colonies,
    chosen: list[Fate],
    g: Grid,
    w: Weather,
    rng: np.random.Generator,
) -> Natural:
    """Put the day's work on the grid; `plants` as `forage` returns them."""
    total, sugar, best = (x[g.day] for x in plants)
    adults, foragers, brood = (_smooth(x, g) for x in (c.adults, c.foragers, c.brood))
    keen = rng.uniform(0.75, 1.25, (len(chosen), 1))
    rich = np.exp(-(((g.solar - best) / 4.5) ** 2))
    pull = np.clip(0.18 + 0.4 * total / 1.5, 0, 0.55)
    out = foragers * w.fly * pull * keen**0.3
    out = lag(out, 25 / g.dt) + 0.06 * adults * _play(g, w)
    out *= 1 + 0.05 * lag(rng.normal(0, 1, adults.shape), 10 / g.dt) * np.sqrt(10 / g.dt)
    rate = total / (7.0 * 60 / g.dt) * w.fly * rich * (foragers / 12_000) * keen
    luck = np.exp(rng.normal(0, 0.13, c.adults.shape))[:, g.day]
    ripe_in = lag(rate * luck, 35 / g.dt)
    wet = ripe_in * (RIPE_SUGAR / sugar - 1)
    hold = 14 * 60 / g.dt
    water = lag(wet, hold) * hold
    thirst = np.clip(w.air - 31, 0, 12) / 12 * w.fly * adults / 30_000
    water = water + lag(thirst, 60 / g.dt) * 0.25
    eaten = _eaten(adults, brood, out, w) / (1440 / g.dt)
    ripe = np.cumsum(ripe_in - eaten, axis=-1)
    return Natural(ripe, water, out * BEE_KG, _swarmed(c, g, adults.shape))


def _smooth(x: Array, g: Grid) -> Array:
    """Return daily values on the grid, without steps at dawn."""
    return np.asarray(lag(x[:, g.day], 300 / g.dt))


def _play(g: Grid, w: Weather) -> Array:
    """Return orientation and drone flight of fine afternoons, 0 to 1."""
    return np.exp(-(((g.solar - 14.3) / 1.1) ** 2)) * np.clip((w.fly - 0.5) * 2, 0, 1)


def _eaten(adults: Array, brood: Array, out: Array, w: Weather) -> Array:
    """Return kg a day that leave as breath and as dead bees.

    Made to give the 0.15 to 0.3 kg a day of a summer dearth (derived from the yearly budget of Seeley 1985, from
    memory).
    """
    cold = np.clip((12 - w.air) / 20, 0, 1.2)
    return adults / 10_000 * (0.026 + 0.02 * cold) + brood / 10_000 * 0.045 + out / 10_000 * 0.22


def _swarmed(c: Colonies, g: Grid, shape: tuple[int, ...]) -> Array:
    """Return kg of bees that left or came, running, of that shape (hives, steps)."""
    gone = np.zeros(shape)
    t = np.arange(shape[1])
    for leave in c.departures:
        k = max(leave.minutes / g.dt, 0.5)
        gone[leave.hive] += leave.kg * np.clip((t - leave.at) / k, 0, 1) ** 0.8
        if leave.returned_at is not None:
            k = max(20 / g.dt, 1)
            gone[leave.hive] -= leave.kg * 0.985 * np.clip((t - leave.returned_at) / k, 0, 1)
    return gone

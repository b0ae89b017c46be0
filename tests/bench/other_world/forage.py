"""Bees out and nectar in, as counts: trips drawn at random, each returning after its own time.

Payload of a returning bee 0.02 g in the mean (Meikle, Holst, Colin et al. 2018, PLoS ONE 13(5):e0197589); a worker
0.1 to 0.115 g (Winston 1987, from memory); about ten nectar trips a day (Park, 1920s); nectar of 20 to 60 % sugar
(Nicolson et al. 2022), so that half or more of it is water to be driven out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, Array, Clock, by_day, smoothed, wander

if TYPE_CHECKING:
    from .colony import Colony
    from .sky import Sky

TRIPS = np.array([2, 4, 8, 13, 22])
"""How long trips take, in slow steps: 10 minutes to nearly two hours."""
MOST_LOAD = 6.0e-5
"""kg: what a crop holds."""
HONEY_A_BEE = 8.5e-6
"""kg a bee and day, brood rearing included: 0.25 kg a day for 30,000 (from a colony's yearly budget, Seeley 1995)."""


@dataclass(frozen=True)
class Bloom:
    """A flow of the land: first day, days to ramp up, last day, days to ramp down, kg a day for a standard colony."""

    first: float
    up: float
    last: float
    down: float
    peak: float


@dataclass
class Fare:
    """A colony's forage on the slow grid: kg of bees out, kg stored as honey-equivalent, share of full flight."""

    out: Array
    stores: Array
    flight: Array


def flight(sky: Sky, rng: np.random.Generator, brave: float) -> Array:
    """Return the share of full flight: warmth, light, calm and dry; `brave` shifts the warmth needed, °C."""
    warm = 1 / (1 + np.exp(-(sky.temperature + 4 * sky.light - 14.5 + brave) / 1.2))
    bright = np.clip((sky.sun * (1 - 0.4 * sky.cloud) + 0.01) / 0.16, 0, 1)
    calm = 1 / (1 + np.exp((sky.wind - 8.5) / 1.0))
    dry = np.exp(-6 * sky.rain)
    heat = 1 / (1 + np.exp((sky.temperature - 41.5) / 1.0))
    fly = warm * bright * calm * dry * heat * np.exp(wander(rng, sky.sun.size, 6.0, 0.12))
    return np.where(bright > 0, np.where(fly < 0.01, 0, fly), 0)


def land(days: int, base: float, blooms: list[Bloom], rng: np.random.Generator) -> Array:
    """Return what a standard colony would gain on a good day, kg, shape (days,)."""
    day = np.arange(days) + 0.5
    total = np.full(days, base)
    for b in blooms:
        ramp = np.interp(day, [b.first, b.first + b.up, b.last - b.down, b.last], [0, 1, 1, 0])
        total += b.peak * ramp ** rng.uniform(0.7, 1.4) * np.exp(wander(rng, days, 1.5, 0.22))
    return total + rng.normal(0, 0.02, days)


def forage(clock: Clock, sky: Sky, colony: Colony, gain: Array, fly: Array, rng: np.random.Generator) -> Fare:
    """Send a colony out through a season. `gain` is `land`, `fly` this colony's share of full flight."""
    rate = rng.uniform(0.045, 0.075)  # of the foragers leave in five minutes of full flight
    foragers = np.repeat(colony.foragers, PER_DAY)
    mood = np.exp(wander(rng, clock.steps, 5.0, 0.25))
    rush = _rush(fly, rng)
    leave = foragers * rate * fly * mood * rush
    mix = rng.dirichlet([3, 5, 5, 3, 1.2])
    out, home = np.zeros(clock.steps), np.zeros(clock.steps)
    for steps, share in zip(TRIPS, mix, strict=True):
        ahead = np.concatenate([fly[steps:], np.zeros(steps)])
        # Bees feel dusk and most storms coming; some are caught.
        gone = rng.poisson(leave * share * (0.12 + 0.88 * (ahead > 0.04)) * (ahead + fly > 0.02))
        back = np.concatenate([np.zeros(steps), gone[:-steps]])
        out += np.cumsum(gone - back)
        home += back
    bee = rng.uniform(1.0e-4, 1.2e-4)
    water = rng.uniform(0.45, 0.68)
    load = _load(clock, sky, gain, fly, rate, water) * _hours(clock, rng)
    nectar = home * np.clip(load, 0, MOST_LOAD) * np.exp(wander(rng, clock.steps, 8.0, 0.1))
    fresh = nectar * water  # what must be driven out again
    dried = smoothed(fresh, rng.uniform(8, 26) * PER_HOUR)
    bees = np.repeat(colony.bees, PER_DAY)
    eaten = bees * HONEY_A_BEE / PER_DAY * (0.75 + 0.8 * fly) * (1 + 0.012 * np.clip(14 - sky.temperature, 0, 15))
    stores = np.cumsum(nectar - dried - eaten)
    return Fare(bee * out + _noon(clock, fly, colony, rng), stores, fly)


def _rush(fly: Array, rng: np.random.Generator) -> Array:
    """Return the first half hour's rush of a flying day: nectarless scouts and the impatient leave at once."""
    wake = (fly > 0.25) & (smoothed(fly, 2 * PER_HOUR) < 0.12)
    return 1 + rng.uniform(0.5, 2.5) * smoothed(wake.astype(float), 4)


def _load(clock: Clock, sky: Sky, gain: Array, fly: Array, rate: float, water: float) -> Array:
    """Return kg a trip so that a standard colony (30,000 bees) gains `gain` on a good day."""
    good = max(float(np.percentile(by_day(fly).sum(axis=1), 80)), 20.0)
    trips = 30000 * 0.33 * 0.92 * rate * good
    load = (gain + 30000 * HONEY_A_BEE * 1.05) / (1 - water) / trips
    # Rain the night before washes nectar out; a wet week helps it.
    washed = smoothed(np.minimum(sky.rain, 1.0), 8 * PER_HOUR)
    return np.repeat(np.clip(load, 0, None), PER_DAY)[: clock.steps] / (1 + 3 * washed)


def _hours(clock: Clock, rng: np.random.Generator) -> Array:
    """Return how nectar comes through a day: some plants give in the morning, some later."""
    centre, width = rng.uniform(9.5, 14.5), rng.uniform(3, 7)
    shape = np.exp(-(((clock.hours - centre) / width) ** 2))
    even: Array = shape / shape[(clock.hours > 8) & (clock.hours < 17)].mean()
    return even


def _noon(clock: Clock, fly: Array, colony: Colony, rng: np.random.Generator) -> Array:
    """Return kg outside in orientation flights (minutes around noon) and of drones (afternoons)."""
    extra = np.zeros(clock.steps)
    drones = rng.uniform(100, 1200) * 2.3e-4
    for day in range(clock.days):
        noon = day * PER_DAY + int(rng.normal(13.2, 0.9) * PER_HOUR)
        if fly[min(noon, clock.steps - 1)] < 0.6:
            continue
        if rng.random() < 0.4:
            size = colony.bees[day] * rng.gamma(2.0, 0.012) * 1.0e-4
            shape = np.sin(np.linspace(0, np.pi, rng.integers(3, 7)))
            extra[noon : noon + shape.size] += (size * shape)[: clock.steps - noon]
        start = noon + PER_HOUR // 2
        shape = np.sin(np.linspace(0, np.pi, 3 * PER_HOUR)) ** 0.5
        extra[start : start + shape.size] += (drones * shape * rng.uniform(0.4, 1))[: clock.steps - start]
    return extra

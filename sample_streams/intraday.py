"""From a colony's days to its natural weight within the day, on the grid: everything but handling, swarms, weather.

Dawn dip: foragers out, about 115 mg each (Holst & Meikle 2018; Meikle et al. 2018). Nectar comes in with
flight and dries all the time, first-order; a quarter to a half of a day's gain is gone by the next dawn
(Hambleton 1925; Meikle 2018, from memory, no firm published number).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .colony import RIPE, Life
from .grid import HOUR, Floats, Rng, lag, ramp
from .swarm import EMPTY_BEE

if TYPE_CHECKING:
    from .forage import Setting


@dataclass(frozen=True)
class Habit:
    """What differs between hives: share of foragers out at once, drying time in hours, thirst in heat."""

    out: float
    drying: float
    thirst: float

    @classmethod
    def drawn(cls, rng: Rng, busy: float) -> Habit:
        """A hive's habit; `busy` multiplies the share of foragers out."""
        return cls(float(rng.uniform(0.18, 0.38)) * busy, float(rng.uniform(9.0, 17.0)), float(rng.uniform(0.5, 1.3)))


@dataclass(frozen=True)
class Natural:
    """Natural weight since the start: `total` kg with, `own` kg without robbing or loot; `water` kg waiting."""

    total: Floats
    own: Floats
    water: Floats


def natural_weight(rng: Rng, setting: Setting, life: Life, habit: Habit) -> Natural:
    """Natural weight of a colony on the grid (kg, starting near 0)."""
    grid, weather, forage, raid = setting.grid, setting.weather, setting.forage, setting.raid
    day, hour = grid.day, HOUR / grid.step
    sums = np.maximum(np.bincount(day, weights=forage.flight, minlength=grid.days), 1e-9)
    profile = forage.flight / sums[day]
    flat = 1.0 / grid.per_day
    home = lag(forage.flight, 0.7 * hour, start=0.0) * ramp(grid.hour, 4.0, 10.5) + 1e-12  # first loads come later
    inflow = life.gross[day] * home / np.bincount(day, weights=home, minlength=grid.days)[day]
    wet = inflow * (1 - life.sugar[day] / RIPE)
    water = lag(wet * habit.drying * hour, habit.drying * hour, start=0.12)
    honey = np.cumsum(inflow * life.sugar[day] / RIPE - life.eaten[day] * (0.75 * flat + 0.25 * profile))
    others = np.cumsum((life.pollen - life.deaths)[day] * profile + (life.grown - life.bread_eaten)[day] * flat)
    thirst = habit.thirst * grid.spread(life.bees / 30000.0) * 0.05 * np.maximum(weather.temperature - 30.0, 0.0) / 5.0
    drink = lag(thirst * ramp(forage.flight, 0.02, 0.3) * 2.5, 2.5 * hour, start=0.0)
    young = life.bees[day] * 0.025 * np.exp(-0.5 * ((grid.hour - rng.uniform(13.0, 14.5)) / 0.22) ** 2)
    out = life.foragers[day] * habit.out * lag(forage.flight, 0.25 * hour, start=0.0) + young * ramp(
        forage.flight, 0.5, 0.8
    )
    share = raid / np.maximum(np.bincount(day, weights=raid, minlength=grid.days), 1e-9)[day]
    stolen = np.cumsum(life.loot[day] * share - life.robbed[day] * share)
    own = water + honey + others + drink - out * EMPTY_BEE
    return Natural(own + stolen, own, water)

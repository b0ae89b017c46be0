"""The brood nest: temperature and humidity between the frames, on the grid.

With brood the nest is held at 32-36 °C, mean about 34.5 °C (Becher & Moritz 2009; Stabentheiner et al.
2021), swinging by 0.5-1 °C in a day; without brood it is cooler, looser and follows the outside by several
°C (qualitative, widely replicated; sizes ours). Given water a heated nest holds near 40 °C at worst;
without it rose to 44 °C (Ostwald, Smith & Seeley 2016). Humidity between frames 50-80 % (Human et al.
2006), with drops of up to 20 points in minutes (Sachs & Tautz 2017) that mean nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .grid import DAY, HOUR, Floats, Grid, Rng, lag, ramp, wander

if TYPE_CHECKING:
    from .colony import Life
    from .forage import Setting
    from .plan import HivePlan
    from .weather import Weather

FULL_BROOD = 5200.0  # cells at which the sensor is surely in brood; our choice for one sensor in the middle frames


def warmth_around(grid: Grid, weather: Weather) -> Floats:
    """Temperature felt by the box: air and sun on it, through the wall (lag about an hour and a half)."""
    return lag(weather.temperature + 0.006 * weather.sun, 1.5 * HOUR / grid.step)


def course_of(grid: Grid, plan: HivePlan, kind: str) -> Floats:
    """0..strength over the grid: how much a trouble of this kind bears; grows and fades over half a day."""
    day = (grid.t - grid.start) / DAY
    course = np.zeros(len(day))
    for p in (p for p in plan.nest if p.kind == kind):
        course = np.maximum(
            course, p.strength * ramp(day, p.day, p.day + 0.4) * (1 - ramp(day, p.day + p.days, p.day + p.days + 0.5))
        )
    return course


def heat_excess(grid: Grid, weather: Weather, plan: HivePlan) -> Floats:
    """°C above the set point that heat forces on the nest: little while water is fetched, most of it when it is not."""
    around = warmth_around(grid, weather)
    failing = course_of(grid, plan, "overheat")
    return np.minimum(np.maximum(around - 35.0, 0.0) * 0.07 + failing * np.maximum(around - 29.5, 0.0) * 0.5, 9.0)


def brood_survival(grid: Grid, weather: Weather, plan: HivePlan) -> Floats:
    """Daily share of brood that lives, shape (days,): sustained heat above 37-38 °C or chill below 32 °C costs brood.

    That it costs brood is published (Himmer 1932; Wang et al. 2016); the rate is our own.
    """
    hot = grid.day_means(np.maximum(plan.set_point + heat_excess(grid, weather, plan) - 37.0, 0.0))
    chill = grid.day_means(course_of(grid, plan, "chill"))
    return np.clip(1.0 - 0.28 * hot - 0.06 * chill, 0.35, 1.0)


def control(grid: Grid, life: Life) -> Floats:
    """0 (no brood at the sensor) to 1 (tight): follows the brood there, smoothed over the day."""
    share = ramp(life.brood, 900.0, FULL_BROOD) * (0.9 + 0.1 * ramp(life.bees, 3000.0, 7000.0))
    return grid.spread(share)


def nest_temperature(rng: Rng, grid: Grid, weather: Weather, plan: HivePlan, life: Life) -> Floats:
    """True temperature at the sensor without handling and swarms, °C."""
    n, hour = len(grid.t), HOUR / grid.step
    around = warmth_around(grid, weather)
    slow = lag(around, 3.0 * hour)
    tight = plan.set_point + rng.uniform(0.008, 0.03) * (slow - 20.0) + wander(rng, n, 5 * hour, 0.14)
    tight += wander(rng, n, 0.4 * hour, 0.06) + heat_excess(grid, weather, plan)
    crowd = grid.spread(np.clip(9.0 * np.sqrt(life.bees / 20000.0), 1.5, 13.0))
    loose = slow + crowd + wander(rng, n, 8 * hour, 0.8)
    loose = np.where(loose > 33.0, 33.0 + (loose - 33.0) * 0.35, loose)
    core = grid.spread(20.0 * ramp(life.bees, 2500.0, 9000.0))
    chill = course_of(grid, plan, "chill")
    loose = np.maximum(loose, core * (1 - chill) + wander(rng, n, 10 * hour, 0.7))
    hold = control(grid, life) * (1 - 0.62 * chill)
    return hold * tight + (1 - hold) * loose


def nest_humidity(rng: Rng, setting: Setting, plan: HivePlan, life: Life, water: Floats) -> Floats:
    """True relative humidity between frames, %RH; `water`: kg of nectar water waiting in the hive, on the grid."""
    grid, weather = setting.grid, setting.weather
    n, hour = len(grid.t), HOUR / grid.step
    hold = control(grid, life)
    level = (
        rng.uniform(56, 66)
        + 9.0 * ramp(water, 0.1, 2.0)
        + 0.10 * (lag(weather.humidity, 6 * hour) - 65.0) * (1.6 - hold)
    )
    level = level + wander(rng, n, 10 * hour, 2.2) + wander(rng, n, 0.6 * hour, 1.0)
    level -= 5.0 * ramp(heat_excess(grid, weather, plan), 0.2, 2.0)
    for at in np.flatnonzero(rng.random(n) < 0.5 * grid.step / DAY).tolist():
        depth = rng.uniform(4, 20)
        level[at : at + 12] -= depth * np.exp(-np.arange(min(12, n - at)) / 2.5)
    return np.clip(level, 12.0, 99.0)

"""What the land gives: flying weather and nectar.

Flight limits: none below about 12 °C, rising to 20 °C (Burrill & Dietz 1981, Apidologie 12:319); light
needed and then saturating (same); wind reduces flight from 6.7 m/s and ends it at 9-11 m/s (from memory,
extension); rain cuts it (Lundie 1925, USDA Bull. 1328); heat only from 40 to 46 °C (Cooper, Schaffer &
Buchmann 1985, J Exp Biol 114:1).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .grid import DAY, HOUR, Floats, Grid, Rng, lag, ramp

if TYPE_CHECKING:
    from .weather import Weather

FINE_FLYING_HOURS = 9.5  # equivalent full-flight hours of a fine summer day; our normalisation


@dataclass(frozen=True)
class Bloom:
    """A nectar source: `kg` a strong hive carries in on a fine day, over `days` from scenario day `day`.

    `rise` and `fall`: days of the edges. `sugar`: mass share of sugar in its nectar (published range 0.2 to 0.6).
    """

    day: float
    days: float
    kg: float
    rise: float = 2.0
    fall: float = 3.0
    sugar: float = 0.38


@dataclass(frozen=True)
class Land:
    """Forage of a yard: `background` kg on a fine day outside blooms (0.5 about feeds a hive), and blooms.

    `lean`: stretches (first day, last day) in which even the background fails: the dearths.
    """

    background: float = 0.5
    blooms: tuple[Bloom, ...] = ()
    lean: tuple[tuple[float, float], ...] = ()
    spread: float = 0.22


@dataclass(frozen=True)
class Forage:
    """`flight` 0..1 on the grid; by day: `hours` of full flight, `nectar` kg a strong hive gets, its `sugar` share."""

    flight: Floats
    hours: Floats
    nectar: Floats
    sugar: Floats
    pollen: Floats


def flight_activity(grid: Grid, weather: Weather) -> Floats:
    """How freely bees fly, 0 to 1, on the grid; foragers react to weather within about a quarter of an hour."""
    felt = weather.temperature + 0.003 * weather.sun
    warm = ramp(felt, 10.5, 20.0) * (1 - ramp(weather.temperature, 40.0, 46.0))
    light = ramp(weather.sun, 15.0, 260.0)
    calm = 1 - ramp(weather.wind, 6.0, 11.0)
    per_hour = weather.rain * HOUR / grid.step
    dry = 1 / (1 + per_hour / 0.25)
    return lag(warm * light * calm * dry, 3.0, start=0.0)


def _edges(day: Floats, begin: float, length: float, rise: float, fall: float) -> Floats:
    """A trapezium with smooth edges that is half up at `begin` and half down at `begin + length`."""
    return ramp(day, begin - rise / 2, begin + rise / 2) * (
        1 - ramp(day, begin + length - fall / 2, begin + length + fall / 2)
    )


def make_forage(rng: Rng, grid: Grid, weather: Weather, land: Land) -> Forage:
    """Flight and nectar of a yard; nectar wants warmth and moist soil and varies from day to day."""
    flight = flight_activity(grid, weather)
    hours = grid.day_sums(flight) * grid.step / HOUR
    day = np.arange(grid.days, dtype=np.float64) + 0.5
    base: Floats = np.full(grid.days, land.background)
    for first, last in land.lean:
        base *= 1 - 0.95 * _edges(day, first, last - first, 3.0, 3.0)
    parts = [(base, 0.4)] + [(b.kg * _edges(day, b.day, b.days, b.rise, b.fall), b.sugar) for b in land.blooms]
    total: Floats = np.sum([p for p, _ in parts], axis=0)
    sugar: Floats = np.sum([p * s for p, s in parts], axis=0) / np.maximum(total, 1e-9)
    warmest = daily_warmest(grid, weather)
    secretion = 0.35 + 0.65 * ramp(warmest, 12.0, 22.0)
    luck = np.exp(rng.normal(0.0, land.spread, grid.days))
    nectar = total * secretion * luck * hours / FINE_FLYING_HOURS
    pollen = np.minimum(hours / FINE_FLYING_HOURS, 1.3)
    return Forage(flight, hours, nectar, np.clip(sugar, 0.18, 0.6), pollen)


@dataclass(frozen=True)
class Setting:
    """What all colonies of a yard share: grid, weather, forage, latitude, and by day the warmest °C.

    `raid`: course of robbing within each day, on the grid; `raid_hours`: its hours of full flight by day.
    """

    grid: Grid
    weather: Weather
    forage: Forage
    latitude: float
    warmest: Floats
    raid: Floats
    raid_hours: Floats


def setting_of(grid: Grid, weather: Weather, forage: Forage, latitude: float, raid_hour: float | None) -> Setting:
    """The setting of a yard in which robbers, if any, begin at solar `raid_hour`."""
    raid = np.zeros(len(grid.t)) if raid_hour is None else forage.flight * ramp(grid.hour, raid_hour, raid_hour + 1.0)
    return Setting(
        grid, weather, forage, latitude, daily_warmest(grid, weather), raid, grid.day_sums(raid) * grid.step / HOUR
    )


def daily_warmest(grid: Grid, weather: Weather) -> Floats:
    """Highest temperature of each day, shape (days,)."""
    warmest: Floats = weather.temperature[:-1].reshape(grid.days, grid.per_day).max(axis=1)
    return warmest


def fine_hours(grid: Grid, weather: Weather, first_day: float, last_day: float) -> Floats:
    """Suitability 0..1 of each grid time for a swarm: 10-15 h solar, warm, calm, dry, bright; 0 outside the days.

    Hours: Burgett & Morse 1974 (Ann Entomol Soc Am 67:719), from memory, peak late morning; seldom below 16-18 °C
    (Winston 1987; Simpson 1959, from memory).
    """
    day = (grid.t - grid.start) / DAY
    hour = np.exp(-0.5 * ((grid.hour - 11.9) / 1.2) ** 2) * ((grid.hour >= 10.0) & (grid.hour <= 15.0))
    wet = lag(weather.rain, 6.0) < 0.01
    warm = ramp(weather.temperature, 16.0, 21.0)
    fit = hour * warm * wet * (1 - ramp(weather.wind, 4.0, 8.0)) * (1 - ramp(weather.cloud, 0.5, 1.0))
    return np.where((day >= first_day) & (day < last_day), fit, 0.0)

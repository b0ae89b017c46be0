"""Seeded weather at a yard on the 5-minute grid: temperature, humidity, rain, wind, sun.

The physics is plain: the sun drives the day, cloud dims it, fronts shift it, and humidity follows from a slow dew
point. Clear-sky sun and cloud dimming: Kasten & Czeplak 1980 (Solar Energy 24:177), from memory. Vapour pressure:
Magnus form with the constants of Sonntag 1990, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .grid import DAY, HOUR, Floats, Grid, Rng, lag, ramp, wander
from .sun import elevation


@dataclass(frozen=True)
class HeatWave:
    """Extra warmth of `excess` °C for `days` from scenario day `day`, with clear skies."""

    day: float
    days: float
    excess: float


@dataclass(frozen=True)
class Climate:
    """What the weather of a place is like.

    `mean` and `season`: yearly mean and half the yearly swing of daily mean temperature (°C). `swing`: day-
    night range on clear summer days (°C). `cloud`: usual cloud cover 0..1. `fronts`: standard deviation of the
    passing anomalies (°C). `showers`: a third of the showers a day under full cloud. `shower_mm`: mean rain of
    one. `dryness`: dew point below the daily mean temperature (°C). `wind`: usual wind (m/s).
    """

    mean: float = 10.5
    season: float = 7.5
    swing: float = 10.0
    cloud: float = 0.5
    fronts: float = 2.5
    showers: float = 2.0
    shower_mm: float = 2.5
    dryness: float = 5.5
    wind: float = 2.5
    heat: tuple[HeatWave, ...] = ()
    clear_days: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Weather:
    """Series on the grid: temperature °C, humidity %RH, rain mm per step, wind m/s, sun W/m², height degrees."""

    temperature: Floats
    humidity: Floats
    rain: Floats
    wind: Floats
    sun: Floats
    cloud: Floats
    height: Floats


def vapour_pressure(temperature: Floats) -> Floats:
    """Saturation vapour pressure in hPa over water."""
    result: Floats = 6.112 * np.exp(17.62 * temperature / (243.12 + temperature))
    return result


def season_angle(grid: Grid, latitude: float) -> Floats:
    """Phase of the year in radians, 0 in mid-winter; half a year later in the southern hemisphere."""
    since = grid.t.astype("datetime64[s]")
    days = (since - since.astype("datetime64[Y]")) / np.timedelta64(1, "s") / DAY
    shift = 15.0 if latitude >= 0 else 15.0 + 182.5
    result: Floats = 2 * np.pi * (days - shift) / 365.25
    return result


def _cloud(rng: Rng, grid: Grid, climate: Climate) -> Floats:
    """Cloud cover 0..1: slow weather systems and passing clouds, less of it in heat waves and ordered clear days."""
    n, hour = len(grid.t), HOUR / grid.step
    odds = np.log(climate.cloud / (1 - climate.cloud))
    latent = odds + wander(rng, n, 30 * hour, 1.9) + wander(rng, n, 1.5 * hour, 0.7)
    day = (grid.t - grid.start) / DAY
    for wave in climate.heat:
        latent -= (
            3.5 * ramp(day, wave.day - 1, wave.day) * (1 - ramp(day, wave.day + wave.days - 1, wave.day + wave.days))
        )
    for first, last in climate.clear_days:
        latent -= 5.0 * ramp(day, first - 0.4, first) * (1 - ramp(day, last, last + 0.4))
    result: Floats = 1 / (1 + np.exp(-latent))
    return result


def _rain(rng: Rng, grid: Grid, climate: Climate, cloud: Floats) -> Floats:
    """Rain in mm per step: showers begin under thick cloud, last minutes to hours."""
    rain = np.zeros(len(grid.t))
    chance = climate.showers * 3.0 * cloud**4 * grid.step / DAY
    for begin in np.flatnonzero(rng.random(len(rain)) < chance):
        steps = 2 + int(rng.exponential(45 * 60) / grid.step)
        shape = rng.gamma(1.5, 1.0, steps)
        rain[begin : begin + steps] += (rng.exponential(climate.shower_mm) * shape / shape.sum())[: len(rain) - begin]
    return np.where(rain < 0.02, 0.0, rain)


def _temperature(rng: Rng, grid: Grid, climate: Climate, season: Floats, sun: Floats) -> Floats:
    """Outside temperature in dry weather: season (its angle), fronts, heat waves, and the sun's lagged warmth."""
    hour = HOUR / grid.step
    day = (grid.t - grid.start) / DAY
    result = climate.mean - climate.season * np.cos(season)
    result = result + wander(rng, len(grid.t), 45 * hour, climate.fronts) + wander(rng, len(grid.t), 1.5 * hour, 0.25)
    for wave in climate.heat:
        result += (
            wave.excess
            * ramp(day, wave.day - 1.5, wave.day)
            * (1 - ramp(day, wave.day + wave.days, wave.day + wave.days + 1.5))
        )
    warmth = lag(sun, 2.2 * hour, start=0.0)
    result += climate.swing * (warmth - 0.85 * lag(sun, 36 * hour, start=float(sun[: grid.per_day].mean()))) / 620.0
    return result


def make_weather(rng: Rng, grid: Grid, latitude: float, longitude: float, climate: Climate) -> Weather:
    """Weather of one yard over the whole grid."""
    hour = HOUR / grid.step
    height = elevation(grid.t, latitude, longitude)
    cloud = _cloud(rng, grid, climate)
    rain = _rain(rng, grid, climate, cloud)
    cloud = np.maximum(cloud, np.minimum(1.0, lag(np.minimum(rain * 8, 1.0), 0.5 * hour)))
    clear = np.maximum(910.0 * np.sin(np.radians(height)) - 30.0, 0.0)
    sun = clear * (1 - 0.75 * cloud**3.4)
    temperature = _temperature(rng, grid, climate, season_angle(grid, latitude), sun)
    temperature = temperature - 2.5 * lag(np.minimum(rain * hour, 2.0) / 2.0, 1.0 * hour)
    dew_point = lag(temperature, 30 * hour, start=float(temperature[: grid.per_day].mean())) - climate.dryness
    dew_point = dew_point + wander(rng, len(grid.t), 18 * hour, 1.3) + 2.0 * lag(np.minimum(rain * hour, 1.0), 3 * hour)
    humidity = np.clip(100 * vapour_pressure(dew_point) / vapour_pressure(temperature), 6.0, 99.5)
    gusts = wander(rng, len(grid.t), 0.5 * hour, 0.35) + wander(rng, len(grid.t), 20 * hour, 0.45)
    wind = climate.wind * np.exp(gusts - 0.15) * (0.6 + 0.6 * np.minimum(lag(sun, 1.5 * hour) / 500, 1.3))
    return Weather(temperature, humidity, rain, wind, sun, cloud, height)

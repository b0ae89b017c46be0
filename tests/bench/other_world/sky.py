"""Weather of a yard: spells of days, storms drawn one by one, gusts; nothing is known of the season beforehand."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .clock import PER_DAY, PER_HOUR, STEP, Array, Clock, smoothed, wander


@dataclass(frozen=True)
class Climate:
    """A place's weather: °C, hours by the sun, m/s, rains a day."""

    mean: float = 16.0
    """Mean temperature of the season's middle."""
    lean: tuple[float, float] = (-3.0, -3.0)
    """How much cooler its first and last days are."""
    daily: float = 11.0
    """Swing of a clear day."""
    unrest: float = 3.0
    """Spread of daily means around the season's curve."""
    cloud: float = 0.5
    showers: float = 0.25
    shower_hour: float = 16.0
    shower_mm: float = 4.0
    wet: tuple[float, float] = (0.0, 1.0)
    """Part of the season in which showers fall."""
    fronts: float = 0.12
    """Long rains a day."""
    wind: float = 2.0


@dataclass(frozen=True)
class Storm:
    """One rain: slow steps, mm, whether it falls as snow, and its gusts in m/s."""

    start: int
    stop: int
    mm: float
    gust: float
    snow: bool = False


@dataclass
class Sky:
    """Weather on the slow grid: °C, shares of full, mm a step, m/s."""

    sun: Array
    temperature: Array
    cloud: Array
    rain: Array
    wind: Array
    light: Array
    storms: list[Storm] = field(default_factory=list)

    @property
    def humidity(self) -> Array:
        """Return the relative humidity outside, %: from the night's low, higher after rain."""
        low = np.repeat(self.temperature.reshape(-1, PER_DAY).min(axis=1), PER_DAY)
        wet = smoothed(np.minimum(self.rain * 4, 3.0), 3 * PER_HOUR)
        humid: Array = np.clip(92 - 3.6 * (self.temperature - low) + 25 * wet, 8, 99)
        return humid


def watch(clock: Clock, climate: Climate, rng: np.random.Generator) -> Sky:
    """Draw a season of weather."""
    spell = wander(rng, clock.days, 2.5)  # above zero: unsettled days
    storms = _storms(clock, climate, spell, rng)
    cloud = _cloud(clock, climate, spell, rng)
    sun = clock.sun()
    rain, gusts, cooling = np.zeros(clock.steps), np.zeros(clock.steps), np.zeros(clock.steps)
    for storm in storms:
        span = slice(storm.start, storm.stop)
        share = rng.gamma(0.8, 1, max(storm.stop - storm.start, 1))
        rain[span] += (storm.mm * share / share.sum())[: rain[span].size]
        gusts[span] += storm.gust
        cooling[span] += min(7.0, 1.5 + storm.mm * 0.4)
    wind = climate.wind * np.exp(wander(rng, clock.steps, 8 * PER_HOUR, 0.45))
    wind = wind * (0.6 + 0.9 * np.clip(smoothed(sun, PER_HOUR), 0, 1)) + smoothed(gusts, 3)
    cloud = np.maximum(cloud, np.where(rain > 0, 0.95, 0.0))
    temperature = _temperature(clock, climate, spell, rng, cloud) - smoothed(cooling, 2 * PER_HOUR)
    light = np.clip(sun, 0, None) * (1 - 0.72 * cloud)
    _let_it_snow(storms, temperature)
    return Sky(sun, temperature, cloud, rain, wind, light, storms)


def _temperature(clock: Clock, climate: Climate, spell: Array, rng: np.random.Generator, cloud: Array) -> Array:
    place = np.linspace(-1, 1, clock.days)
    bow = np.where(place < 0, climate.lean[0], climate.lean[1]) * place**2
    daily = (
        climate.mean + bow + wander(rng, clock.days, 3.0, climate.unrest) - 0.8 * climate.unrest * np.clip(spell, 0, 2)
    )
    level = np.interp(np.arange(clock.steps), (np.arange(clock.days) + 0.5) * PER_DAY, daily)
    swing = climate.daily * (1.15 - 0.75 * np.repeat(cloud.reshape(-1, PER_DAY).mean(axis=1), PER_DAY))
    # A day rises from dawn to mid-afternoon in nine hours and falls in fifteen.
    since = (clock.hours - 5.5) % 24
    shape = np.where(since < 9.5, -np.cos(np.pi * since / 9.5), np.cos(np.pi * (since - 9.5) / 14.5))
    return level + smoothed(swing, 2 * PER_HOUR) * shape / 2 + wander(rng, clock.steps, 4.0, 0.35)


def _cloud(clock: Clock, climate: Climate, spell: Array, rng: np.random.Generator) -> Array:
    odds = np.log(climate.cloud / (1 - climate.cloud)) + 1.6 * spell
    hourly = np.repeat(odds, PER_DAY) + wander(rng, clock.steps, 2.5 * PER_HOUR, 1.3)
    return 1 / (1 + np.exp(-smoothed(hourly, 4)))


def _storms(clock: Clock, climate: Climate, spell: Array, rng: np.random.Generator) -> list[Storm]:
    """Draw showers and fronts: more of both in unsettled spells."""
    found = []
    for day in range(clock.days):
        bias = np.exp(0.9 * spell[day] - 0.4)
        wet = climate.wet[0] <= day / clock.days <= climate.wet[1]
        for _ in range(rng.poisson(climate.showers * bias) if wet else 0):
            start = day * PER_DAY + int(rng.normal(climate.shower_hour, 2.2) * PER_HOUR)
            length = int(rng.gamma(2.0, 20 / STEP)) + 2
            found.append(Storm(start, start + length, climate.shower_mm * rng.gamma(0.9) + 0.3, 4 + rng.exponential(5)))
        if rng.random() < min(climate.fronts * bias, 0.8):
            start = day * PER_DAY + int(rng.uniform(0, 22) * PER_HOUR)
            length = int(rng.gamma(2.5, 2.0) * PER_HOUR) + 6
            found.append(Storm(start, start + length, rng.gamma(1.2, 5.0) + 0.5, rng.exponential(3)))
    return sorted((s for s in found if s.start >= 0 and s.stop < clock.steps), key=lambda s: s.start)


def _let_it_snow(storms: list[Storm], temperature: Array) -> None:
    for at, storm in enumerate(storms):
        if temperature[storm.start : storm.stop].mean() < 1.5:
            storms[at] = Storm(storm.start, storm.stop, storm.mm, storm.gust, snow=True)

"""Time grid, sun and weather of a yard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from .places import Climate, Family

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


def lag(x: Array, steps: float) -> Array:
    """Return `x` (time last) followed by a first-order lag of `steps` grid steps; starts settled at the first value."""
    if steps < 0.3:
        return x.copy()
    n = x.shape[-1]
    length = min(n, int(steps * 9) + 2)
    kernel = np.exp(-np.arange(length) / steps)
    kernel /= kernel.sum()
    size = 1 << (n + length).bit_length()
    first = x[..., :1]
    out = np.fft.irfft(np.fft.rfft(x - first, size) * np.fft.rfft(kernel, size), size)[..., :n]
    return np.asarray(out + first)


@dataclass(frozen=True)
class Grid:
    """Equal steps of `dt` minutes from `t0` (ms UTC), `n` in all; `dawn` are the steps at which hive days begin."""

    t0: int
    dt: int
    n: int
    solar: Array
    """Hour by the sun at the yard, 0 to 24, of shape (steps,)."""
    doy: Array
    """Days since the year began, with fractions, of shape (steps,)."""
    elevation: Array
    """Of the sun, degrees."""
    dawn: Ints
    day: Ints
    """Hive day of each step; the part before the first dawn counts as day 0."""

    @property
    def days(self) -> int:
        """Number of hive days, the last perhaps not whole."""
        return len(self.dawn)

    def ms(self, index: float) -> int:
        """Return the time of a step in ms UTC."""
        return self.t0 + round(index * self.dt * 60_000)

    def steps(self, minutes: float) -> int:
        """Return how many steps a span of minutes is, at least one."""
        return max(1, round(minutes / self.dt))

    def per_day(self, x: Array) -> Array:
        """Sum `x` (time last) over each hive day."""
        edges = self.dawn.copy()
        edges[0] = 0
        return np.add.reduceat(x, edges, axis=-1)


def grid(family: Family, days: int) -> Grid:
    """Lay the grid; the sun by the low-precision formulae of the Astronomical Almanac (from memory, good to 0.1°)."""
    dt = family.interval if family.interval in {1, 5} else 5
    t0 = round(datetime(*family.start, tzinfo=UTC).timestamp() * 1000)
    n = days * 1440 // dt
    minutes = np.arange(n) * dt
    year_start = datetime(family.start[0], 1, 1, tzinfo=UTC).timestamp() * 1000
    doy = (t0 - year_start) / 86_400_000 + minutes / 1440
    g = np.radians((357.5 + 0.9856 * doy) % 360)
    far = np.radians(280.5 + 0.9856 * doy + 1.915 * np.sin(g) + 0.02 * np.sin(2 * g))
    declination = np.arcsin(np.sin(np.radians(23.44)) * np.sin(far))
    equation = -7.66 * np.sin(g) + 9.86 * np.sin(2 * g + np.radians(205.9))
    solar = (minutes / 60 + family.longitude / 15 + equation / 60) % 24
    lat = np.radians(family.latitude)
    hour = np.radians(15 * (solar - 12))
    height = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour)
    elevation = np.degrees(np.arcsin(height))
    dawn = _dawns(elevation, solar)
    day = np.maximum(np.searchsorted(dawn, np.arange(n), side="right") - 1, 0)
    return Grid(t0, dt, n, solar, doy, elevation, dawn, day)


def _dawns(elevation: Array, solar: Array) -> Ints:
    """Return the first step of each solar day with the sun above -6 degrees, or where it stands lowest if always so."""
    midnights = np.flatnonzero(np.diff(solar) < -12) + 1
    found = []
    for start, stop in zip(midnights, [*midnights[1:], len(solar)], strict=True):
        part = elevation[start : start + (stop - start) // 2 + 1]
        below = np.flatnonzero(part < -6)
        at = start + (int(below[-1]) + 1 if len(below) else int(part.argmin()))
        if at < len(solar) - 1:
            found.append(at)
    return np.array(found, dtype=np.int64)


@dataclass(frozen=True)
class Weather:
    """Weather on the grid, each of shape (steps,): °C, share of clouds, W/m², mm a step, m/s, %RH; `fly` is 0 to 1."""

    air: Array
    cloud: Array
    sun: Array
    rain: Array
    wind: Array
    humidity: Array
    fly: Array


def weather(climate: Climate, family: Family, g: Grid, rng: np.random.Generator) -> Weather:
    """Draw a season's weather."""
    days = g.n * g.dt // 1440 + 2
    south = family.latitude < 0
    phase = 2 * np.pi * (np.arange(days) + g.doy[0] - (20 if south else 203)) / 365.25
    summer = 0.5 + 0.5 * np.cos(phase)
    wet = _wet_days(climate, summer, rng)
    slow = _wander(days, 0.75, climate.moody, rng)
    mean = climate.mean + climate.swing * np.cos(phase) + slow - 2.0 * wet * (summer - 0.2)
    cloud_day = np.clip(np.where(wet, rng.uniform(0.65, 1.0, days), rng.beta(1.0, 2.2, days)), 0, 1)
    at = np.arange(g.n) * g.dt / 1440
    cloud = np.clip(np.interp(at - 0.5, np.arange(days), cloud_day) + _fine(g, 90, 0.18, rng), 0, 1)
    sun = 1030 * np.clip(np.sin(np.radians(g.elevation)), 0, 1) ** 1.15 * (1 - 0.78 * cloud**2.5)
    rain, storm = _rain(climate, g, wet, summer, rng)
    shape = lag(sun, 150 / g.dt) / 420 - 0.55
    breadth = climate.day_range / 2 * (1.15 - 0.55 * cloud)
    air = np.interp(at - 0.5, np.arange(days), mean) + breadth * np.clip(shape, -1, 1.3)
    air += _fine(g, 240, 0.7, rng) + _fine(g, 15, 0.15, rng) - 5.0 * lag(storm, 60 / g.dt)
    wind = np.abs(climate.wind * (0.45 + lag(sun, 60 / g.dt) / 700) + _fine(g, 300, 0.9, rng) * climate.wind / 2.5)
    wind = wind * np.interp(at, np.arange(days), rng.lognormal(0, 0.35, days)) + 9 * storm
    humidity = _humidity(climate, g, air, rain, rng)
    return Weather(air, cloud, sun, rain, wind, humidity, _flight(air, sun, g.elevation, wind, rain, g))


def _wet_days(climate: Climate, summer: Array, rng: np.random.Generator) -> Array:
    """Draw wet and dry spells: a two-state chain whose wet share follows the season."""
    wet = np.zeros(len(summer))
    state = 0.0
    for d in range(len(summer)):
        share = climate.wet[0] + (climate.wet[1] - climate.wet[0]) * summer[d]
        chance = share + 0.35 * (1 - share) if state else share * 0.65
        state = float(rng.random() < chance)
        wet[d] = state
    return wet


def _wander(n: int, keep: float, deviation: float, rng: np.random.Generator) -> Array:
    """Return a series that keeps a share of itself from one to the next, of that standard deviation."""
    x = np.zeros(n)
    for i in range(1, n):
        x[i] = keep * x[i - 1] + rng.normal(0, deviation * np.sqrt(1 - keep**2))
    return x


def _fine(g: Grid, minutes: float, deviation: float, rng: np.random.Generator) -> Array:
    """Return noise that remembers for some minutes."""
    x = lag(rng.normal(0, 1, g.n), minutes / g.dt)
    return x / max(float(x.std()), 1e-9) * deviation


def _rain(climate: Climate, g: Grid, wet: Array, summer: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return rain (mm a step) and storms (0 to 1): frontal showers on wet days, thunder on some summer afternoons."""
    rain, storm = np.zeros(g.n), np.zeros(g.n)
    for d in range(len(wet)):
        if wet[d]:
            for _ in range(rng.integers(1, 5)):
                _shower(
                    rain, g, d * 24 + rng.uniform(0, 24), rng.exponential(100) + 10, rng.exponential(climate.mm / 2.5)
                )
        elif rng.random() < climate.thunder * summer[d]:
            hour = d * 24 + (rng.uniform(14, 19) - g.solar[0]) % 24
            length = rng.uniform(15, 60)
            _shower(rain, g, hour, length, rng.uniform(3, 22))
            i = int(hour * 60 / g.dt)
            storm[max(i - g.steps(10), 0) : i + g.steps(length)] = 1
    return rain, storm


def _shower(rain: Array, g: Grid, hour: float, minutes: float, mm: float) -> None:
    """Add a shower to `rain`: it swells and ebbs, `mm` in all."""
    i = int(hour * 60 / g.dt)
    k = g.steps(minutes)
    part = rain[i : i + k]
    part += mm / k * np.sin(np.pi * (np.arange(len(part)) + 0.5) / k) * 1.57


def _humidity(climate: Climate, g: Grid, air: Array, rain: Array, rng: np.random.Generator) -> Array:
    """Return %RH by the Magnus formula from a slow dew point (WMO-No. 8 constants, from memory)."""
    coolest = np.minimum.reduceat(air, np.arange(0, g.n, 1440 // g.dt))
    at = np.arange(g.n) * g.dt / 1440
    point = np.interp(at - 0.3, np.arange(len(coolest)), coolest) - climate.dry_air + _fine(g, 600, 1.2, rng)
    point += lag(np.minimum(rain * 60 / g.dt, 2.0), 180 / g.dt) * 3
    point = np.minimum(point, air - 0.1)
    ratio = np.exp(17.62 * point / (243.1 + point) - 17.62 * air / (243.1 + air))
    return np.asarray(np.clip(100 * ratio, 5, 99))


def _flight(air: Array, sun: Array, elevation: Array, wind: Array, rain: Array, g: Grid) -> Array:
    """Return how freely bees fly, 0 to 1.

    From about 12 °C (Burrill & Dietz 1981, cited in the COLOSS BEEBOOK), less from 6.7 m/s of wind and hardly at 10
    (Lundie 1925, numbers from memory), not in rain (the same), up to 40 to 46 °C (Cooper, Schaffer & Buchmann 1985).
    """
    warm = 1 / (1 + np.exp(-(air + sun / 300 - 13.5) / 1.1))
    light = np.clip((elevation + 3) / 8, 0, 1) * np.clip(0.35 + sun / 250, 0, 1)
    calm = np.clip(1 - (wind - 6.0) / 4.5, 0, 1)
    hot = np.clip((46 - air) / 6, 0.1, 1)
    shower = lag((rain * 60 / g.dt > 0.15).astype(float), 12 / g.dt)
    return np.asarray(warm * light * calm * hot * np.clip(1 - 1.6 * shower, 0, 1))

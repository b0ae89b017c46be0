"""Time of a season: a slow grid of 5 minutes for weather and bees, a fast one of 1 minute for what a scale sees."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEP = 5
"""Minutes of a slow step."""
PER_DAY = 24 * 60 // STEP
"""Slow steps in a day."""
PER_HOUR = 60 // STEP
"""Slow steps in an hour."""
DAWN = 3 * PER_HOUR
"""Where the days of the truth are cut: the slow step at 3 o'clock by the sun, when all bees are home."""


@dataclass(frozen=True)
class Clock:
    """A season from the solar midnight that opens `first`. Minutes are counted from there."""

    first: date
    days: int
    latitude: float
    longitude: float

    @property
    def origin(self) -> datetime:
        """Return the solar midnight at which the season begins, in whole minutes UTC."""
        midnight = datetime(self.first.year, self.first.month, self.first.day, tzinfo=UTC)
        return midnight - timedelta(minutes=round(4 * self.longitude))

    @property
    def steps(self) -> int:
        """Return the number of slow steps."""
        return self.days * PER_DAY

    @property
    def minutes(self) -> int:
        """Return the number of minutes."""
        return self.days * 24 * 60

    @property
    def hours(self) -> Array:
        """Return the solar hour of each slow step, shape (steps,)."""
        return np.tile(np.arange(PER_DAY) / PER_HOUR, self.days)

    def sun(self) -> Array:
        """Return the sine of the sun's height at each slow step, shape (steps,).

        Declination by the cosine rule of thumb of solar engineering (within half a degree), from memory.
        """
        day = self.first.timetuple().tm_yday + np.arange(self.steps) / PER_DAY
        tilt = np.radians(-23.44 * np.cos(2 * np.pi * (day + 10) / 365))
        here = np.radians(self.latitude)
        turn = np.radians(15 * (self.hours - 12))
        height: Array = np.sin(here) * np.sin(tilt) + np.cos(here) * np.cos(tilt) * np.cos(turn)
        return height

    def fast(self, slow: Array) -> Array:
        """Spread a slow series over the minutes, straight between its points."""
        return np.interp(np.arange(self.minutes) / STEP, np.arange(self.steps), slow)

    def text(self, minute: float) -> str:
        """Return a moment as RFC 3339 in UTC, to the second."""
        return (self.origin + timedelta(minutes=float(minute))).strftime("%Y-%m-%dT%H:%M:%SZ")


def by_day(slow: Array) -> Array:
    """Return a slow series as one row a day, shape (days, PER_DAY)."""
    return slow.reshape(-1, PER_DAY)


def smoothed(values: Array, steps: float) -> Array:
    """Return values seen through a lag of so many steps (first order, causal, starting in balance)."""
    from scipy.signal import lfilter  # noqa: PLC0415  only those who filter wait for it

    keep = float(np.exp(-1 / steps))
    out: Array = lfilter([1 - keep], [1, -keep], values, zi=[values[0] * keep])[0]
    return out


def wander(rng: np.random.Generator, count: int, steps: float, spread: float = 1.0) -> Array:
    """Return an autocorrelated random series of that memory in steps and standard deviation, shape (count,)."""
    from scipy.signal import lfilter  # noqa: PLC0415

    keep = float(np.exp(-1 / steps))
    kicks = rng.normal(0, spread * np.sqrt(1 - keep**2), count)
    out: Array = lfilter([1.0], [1, -keep], kicks, zi=[keep * rng.normal(0, spread)])[0]
    return out

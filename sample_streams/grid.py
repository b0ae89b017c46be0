"""The time grid on which slow things are simulated, and small helpers for series on it.

Slow things (weather, stores, nest) live on a 5-minute grid. Fast things (a swarm leaving, a lid lifted) are
functions of time (``effects``) and are evaluated at the sampling times themselves.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Rng = np.random.Generator

HOUR = 3600
DAY = 86400


def rng_for(seed: int, *names: str) -> Rng:
    """A generator of its own for each purpose, so that a change in one part does not shift the others."""
    return np.random.default_rng([seed & 0xFFFFFFFF, *(zlib.crc32(name.encode()) for name in names)])


@dataclass(frozen=True)
class Grid:
    """`days` solar days from `start` (seconds UTC, mean solar midnight at the yard) in steps of `step` seconds."""

    start: int
    days: int
    step: int = 300

    @classmethod
    def at(cls, first: date, longitude: float, days: int) -> Grid:
        """The grid whose days begin at mean solar midnight (4 minutes of time per degree of longitude)."""
        midnight = datetime(first.year, first.month, first.day, tzinfo=UTC).timestamp()
        return cls(int(midnight) - round(longitude * 240 / 300) * 300, days)

    @property
    def per_day(self) -> int:
        """Steps in a day."""
        return DAY // self.step

    @cached_property
    def t(self) -> Ints:
        """Times of the grid, seconds UTC, shape (days * per_day + 1,)."""
        return self.start + self.step * np.arange(self.days * self.per_day + 1, dtype=np.int64)

    @cached_property
    def day(self) -> Ints:
        """Index of the solar day of each time, shape of `t`; the last time belongs to the last day."""
        return np.minimum((self.t - self.start) // DAY, self.days - 1)

    @cached_property
    def hour(self) -> Floats:
        """Mean solar hour of day of each time, 0 to 24."""
        return ((self.t - self.start) % DAY) / HOUR

    @property
    def end(self) -> int:
        """Last time of the grid, seconds UTC."""
        return self.start + self.days * DAY

    def day_sums(self, values: Floats) -> Floats:
        """Sums over each solar day, shape (days,)."""
        sums: Floats = np.bincount(self.day[:-1], weights=values[:-1], minlength=self.days).astype(np.float64)
        return sums

    def day_means(self, values: Floats) -> Floats:
        """Means over each solar day, shape (days,)."""
        return self.day_sums(values) / self.per_day

    def spread(self, daily: Floats) -> Floats:
        """Values given at noon of each day (shape (days,)), joined by straight lines onto the grid."""
        noons = self.start + DAY // 2 + DAY * np.arange(self.days)
        return np.interp(self.t, noons, daily)


def lag(values: Floats, tau_steps: float, start: float | None = None) -> Floats:
    """First-order lag (exponential approach) of a series with time constant `tau_steps`."""
    keep = float(np.exp(-1.0 / max(tau_steps, 1e-6)))
    first = float(values[0]) if start is None else start
    step: Callable[[float, float], float] = lambda y, x: keep * y + (1 - keep) * x  # noqa: E731
    return np.fromiter(accumulate(values[1:].tolist(), step, initial=first), np.float64, len(values))


def wander(rng: Rng, n: int, tau_steps: float, sd: float) -> Floats:
    """Red noise (first-order autoregressive) of standard deviation `sd` and memory `tau_steps`."""
    keep = float(np.exp(-1.0 / max(tau_steps, 1e-6)))
    white = rng.normal(0.0, sd * np.sqrt((1 + keep) / (1 - keep)), n)
    return lag(white, tau_steps, start=float(rng.normal(0.0, sd)))


def ramp(values: Floats | float, low: float, high: float) -> Floats:
    """0 below `low`, 1 above `high`, smooth (3x² - 2x³) between."""
    x = np.clip((np.asarray(values, dtype=np.float64) - low) / (high - low), 0.0, 1.0)
    return x * x * (3.0 - 2.0 * x)

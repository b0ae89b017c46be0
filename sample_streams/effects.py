"""Fast changes as functions of time, added at the sampling times themselves so that they stay as sharp as they are.

All take `t`, sorted seconds UTC (shape (n,)), and add to `out` (same shape, kg or °C or %RH) in place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from .grid import Floats, Ints


class Effect(Protocol):
    """Something that adds to a series over time."""

    def add(self, t: Ints, out: Floats) -> None:
        """Add the effect at times `t` to `out` in place."""


@dataclass(frozen=True)
class Step:
    """A lasting change of `size` at time `at`."""

    at: float
    size: float

    def add(self, t: Ints, out: Floats) -> None:
        """Add `size` from `at` on."""
        out[np.searchsorted(t, self.at) :] += self.size


@dataclass(frozen=True)
class Ramp:
    """A lasting change of `size` that comes about smoothly between `start` and `end`."""

    start: float
    end: float
    size: float

    def add(self, t: Ints, out: Floats) -> None:
        """Add the S-shaped change: slow, fast, slow."""
        first = int(np.searchsorted(t, self.start))
        x = np.clip((t[first:] - self.start) / (self.end - self.start), 0.0, 1.0)
        out[first:] += self.size * x * x * (3 - 2 * x)


@dataclass(frozen=True)
class Levels:
    """Levels held between `edges` (length k + 1, seconds UTC): `sizes` (length k); nothing outside."""

    edges: tuple[float, ...]
    sizes: tuple[float, ...]

    def add(self, t: Ints, out: Floats) -> None:
        """Add the level that holds at each time."""
        first, last = np.searchsorted(t, self.edges[0]), np.searchsorted(t, self.edges[-1])
        which = np.searchsorted(np.array(self.edges), t[first:last], side="right") - 1
        out[first:last] += np.array(self.sizes)[which]


@dataclass(frozen=True)
class Settle:
    """A lasting change of `size` approached with time constant `tau` (s) from `at`: creep, drying, evaporation."""

    at: float
    size: float
    tau: float

    def add(self, t: Ints, out: Floats) -> None:
        """Add size * (1 - exp(-(t - at) / tau)) after `at`."""
        first = int(np.searchsorted(t, self.at))
        out[first:] += self.size * (1 - np.exp(-(t[first:] - self.at) / self.tau))


@dataclass(frozen=True)
class Bump:
    """A passing change: grows to `size` over `rise` seconds from `at`, then dies away with time constant `fall`."""

    at: float
    rise: float
    fall: float
    size: float

    def add(self, t: Ints, out: Floats) -> None:
        """Add the passing change; it is cut off after 12 time constants."""
        first = int(np.searchsorted(t, self.at))
        last = int(np.searchsorted(t, self.at + self.rise + 12 * self.fall))
        age = t[first:last] - self.at
        out[first:last] += self.size * np.where(
            age < self.rise, age / self.rise, np.exp(-np.maximum(age - self.rise, 0) / self.fall)
        )


def total(effects: list[Effect], t: Ints) -> Floats:
    """Sum of the effects at times `t`."""
    out = np.zeros(len(t))
    for effect in effects:
        effect.add(t, out)
    return out

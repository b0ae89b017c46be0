"""From minutes to rows: jitter, skipped rows, bursts, gaps, doubles, and gateways that hand things in late."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from .clock import Array
    from .plan import LoggerKind

Whole = NDArray[np.int64]


@dataclass
class Rows:
    """Rows in order of arrival: seconds since the season's start, number of the stream, value as it is written."""

    second: Whole
    stream: Whole
    value: Array


def sampled(kind: LoggerKind, minutes: int, rng: np.random.Generator) -> Whole:
    """Return the seconds at which one node speaks, ascending."""
    edges = [(0.0, kind.interval), *kind.changes, (minutes / 1440, 0)]
    parts = []
    for (day, interval), (until, _) in pairwise(edges):
        parts.append(np.arange(day * 86400 + rng.uniform(0, interval * 60), until * 86400, interval * 60))
    at = np.concatenate(parts)
    slow = (rng.random(at.size) < 0.01) * rng.exponential(kind.interval * 12, at.size)
    at = at + rng.normal(0, kind.jitter, at.size) + slow
    at = at[rng.random(at.size) >= kind.skips]
    if kind.bursts:
        chosen = at[rng.random(at.size) < kind.bursts]
        at = np.concatenate([at, *(chosen + step for step in rng.uniform(8, 150, 3))])
    for day, days in kind.gaps:
        at = at[(at < day * 86400) | (at >= (day + days) * 86400)]
    at = np.unique(at.astype(np.int64))
    return at[(at >= 0) & (at < minutes * 60 - 1)]


def read_out(second: Whole, shown: Array, rounding: float) -> Array:
    """Return what a sensor's minutes show at those seconds, rounded as it rounds; NaN: nothing."""
    return np.round(shown[second // 60] / rounding) * rounding


def arrive(rows: list[Rows], kind: LoggerKind, seconds: int, rng: np.random.Generator) -> Rows:
    """Put the rows of all streams in the order in which they arrive, some of them twice."""
    second = np.concatenate([r.second for r in rows])
    stream = np.concatenate([r.stream for r in rows])
    value = np.concatenate([r.value for r in rows])
    there = np.isfinite(value)
    second, stream, value = second[there], stream[there], value[there]
    delay = rng.uniform(0, 2, second.size)
    for _ in range(kind.late_blocks):
        start, length = rng.integers(seconds), rng.uniform(0.5, 18) * 3600
        held = (second >= start) & (second < start + length)
        if rng.random() < 0.6:
            held &= stream == rng.choice(stream)  # only one sensor's queue
        delay[held] = start + length - second[held] + rng.uniform(0, 600, int(held.sum()))
    again = np.flatnonzero(rng.random(second.size) < kind.doubles)
    order = np.concatenate([second + delay, second[again] + delay[again] + rng.exponential(1800, again.size)])
    at = np.argsort(order, kind="stable")
    pick = np.concatenate([np.arange(second.size), again])[at]
    return Rows(second[pick], stream[pick], value[pick])

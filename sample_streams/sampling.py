"""When readings are taken and in which order they arrive.

Rows arrive in order of arrival, not of time: a row delivered late stands up to 23 hours further down (the
readings file allows a day). Duplicates are exact copies that arrive later.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .grid import DAY, HOUR, Grid, Ints, Rng

if TYPE_CHECKING:
    from .plan import Sampling

MOST_LATE_HOURS = 22.0


def sample_times(rng: Rng, grid: Grid, plan: Sampling) -> Ints:
    """Sorted times of sampling of one node (seconds UTC): the interval, its changes, the node's phase and jitter."""
    edges = [0.0, *(day for day, _ in plan.changes), float(grid.days)]
    minutes = [plan.minutes, *(m for _, m in plan.changes)]
    parts = []
    phase = int(rng.integers(0, 60))
    for first, last, every in zip(edges, edges[1:], minutes, strict=False):
        begin, end = grid.start + round(first * DAY), grid.start + round(min(last, grid.days) * DAY)
        parts.append(np.arange(begin + phase, end, round(every * 60), dtype=np.int64))
    times = np.concatenate(parts)
    if plan.jitter:
        times = times + np.rint(rng.uniform(0, plan.jitter, len(times))).astype(np.int64)
    return np.unique(times)


def dropouts(rng: Rng, grid: Grid, plan: Sampling, t: Ints) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """(mask of rows that exist, list of gaps as (start, end) seconds UTC)."""
    keep = np.ones(len(t), dtype=bool)
    gaps = []
    for _ in range(int(rng.poisson(plan.gaps * grid.days)) if plan.gaps else 0):
        at = rng.uniform(grid.start, grid.end)
        until = at + rng.exponential(plan.gap_hours) * HOUR
        keep &= ~((t >= at) & (t < until))
        gaps.append((float(at), float(until)))
    return keep, sorted(gaps)


def arrivals(rng: Rng, plan: Sampling, t: Ints) -> tuple[Ints, Ints]:
    """(row index, arrival time) of each delivered row: every row once, some late, some twice."""
    rows = np.arange(len(t), dtype=np.int64)
    arrival = t.copy()
    late = rng.random(len(t)) < plan.late
    hours = rng.uniform(0.1, min(plan.late_hours, MOST_LATE_HOURS), len(t))
    arrival = arrival + np.where(late, hours * HOUR, 0).astype(np.int64)
    again = np.flatnonzero(rng.random(len(t)) < plan.duplicates)
    delay = (rng.choice([1, 30, 3600, 5 * 3600], len(again)) if len(again) else np.zeros(0)).astype(np.int64)
    return np.concatenate([rows, again]), np.concatenate([arrival, t[again] + delay])

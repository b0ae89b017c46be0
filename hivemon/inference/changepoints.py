"""Did a daily series turn, and when? Cumulative sums of departures and of evidence (Page 1954, Biometrika 41)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

DAILY_NOISE_KG = 0.08
"""Least standard deviation given to a daily net gain: rain, dew and a scale's temperature leave that much. Our rule."""

SOUGHT = 9
"""How many flying days back a turn is sought: it is told within days of having happened. Our rule."""


def turning_day(values: Sequence[float], limit: float, *, rising: bool) -> int:
    """Return the index of the first day of the newest level, for a series that has just passed `limit`.

    By the limit itself, and not half-way between the levels: a slow start is dated by its first real day and not by its
    steepest, and a flow that fades is one until it is over.
    """
    recent = values[-SOUGHT:]
    return len(values) - len(recent) + crossing_day(recent, limit, rising=rising)


def crossing_day(values: Sequence[float], reference: float, *, rising: bool) -> int:
    """Return the index of the first day of the level that stands above (or below) `reference` at the end of a series.

    It is where the cumulative sum of departures from the reference turns (Page 1954).
    """
    departures = (1.0 if rising else -1.0) * (np.asarray(values, float) - reference)
    return int(np.argmax(np.cumsum(departures[::-1])[::-1]))


class Run(NamedTuple):
    """A run of days that ends with the newest: the evidence that its level lies beyond a limit, and its first index."""

    evidence: float
    first: int


def strongest_run(
    beyond: Sequence[float], own: Sequence[float], water: Sequence[float], *, apart: float, most: float
) -> Run:
    """Return the run of days, ending with the newest, that says most of a level beyond a limit.

    Evidence is the log-likelihood ratio of a level `apart` / 2 beyond the limit against one as far on this side of it,
    for the mean of the run: apart n S / V, where S is the sum of n days' departures and V its variance. Taking the
    strongest of all runs is the cumulative-sum test (Page 1954, Biometrika 41:100-115).

    Args:
        beyond: By how much each day lies beyond the limit, kg; shape (n,). One day counts for no more than `most`.
        own: Standard deviation that each day has for itself, kg; shape (n,).
        water: Standard deviation that water leaves in each day, kg; shape (n,). In a sum only what lay on the hives at
            its beginning and lies there at its end counts: what came and went between cancels.
        apart: How far the two levels lie from each other, kg.
        most: Most that one day counts for, kg.
    """
    departure = np.clip(np.asarray(beyond, float), -most, most)[::-1]
    sums, days = np.cumsum(departure), np.arange(1, len(departure) + 1)
    ends = np.square(np.asarray(water, float)[::-1])
    variance = np.cumsum(np.square(np.asarray(own, float))[::-1]) + np.where(days > 1, ends + ends[0], ends)
    evidence = apart * days * sums / variance
    longest = int(np.argmax(evidence))
    return Run(float(evidence[longest]), len(departure) - 1 - longest)


def spread_of_mean(values: Sequence[float]) -> float:
    """Return the standard deviation of the mean of daily gains, kg; no smaller than daily noise allows."""
    spread = float(np.std(values, ddof=1)) if len(values) > 2 else DAILY_NOISE_KG
    return max(spread, DAILY_NOISE_KG / 2) / math.sqrt(len(values))

"""Did a daily series turn, and when? Segmentation by ruptures, and cumulative sums of evidence."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.signals.clean import noise
from hivemon.signals.segmentation import breakpoints

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

DAILY_NOISE_KG = 0.08
"""Least standard deviation given to a daily net gain: rain, dew and a scale's temperature leave that much. Our rule."""

SOUGHT = 9
"""How many flying days back a turn is sought: it is told within days of having happened."""


def levels(values: Sequence[float], least: int = 2) -> list[int]:
    """Return where each level of a series begins: indices, the first of them 0; no level shorter than `least` values.

    Penalised least squares by kernel change-point search with the linear kernel; the penalty is the Bayesian
    information criterion, 3 ln n for a level and its place, on values of unit noise.
    """
    series = np.asarray(values, float)
    if len(series) < 2 * least:
        return [0]
    sigma = max(noise(series), DAILY_NOISE_KG)
    return [0, *breakpoints(series / sigma, 3 * math.log(len(series)), least)[:-1]]


def turning_day(values: Sequence[float], limit: float, *, rising: bool) -> int:
    """Return the index of the first day of the newest level, for a series that has just passed `limit`.

    Segmentation gives the level before; the day is then where the cumulative sum of departures from half-way between
    the level before and the newest three days turns (Page 1954). Half-way is kept on the near side of `limit`, so that
    a slow start is dated by its first real day and not by its steepest.
    """
    series = np.asarray(values, float)
    newest = float(series[-3:].mean())
    half_way = (_level_before(series, newest) + newest) / 2
    reference = min(half_way, limit) if rising else max(half_way, limit)
    recent = series[-SOUGHT:]
    return len(series) - len(recent) + crossing_day(recent.tolist(), reference, rising=rising)


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


def _level_before(series: NDArray[np.float64], newest: float) -> float:
    """Return the mean of the level before the one standing now; `newest` where there was no other."""
    bounds = [*levels(series.tolist()), len(series)]
    if len(bounds) < 3:
        return newest
    return float(series[bounds[-3] : bounds[-2]].mean())


def spread_of_mean(values: Sequence[float]) -> float:
    """Return the standard deviation of the mean of daily gains, kg; no smaller than daily noise allows."""
    spread = float(np.std(values, ddof=1)) if len(values) > 2 else DAILY_NOISE_KG
    return max(spread, DAILY_NOISE_KG / 2) / math.sqrt(len(values))

"""When did a daily series turn? Segmentation by ruptures, and the cumulative-sum date of the last turn."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

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


def turning_day(values: Sequence[float], limit: float, *, rising: bool, at_limit: bool = False) -> int:
    """Return the index of the first day of the newest level, for a series that has just passed `limit`.

    Segmentation gives the level before; the day is then where the cumulative sum of departures from half-way between
    the level before and the newest three days turns (Page 1954). Half-way is kept on the near side of `limit`, so that
    a slow start is dated by its first real day and not by its steepest. With `at_limit` the limit itself is the
    reference: for levels so close together that half-way says little.
    """
    series = np.asarray(values, float)
    sign = 1.0 if rising else -1.0
    newest = float(series[-3:].mean())
    half_way = limit if at_limit else (_level_before(series, newest) + newest) / 2
    reference = min(half_way, limit) if rising else max(half_way, limit)
    recent = sign * (series[-SOUGHT:] - reference)
    from_here = np.cumsum(recent[::-1])[::-1]
    return int(len(series) - len(recent) + np.argmax(from_here))


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

"""Change points of a daily series, by ruptures: where the newest stretch of one level began."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import ruptures

from hivemon.signals.clean import noise

if TYPE_CHECKING:
    from collections.abc import Sequence

DAILY_NOISE_KG = 0.08
"""Least standard deviation given to a daily net gain: rain, dew and a scale's temperature leave that much. Our rule."""


class Stretch(NamedTuple):
    """The newest stretch of one level: index of its first value, its mean and the standard deviation of that mean."""

    start: int
    mean: float
    sd: float


def newest_stretch(values: Sequence[float], least: int = 2) -> Stretch:
    """Return the newest stretch of a series, no shorter than `least` values.

    Penalised least squares by kernel change-point search with the linear kernel; the penalty is the Bayesian
    information criterion, 3 ln n for a level and its place, on values of unit noise.
    """
    series = np.asarray(values, float)
    sigma = max(noise(series), DAILY_NOISE_KG)
    start = 0
    if len(series) >= 2 * least:
        search = ruptures.KernelCPD(kernel="linear", min_size=least).fit((series / sigma).reshape(-1, 1))
        bounds = search.predict(pen=3 * math.log(len(series)))
        start = int(bounds[-2]) if len(bounds) > 1 else 0
    part = series[start:]
    spread = float(part.std(ddof=1)) if len(part) > 2 else sigma
    return Stretch(start, float(part.mean()), max(spread, sigma / 2) / math.sqrt(len(part)))

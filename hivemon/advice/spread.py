"""Mean and spread of a few numbers; the standard library's are exact to the last bit, and a hundred times slower."""

from __future__ import annotations

import math
import statistics
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def mean(values: Sequence[float]) -> float:
    """Return the arithmetic mean. Raises ValueError when there are no values."""
    if not values:
        raise ValueError("no values have no mean")
    return math.fsum(values) / len(values)


def fading_mean(values: Sequence[float], half: float) -> float:
    """Return the mean of values, oldest first, each weighing half of one that is `half` places younger.

    Raises ValueError when there are no values.
    """
    if not values:
        raise ValueError("no values have no mean")
    weights = [0.5 ** (age / half) for age in range(len(values) - 1, -1, -1)]
    return math.fsum(w * v for w, v in zip(weights, values, strict=True)) / math.fsum(weights)


def deviation(values: Sequence[float]) -> float:
    """Return the standard deviation of a sample, n - 1 in the denominator. Raises ValueError below two values."""
    if len(values) < 2:  # noqa: PLR2004 - one value has no spread
        raise ValueError("a standard deviation takes two values")
    middle = mean(values)
    return math.sqrt(math.fsum((v - middle) ** 2 for v in values) / (len(values) - 1))


def error_of_mean(values: Sequence[float]) -> float:
    """Return the standard error of the mean, values taken as independent."""
    return deviation(values) / math.sqrt(len(values))


def steady_slope(values: Sequence[float]) -> float:
    """Return the slope a step that a course mostly keeps: the median over all pairs (Theil 1950, Sen 1968).

    A bump that comes and goes hardly moves it. Raises StatisticsError below two values.
    """
    pairs = ((b - a) / (j - i) for i, a in enumerate(values) for j, b in enumerate(values[i + 1 :], i + 1))
    return statistics.median(pairs)

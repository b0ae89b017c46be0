"""Readings binned into whole hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hivemon.model import HOUR, Millis, Series

if TYPE_CHECKING:
    from numpy.typing import NDArray


def hourly_mean(series: Series, start: Millis, hours: int) -> NDArray[np.float64]:
    """Return the mean of each whole hour from `start` on, shape (hours,); NaN where an hour is empty."""
    total, count = _binned(series, start, hours)
    means = np.full(hours, np.nan)
    np.divide(total, count, out=means, where=count > 0)
    return means


def hourly_sum(series: Series, start: Millis, hours: int) -> NDArray[np.float64]:
    """Return the sum of each whole hour from `start` on, shape (hours,); 0 where an hour is empty."""
    return _binned(series, start, hours)[0]


def _binned(series: Series, start: Millis, hours: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    part = series.between(start, start + hours * HOUR)
    number = (part.time - start) // HOUR
    total = np.bincount(number, weights=part.value, minlength=hours).astype(np.float64)
    return total, np.bincount(number, minlength=hours).astype(np.float64)

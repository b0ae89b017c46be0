"""15-minute means: what is kept of readings for ever. Pure functions over arrays.

A window starts at a whole quarter of an hour UTC and holds its start, not its end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from hivemon.model import MINUTE, Millis, Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

WINDOW: Millis = 15 * MINUTE


class Means(NamedTuple):
    """Windows of one stream, all arrays of shape (n,), `start` strictly ascending.

    `n` counts the readings; `mean`, `low` and `high` are in the stream's unit; `first` and `last` are the times of the
    first and last reading, ms after `start`.
    """

    start: NDArray[np.int64]
    n: NDArray[np.int64]
    mean: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]


def window_start(time: Millis) -> Millis:
    """Return the start of the window a moment falls in."""
    return time - time % WINDOW


def summarise(series: Series) -> Means:
    """Return the means of every window that has a reading."""
    start = series.time - series.time % WINDOW
    offset = series.time - start
    ones = np.ones(len(start), np.int64)
    return _gather(Means(start, ones, series.value, series.value, series.value, offset, offset))


def merge(one: Means, other: Means) -> Means:
    """Return the windows of both; where both have one, as if it had been made of the readings of both."""
    order = np.argsort(np.concatenate((one.start, other.start)), kind="stable")
    columns: list[NDArray[Any]] = [np.concatenate(pair)[order] for pair in zip(one, other, strict=True)]
    return _gather(Means(*columns))


def _gather(rows: Means) -> Means:
    """Join rows with the same start, which stand together."""
    if not len(rows.start):
        return rows
    begins = np.flatnonzero(np.diff(rows.start, prepend=rows.start[0] - 1))
    n = np.add.reduceat(rows.n, begins)
    share = rows.n / np.repeat(n, np.diff(begins, append=len(rows.start)))
    low, high = np.minimum.reduceat(rows.low, begins), np.maximum.reduceat(rows.high, begins)
    # Shares are summed, not values: sums of extreme numbers overflow. Clipped because rounding may step outside.
    mean = np.clip(np.add.reduceat(rows.mean * share, begins), low, high)
    first, last = np.minimum.reduceat(rows.first, begins), np.maximum.reduceat(rows.last, begins)
    return Means(rows.start[begins], n, mean, low, high, first, last)

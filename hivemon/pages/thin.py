"""Fewer points for the same picture: what a curve loses when each pixel column keeps only its extremes. Pure.

A column of pixels shows every value between its lowest and highest reading, so those two, in their own order, draw the
same picture as all of them (min-max decimation; Jugel et al. 2014, "M4", adds first and last, which the neighbours of a
column show to within a pixel).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import MINUTE, Millis, Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

GAP: Millis = 40 * MINUTE
"""The least silence that is drawn as one. Our rule: nodes usually speak every 5 to 15 minutes."""
GAP_TIMES = 4
"""A silence is this many usual intervals or more. Our rule."""


class Curve(NamedTuple):
    """Points to draw, `time` ascending (ms UTC); a `value` of None lifts the pen. `interval` is the usual one, ms."""

    time: list[Millis]
    value: list[float | None]
    interval: Millis


def thin(series: Series, since: Millis, until: Millis, width: int, decimals: int = 3) -> Curve:
    """Return a series between two moments as at most two points a column, `width` columns, silences marked.

    The first and the last reading always stay, and those beside a silence wider than a column. Values are rounded to
    `decimals`, which loses nothing that is seen.
    """
    part = series.between(since, until)
    if not len(part.time):
        return Curve([], [], 0)
    steps = np.diff(part.time)
    usual = int(np.median(steps)) if len(steps) else 0
    least = max(GAP, GAP_TIMES * usual, (until - since) // width)
    silent = np.flatnonzero(steps > least)
    keep = np.union1d(_extremes(part, since, until, width), np.concatenate((silent, silent + 1)))
    return _with_gaps(part, keep, silent, usual, decimals)


def _extremes(part: Series, since: Millis, until: Millis, width: int) -> NDArray[np.intp]:
    """Return the places of the lowest and the highest reading of every column, and the ends, ascending."""
    count = len(part.time)
    if count <= 2 * width:
        return np.arange(count)
    column = (part.time - since) * width // max(until - since, 1)
    begins = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
    order = np.lexsort((part.value, column))
    ends = np.append(begins[1:], count) - 1
    return np.unique(np.concatenate((order[begins], order[ends], [0, count - 1])))


def _with_gaps(part: Series, keep: NDArray[np.intp], silent: NDArray[np.intp], usual: Millis, decimals: int) -> Curve:
    """Put a None into the middle of every silence, so that no line is drawn where nothing is known."""
    places = np.searchsorted(keep, silent, side="right")
    middle = (part.time[silent] + part.time[silent + 1]) // 2
    time = np.insert(part.time[keep], places, middle).tolist()
    value: list[float | None] = np.round(part.value[keep], decimals).tolist()
    for offset, place in enumerate(places.tolist()):
        value.insert(place + offset, None)
    return Curve(time, value, usual)

"""Two devices that publish under one name: the readings lie at two levels, and jump between these all the time.

One weight cannot tell it: a swarm, a super or a cat is a jump too, but bees do not go back and forth by kilograms with
every reading. A scale with a loose contact looks the same, and is worth the same look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import HOUR
from hivemon.signals.clean import middle

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.model import Millis

LOOK_BACK: Millis = 12 * HOUR
"""How much of the newest weight is looked at. Our rule."""

FEWEST = 12
"""Readings that it takes to judge. Our rule."""

APART_KG = 1.0
"""Two levels nearer than this are noise or wind. Our rule."""

SPREAD = 0.25
"""Within a level readings lie this close, as a share of the distance between the levels. Our rule."""

SWITCHES = 0.25
"""So often, per reading, it goes from one level to the other: two devices of which one speaks a quarter as often still
do, and a hive that is worked on does not. Our rule."""


class Levels(NamedTuple):
    """The two weights that readings jump between, kg."""

    low: float
    high: float


def two_levels(weight: NDArray[np.float64]) -> Levels | None:
    """Return the levels when these weights, in order of time and in kg, jump between two of them all the time."""
    if len(weight) < FEWEST:
        return None
    ordered = np.sort(weight)
    cut = int(np.argmax(ordered[1:] - ordered[:-1]))
    low, high = ordered[: cut + 1], ordered[cut + 1 :]
    levels = Levels(middle(low), middle(high))
    apart = levels.high - levels.low
    if apart < APART_KG or max(low[-1] - low[0], high[-1] - high[0]) > SPREAD * apart:
        return None
    upper = weight > ordered[cut]
    switches = np.count_nonzero(upper[1:] != upper[:-1])
    return levels if switches >= SWITCHES * (len(weight) - 1) else None

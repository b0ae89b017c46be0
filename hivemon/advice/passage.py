"""On which day room is used up that fills by uneven days: the first evening on which it is, over all that may come.

A mean day never fills the last of it: one great day does, and in a slow flow it comes while the mean would still take a
week. So days are drawn as they come, good and poor, and followed until the room is gone.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

_DAYS = 20
"""Days that are followed; whoever needs to know more has time to ask again. Our rule."""
_CELLS, _SPARE = 40, 10
"""How finely the room is cut, and cells beyond it for what is eaten on poor days."""
_KINDS = 15
"""Kinds of day, from poor to great, equally likely."""
_DRAWN = [NormalDist().inv_cdf((kind + 0.5) / _KINDS) for kind in range(_KINDS)]


class Income(NamedTuple):
    """What a day's nectar makes of honey, kg: `mean`, and how uneven days are, as a share of it; `eaten` kg a day."""

    mean: float
    uneven: float
    eaten: float


def until_used_up(room: float, income: Income, fresh: float, chance: float) -> float:
    """Return the days after which `room` (kg of honey) is used up with some `chance`; the whole part is the day's.

    On the evening of a day its nectar takes `fresh` times the room of the honey it becomes; what came before is ripe.
    Infinite when it lasts longer than 20 days so. Days are independent, and log-normal: never below nothing, some of
    them great (common for what weather makes; our rule).
    """
    if room <= 0.0:
        return 0.0
    if income.mean <= 0.0 or room > _DAYS * income.mean:
        return math.inf
    step = room / _CELLS
    left = np.zeros(_CELLS + _SPARE)
    left[_CELLS - 1] = 1.0
    day = _one_day(_kinds(income), income.eaten, fresh, step)
    before = 0.0
    for ahead in range(_DAYS):
        left = left @ day
        by_then = 1.0 - float(left.sum())
        if by_then >= chance:
            return ahead + (chance - before) / (by_then - before)
        before = by_then
    return math.inf


def _kinds(income: Income) -> list[float]:
    """Return the honey of each kind of day, kg; their mean is that of the income."""
    sigma = math.sqrt(math.log1p(income.uneven**2))
    drawn = [math.exp(sigma * z) for z in _DRAWN]
    return [income.mean * each * _KINDS / math.fsum(drawn) for each in drawn]


def _one_day(kinds: list[float], eaten: float, fresh: float, step: float) -> np.ndarray:
    """Return how a day shifts the room left: row i (`step` * (i + 1) kg) to columns; what is missing was used up."""
    cells = _CELLS + _SPARE
    row = np.arange(cells)
    shifts = np.zeros((cells, cells))
    for honey in kinds:
        gain = honey - eaten
        lasts = (step * (row + 1) > gain + honey * (fresh - 1)) / _KINDS
        whole, part = divmod(gain / step, 1.0)
        for shift, share in ((int(whole), 1.0 - part), (int(whole) + 1, part)):
            to = np.minimum(row - shift, cells - 1)
            shifts[row[to >= 0], to[to >= 0]] += share * lasts[to >= 0]
    return shifts

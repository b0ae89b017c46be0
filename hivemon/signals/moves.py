"""How far a weight moves between one reading and another: the gate, what only hands do, and since when it is calm."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hivemon.model import MINUTE, Millis, Series
from hivemon.signals.clean import median, spike_kg

if TYPE_CHECKING:
    from numpy.typing import NDArray

GATE_LAG: Millis = 30 * MINUTE
"""A swarm takes 5 to 20 minutes to leave (Winston 1987; Seeley 2010, from memory), so half an hour apart holds all of
it."""

NEARLY = 0.8
"""Part of a rule's least change at which a gate lets through: it sees single readings, and what is judged later may be
more. Our rule."""

STIR_KG = 1.5
"""A weight that rises this far within half an hour is in somebody's hands: bees, rain and snow stay below. Our rule."""


def gate(window: Series, first_new: int, least: float) -> NDArray[np.int64]:
    """Return the times of readings from index `first_new` on that stand `least` kg or more off half an hour before.

    `window` needs the readings of the half hour before the first new one. Memoryless: what it says of a reading never
    depends on how the stream was cut into batches.
    """
    time, value = window
    start = max(first_new, 1)
    if start >= len(time):
        return time[:0]
    index = np.arange(start, len(time))
    earlier = np.searchsorted(time, time[start:] - GATE_LAG, side="right") - 1
    earlier = np.clip(earlier, 0, index - 1)
    moved = np.abs(value[start:] - value[earlier]) >= least
    moved |= np.abs(value[start:] - value[index - 1]) >= least
    return time[start:][moved]


def largest_move(part: Series, span: Millis, sign: float) -> float | None:
    """Return the largest move of a sign between readings `span` apart (at least one interval), kg; None: no data."""
    if len(part.time) < 3:
        return None
    index = np.arange(1, len(part.time))
    start = np.minimum(np.searchsorted(part.time, part.time[1:] - span), index - 1)
    value = part.value if sign > 0 else -part.value
    moves = np.maximum(value[1:] - value[start], value[1:] - value[:-1])
    return float(max(0.0, moves.max()))


def stirred(part: Series) -> bool:
    """Whether a weight rose within half an hour as only hands can make it: something lifted was set down again."""
    rise = largest_move(part, 30 * MINUTE, 1.0)
    return rise is not None and rise >= STIR_KG


def calm_since(window: Series, sigma: float) -> Millis:
    """Return from when on the weight has stood near its newest level: the time after the last reading far from it.

    `sigma` is the scale's noise in quiet hours, kg.
    """
    if not len(window.time):
        return 0
    newest = median(window.value[-4:])
    far = np.flatnonzero(np.abs(window.value - newest) > spike_kg(sigma))
    return int(window.time[min(int(far[-1]) + 1, len(window.time) - 1)]) if len(far) else int(window.time[0])

"""The machine's own clock, which small boards lose with the power: whether it can be right, and when it was set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.intake.moments import FUTURE
from hivemon.intake.translate import EARLIEST
from hivemon.model import MINUTE, rfc3339

if TYPE_CHECKING:
    from hivemon.model import Millis

PATIENCE: Millis = 10 * MINUTE
"""So long a start waits for a clock that stands before the last run: a time server answers within a minute or two of
the network being up. After that the clock of the last run counts as the wrong one. Our rule."""


def not_yet(now: Millis, before: Millis, waited: Millis) -> str:
    """Say why a start must wait for the right time, or nothing.

    Readings without a time of their own would be stamped with a wrong one, and the right times of others would lie in
    the future.

    Args:
        now: What the clock says.
        before: What it last said to hivemon; 0 when it never ran.
        waited: How long it has been waited for already.
    """
    if now < EARLIEST:
        return f"the clock says {rfc3339(now)}: it has not been set since the machine was started"
    if now < before - FUTURE and waited < PATIENCE:
        return f"the clock says {rfc3339(now)}, but hivemon was at work at {rfc3339(before)}: is it set yet?"
    return ""


def was_set_back(now: Millis, last: Millis) -> bool:
    """Tell whether the clock has gone backwards since it said `last`."""
    return now < last


def was_set_forward(now: Millis, last: Millis) -> bool:
    """Tell whether the clock has gone on by more than a reading may lie ahead since it said `last`, a turn ago."""
    return now > last + FUTURE

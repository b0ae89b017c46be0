"""What the warmth between the brood frames tells of brood, day by day."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import Kind

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.limits import BroodLimits
    from hivemon.model import HiveDay

BROOD_KINDS = (Kind.BROOD_HOT, Kind.BROOD_COLD, Kind.BROOD_UNSTABLE, Kind.BROOD_RECOVERED)
"""Events of a brood nest: the last of them says how it is now."""

_WEEK = 7
"""Days for which a nest must have shown brood, and have shown none since, before that is gone. Our rule."""


def shows_brood(day: HiveDay, limits: BroodLimits) -> bool | None:
    """Whether the nest was as warm and steady as with brood on a day, or None when that is not known."""
    if day.temperature_mean is None or day.temperature_swing is None:
        return None
    warm = limits.warm_low_celsius <= day.temperature_mean <= limits.warm_high_celsius
    return warm and day.temperature_swing <= limits.brood_swing_celsius


def nest_is_warm(days: Sequence[HiveDay], limits: BroodLimits) -> bool | None:
    """Whether the last days show brood warmth, or None when too few days tell."""
    last = [shown for shown in (shows_brood(d, limits) for d in days) if shown is not None][-limits.warm_days :]
    return None if len(last) < limits.warm_days else all(last)


def brood_is_gone(days: Sequence[HiveDay], limits: BroodLimits) -> bool:
    """Whether a nest in which the sensor saw brood for a week or more has not shown any for the last week."""
    known = [shown for shown in (shows_brood(d, limits) for d in days) if shown is not None]
    return sum(known[:-_WEEK]) >= _WEEK and not any(known[-_WEEK:])

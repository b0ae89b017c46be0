"""How much room a flow's nectar takes while it is fresh, told from what the hive loses by night."""

from __future__ import annotations

import math
import statistics
from typing import TYPE_CHECKING

from hivemon.advice.food import Estimate
from hivemon.advice.room import DOUBT, MOISTURE, fresh_room_ratio
from hivemon.advice.spread import deviation
from hivemon.model import DAY, HOUR, Event, HiveDay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.scene import Scene

_LEVELS = 1 * HOUR
"""What a night's change leaves out: the levels at dusk and dawn are medians of some time after and before."""
_LEAST_NIGHTS = 3
"""Nights needed before they tell. Our rule."""
_QUIET_DAYS = 60
"""How far back nights without nectar are looked for. Our rule."""
_DEW_KG = 0.08
"""What dew and moist wood make of a night, standard deviation, kg. Our rule: 50 to 150 g on a wet lid."""
_UNEVEN = 0.2
"""How unlike day and night water may leave a hive, as a share. Our rule."""
_SUGAR_LOW, _SUGAR_HIGH = 0.2, 0.6
"""Nectar that bees collect (Nicolson et al. 2022)."""


def fresh_room(scene: Scene, hive: str, flow: Event | None) -> tuple[float, float]:
    """Return the least and most room that fresh nectar takes, against the ripe honey it becomes.

    What is usual, and what the nights of this flow tell, each weighed by how sure it is: in a steady flow as much
    water leaves as comes in, by night as by day, so that a night takes its share of a day's water. The more of it there
    is for each kilogram of honey, the thinner the nectar.
    """
    limits = scene.limits.supers
    low, high = limits.fresh_room_low, limits.fresh_room_high
    told = None if flow is None or high <= low else _told_by_nights(scene, hive, flow)
    if told is None:
        return low, high
    both = Estimate((low + high) / 2, (high - low) / 2 / DOUBT).combined(told)
    return both.low, both.high


def _told_by_nights(scene: Scene, hive: str, flow: Event) -> Estimate | None:
    """Return the room that nectar of this flow takes by its nights, or None where too few of them tell."""
    limits = scene.limits
    onset = flow.onset - DAY // 2
    nights = _known(scene.whole_days(hive, since=onset))[-limits.supers.rate_days :]
    if len(nights) < _LEAST_NIGHTS:
        return None
    honey = statistics.median(d.net_gain or 0.0 for d in nights) + limits.food.use_kg_per_day
    part = statistics.median((d.end - d.dusk - _LEVELS) / (d.end - d.start) for d in nights)
    if honey < limits.supers.least_gain or part <= 0:
        return None
    before = [d for d in _known(scene.whole_days(hive, since=onset - _QUIET_DAYS * DAY)) if d.end <= onset]
    changes = [d.overnight_change or 0.0 for d in nights]
    lost = _without_nectar(before, scene) - statistics.median(changes)
    water = max(lost, 0.0) / part / honey
    error = math.hypot(deviation(changes) / math.sqrt(len(changes)), _DEW_KG) / part / honey
    return _ratio_of(water, math.hypot(error, _UNEVEN * water))


def _known(days: Sequence[HiveDay]) -> list[HiveDay]:
    return [d for d in days if d.net_gain is not None and d.overnight_change is not None]


def _without_nectar(days: Sequence[HiveDay], scene: Scene) -> float:
    """Return a night's change where no nectar dries, kg: the hive's own, or what it eats in a third of a day."""
    limits = scene.limits
    dry = [d.overnight_change or 0.0 for d in days if (d.net_gain or 0.0) < limits.supers.least_gain]
    return statistics.median(dry) if len(dry) >= _LEAST_NIGHTS else -limits.food.use_kg_per_day / 3


def _ratio_of(water: float, sd: float) -> Estimate:
    """Return the room of nectar that gives off `water` kg for each kg of honey it becomes, `sd` its doubt."""
    low, middle, high = (_room(max(water + d * sd, 0.0)) for d in (-1, 0, 1))
    return Estimate(middle, max((high - low) / 2, sd / 2, 0.1))


def _room(water: float) -> float:
    """Return the room of such nectar: mass balance on sugar."""
    return fresh_room_ratio(min(max((1 - MOISTURE) / (1 + water), _SUGAR_LOW), _SUGAR_HIGH))

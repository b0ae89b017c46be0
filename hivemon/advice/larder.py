"""What a hive has to eat, what it uses a day, and how long that lasts, from the scene."""

from __future__ import annotations

import math
import statistics
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import food
from hivemon.advice.boxes import boxes
from hivemon.advice.scene import net_gains
from hivemon.advice.season import broodless
from hivemon.model import DAY, Kind, Millis

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings

_KNOWN_SD = 0.7
"""Doubt of a tare the beekeeper weighed, kg: wet wood, propolis, snow. Our rule."""
_SUPER_SD = 0.8
"""Doubt of one super's empty weight, kg (6.5-8 kg, from memory)."""
_LEAST_DAYS = 3
"""Hive days needed before a hive's own use is believed. Our rule."""


class Larder(NamedTuple):
    """Food in a hive, kg; use, kg a day; days it lasts; `gain` the mean change of the last days, kg a day or None."""

    food: food.Estimate
    use: food.Estimate
    lasts: food.Lasts
    tare_known: bool
    supers: int
    unsure: int
    """Supers that may have stayed on at a harvest."""
    gain: float | None


def larder(scene: Scene, hive: HiveSettings) -> Larder | None:
    """Return what is known of a hive's food, or None where no weight is or the scale carries no hive."""
    weight = scene.weights.get(hive.id)
    if weight is None or not scene.limits.sensors.back_kg <= weight < math.inf:
        return None
    stack = boxes(scene, hive)
    inside = food.stores(weight, _woodware(scene, hive, stack.supers, stack.wood_kg), _colony(scene))
    gain = _gain(scene, hive.id)
    eaten = _use(scene, hive.id)
    return Larder(inside, eaten, food.lasts(inside, eaten), hive.tare_kg is not None, stack.supers, stack.unsure, gain)


def _woodware(scene: Scene, hive: HiveSettings, supers: int, wood_kg: float) -> food.Estimate:
    """Return the weight of floor, lid and boxes: as entered, or guessed from the boxes."""
    limits = scene.limits.food
    supers_sd = supers * _SUPER_SD
    if hive.tare_kg is not None:
        return food.Estimate(hive.tare_kg + wood_kg, math.hypot(_KNOWN_SD, supers_sd))
    guess = limits.floor_and_lids_kg + hive.brood_boxes * limits.brood_box_kg
    return food.Estimate(guess + wood_kg, math.hypot(limits.guess_sd_kg, supers_sd))


def _colony(scene: Scene) -> food.Estimate:
    limits = scene.limits.food
    if broodless(scene):
        return food.Estimate(limits.winter_colony_kg, limits.winter_colony_sd_kg)
    return food.Estimate(limits.summer_colony_kg, limits.summer_colony_sd_kg)


def _gain(scene: Scene, hive: str) -> float | None:
    """Return the mean net gain of the last three hive days that are known and not older than a week, kg a day."""
    gains = net_gains(scene.whole_days(hive, since=scene.now - 8 * DAY))[-_LEAST_DAYS:]
    return statistics.fmean(gains) if len(gains) == _LEAST_DAYS else None


def _use(scene: Scene, hive: str) -> food.Estimate:
    """Return the use a day: the hive's own where its days tell, else what is usual."""
    limits = scene.limits.food
    usual = food.Estimate(limits.use_kg_per_day, limits.use_sd_kg_per_day)
    if broodless(scene):
        usual = food.Estimate(limits.least_use_kg_per_day, limits.least_use_kg_per_day / 3)
    since = max(scene.now - (limits.use_days + 1) * DAY, _ripe_from(scene))
    losses = [-g for g in net_gains(scene.whole_days(hive, since=since))][-limits.use_days :]
    if len(losses) < _LEAST_DAYS:
        return usual
    mean = min(max(statistics.fmean(losses), limits.least_use_kg_per_day), limits.most_use_kg_per_day)
    return food.Estimate(mean, max(statistics.stdev(losses) / math.sqrt(len(losses)), 0.2 * mean))


def _ripe_from(scene: Scene) -> Millis:
    """Return when nectar of the last flow had dried: losses before that were not eaten."""
    end = scene.last(Kind.FLOW_END)
    return end.onset + round(scene.limits.food.ripening_days * DAY) if end else 0

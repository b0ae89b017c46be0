"""What a hive has to eat, what it uses a day, and how long that lasts, from the scene."""

from __future__ import annotations

import math
import statistics
from itertools import accumulate
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import food
from hivemon.advice.boxes import boxes
from hivemon.advice.scene import net_gains, once
from hivemon.advice.season import broodless, colony_share
from hivemon.advice.spread import error_of_mean, mean, steady_slope
from hivemon.advice.warmth import brood_is_gone
from hivemon.model import DAY, Entry, Kind, Millis

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Event, LogEntry

_KNOWN_SD = 0.7
"""Doubt of a tare the beekeeper weighed, kg: wet wood, propolis, snow. Our rule."""
_SUPER_SD = 0.8
"""Doubt of one super's empty weight, kg (6.5-8 kg, from memory)."""
_BEES_MOVED = (Entry.COMBINE, Entry.SWARM_SEEN)
_GAIN_DAYS = 5
"""Hive days from which it is told whether a hive gains. Our rule."""
_STALE: Millis = 8 * DAY
"""Hive days that began longer ago than this, and so ended a week ago, do not tell whether it gains now. Our rule."""
_NEWEST_TIMES = 1.5
"""How many times a gain the mean of the `_LEAST_DAYS` newest days must be to show it alone, as when a flow begins.
Our rule."""
_LEAST_DAYS = 3
"""Hive days needed before a hive's own gain or use is believed. Our rule."""


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


@once
def larder(scene: Scene, hive: HiveSettings) -> Larder | None:
    """Return what is known of a hive's food, or None where no weight is or the scale carries no hive."""
    weight = scene.weights.get(hive.id)
    if weight is None or not scene.limits.sensors.back_kg <= weight < math.inf:
        return None
    stack = boxes(scene, hive)
    inside = food.stores(weight, _woodware(scene, hive, stack.supers, stack.wood_kg), colony(scene, hive))
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


def colony(scene: Scene, hive: HiveSettings) -> food.Estimate:
    """Return the weight of bees, brood and pollen, kg: what is usual, corrected by the bees that fly out at dawn.

    A swarm of the last weeks is taken off, less and less as young bees hatch; bees that flew before it do not tell.
    """
    limits = scene.limits.food
    if broodless(scene):
        return food.Estimate(limits.winter_colony_kg, limits.winter_colony_sd_kg)
    share = colony_share(scene, scene.now)
    usual = food.Estimate(limits.summer_colony_kg * share, limits.summer_colony_sd_kg)
    swarms = scene.find(Kind.SWARM, hive=hive.id)
    missing = sum(abs(e.size or 0.0) - regrown(scene, e) for e in swarms)
    found = usual._replace(mean=max(usual.mean - missing, limits.colony_low_kg))
    days = [d for d in scene.whole_days(hive.id)[-limits.dip_days :] if not swarms or d.start > swarms[-1].onset]
    dips = [d.morning_dip for d in days if d.morning_dip is not None]
    if len(dips) >= limits.dip_days // 2:
        more = limits.colony_kg_per_dip_kg * (statistics.median(dips) - limits.usual_dip_kg * share)
        gap = brood_gap(scene, swarms[-1]) if swarms else 0.0
        found = found.combined(food.Estimate(usual.mean + more - gap, _doubt(scene, statistics.median(dips))))
    return found._replace(mean=min(max(found.mean, limits.colony_low_kg), limits.colony_high_kg))


def brood_gap(scene: Scene, swarm: Event) -> float:
    """Return the brood, kg, that is missing after a swarm: all of it when the young queen's begins to weigh."""
    limits = scene.limits.food
    apart = abs((scene.now - swarm.onset) / DAY - limits.queen_gap_days)
    return limits.brood_kg * max(1 - apart / max(limits.queen_gap_days, 1.0), 0.0)


def _doubt(scene: Scene, dip: float) -> float:
    """Return the doubt, kg, of a colony told from so many kg of bees that are out at once."""
    limits = scene.limits.food
    return math.hypot(limits.dip_doubt * limits.colony_kg_per_dip_kg * dip, limits.seen_colony_sd_kg)


def colony_change(scene: Scene, hive: HiveSettings, since: Millis) -> float:
    """Return how much bees and brood grew since a moment, kg; below none: they dwindled.

    What is usual in the season, the less surely the longer, and what the bees tell that flew out at dawn in the
    fortnight after that moment and in the last one, each weighed by how sure it is. Brood that is gone counts too, and
    what a swarm or a split took and has grown again since. None where bees were united or left unseen by the scale: the
    hive days do not count these.
    """
    limits = scene.limits.food
    span = (scene.now - since) / DAY
    days = [d for d in scene.whole_days(hive.id) if d.end > since]
    gone = limits.brood_kg if brood_is_gone(days, scene.limits.brood) else 0.0
    if scene.entries(hive.id, *_BEES_MOVED, since=since):
        return -gone
    grown = limits.summer_colony_kg * (colony_share(scene, scene.now) - colony_share(scene, since)) - gone
    if splits := scene.entries(hive.id, Entry.SPLIT, since=since):
        return grown + sum(regrown_after_split(scene, e) for e in splits)
    if swarms := scene.find(Kind.SWARM, hive=hive.id, since=since):
        return grown + sum(regrown(scene, e) for e in swarms)
    dips = [d.morning_dip for d in days if d.morning_dip is not None]
    if span < 2 * limits.dip_days or len(dips) < 2 * limits.dip_days:
        return grown
    seen = statistics.median(dips[-limits.dip_days :]) - statistics.median(dips[: limits.dip_days])
    told = food.Estimate(limits.colony_kg_per_dip_kg * seen, _doubt(scene, abs(seen)))
    usual = food.Estimate(grown, limits.colony_drift_kg * min(span / max(limits.colony_drift_days, 1.0), 1.0))
    return usual.combined(told).mean


def regrown(scene: Scene, swarm: Event) -> float:
    """Return how much of the bees that left, kg, has been made up for since; below none while the brood runs out.

    Until the young queen's brood weighs, old brood hatches and only replaces bees that die; then all of it grows again.
    """
    limits = scene.limits.food
    days, without, gap = (scene.now - swarm.onset) / DAY, limits.brood_kg / 2, limits.queen_gap_days
    if days < gap:
        return -without * max(days, 0.0) / gap
    share = min((days - gap) / max(limits.regrown_days - gap, 1.0), 1.0)
    return share * (abs(swarm.size or 0.0) + without) - without


def regrown_after_split(scene: Scene, split: LogEntry) -> float:
    """Return how much of the bees and brood that a split took, kg, has been made up for since.

    As long as after a swarm until it is as large as before, and evenly: which part kept the queen is not known.
    """
    limits = scene.limits.food
    taken = split.amount or limits.split_kg
    share = min((scene.now - split.time) / DAY / max(limits.regrown_days, 1.0), 1.0)
    return share * limits.split_share * taken


def _gain(scene: Scene, hive: str) -> float | None:
    """Return the gain, kg a day, that the last hive days bear out: their mean less its error; None when unknown.

    Or what the newest days alone show, if that is more. In the cold no nectar comes in: what is gained then is snow or
    rain.
    """
    cold = scene.outside_celsius is not None and scene.outside_celsius < scene.limits.food.nectar_celsius
    gains = net_gains(scene.whole_days(hive, since=scene.now - _STALE))[-_GAIN_DAYS:]
    if len(gains) < _LEAST_DAYS:
        return None
    gain = mean(gains)
    if cold:
        return min(gain, 0.0)
    return max(gain - error_of_mean(gains), mean(gains[-_LEAST_DAYS:]) / _NEWEST_TIMES)


def _use(scene: Scene, hive: str) -> food.Estimate:
    """Return the use a day: what is usual and what the hive's own days tell, each weighed by how sure it is.

    In the broodless season it is the slope that the weight mostly keeps: snow comes and goes.
    """
    limits = scene.limits.food
    winter = broodless(scene)
    usual = food.Estimate(limits.use_kg_per_day, limits.use_sd_kg_per_day)
    if winter:
        usual = food.Estimate(limits.winter_use_kg_per_day, limits.winter_use_kg_per_day / 2)
    span = limits.winter_use_days if winter else limits.use_days
    since = max(scene.now - (span + 1) * DAY, _ripe_from(scene))
    losses = [-g for g in net_gains(scene.whole_days(hive, since=since))][-span:]
    if len(losses) < _LEAST_DAYS:
        return usual
    # Wood and wet drift like a walk: as the root of the time.
    drift = limits.wood_drift_kg / math.sqrt(limits.winter_use_days * len(losses))
    own = (
        food.Estimate(steady_slope(list(accumulate(losses, initial=0.0))), drift)
        if winter
        else food.Estimate(mean(losses), error_of_mean(losses) + drift)
    )
    both = usual.combined(own)
    return both._replace(mean=min(max(both.mean, limits.least_use_kg_per_day), limits.most_use_kg_per_day))


def _ripe_from(scene: Scene) -> Millis:
    """Return when nectar of the last flow had dried: losses before that were not eaten."""
    end = scene.last(Kind.FLOW_END)
    return end.onset + round(scene.limits.food.ripening_days * DAY) if end else 0

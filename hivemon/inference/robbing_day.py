"""Was a hive robbed, seen from a whole day? Its loss between dawn and dusk beside its neighbours', and its usual one.

What the running day told (`robbing`) is taken back here where the day as a whole speaks against it.
"""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.inference.robbing import (
    EXCUSED_KG,
    MEAL_KG,
    PLAIN_KG,
    RobbingMemory,
    restless_at_night,
    ripening,
    too_cold,
    too_hot,
)
from hivemon.model import HOUR, Kind, Millis, Quantity, Series
from hivemon.signals.clean import NORMAL_MAD, median, without_spikes
from hivemon.signals.moves import largest_move

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.inference.look import Look
    from hivemon.model import HiveDay
    from hivemon.rules import RobbingRule

COMPARED_DAYS = 14
"""Days back over which a hive is compared with its neighbours. Our rule."""

LEAST_DAYS = 3
"""Least days that make a comparison. Our rule."""

CHANGED_KG = 3.0
"""Weight put on or taken off in a day from which another hive may stand on the scale, or another load. Our rule."""

ALIKE_KG = 0.3
"""Difference between what the neighbours gained on two days up to which these are alike. Our rule."""

DRYING_KG = 0.5
"""How much more water one hive of a yard may give off in a day than another: lid and wood hold 0.1 to 1 kg (geometry;
Wood Handbook ch. 4). Our rule."""

OTHERWISE: dict[str, str] = {
    "within-an-hour": "most of it went within an hour: robbers take several",
    "as-usual-beside-neighbours": "by dusk it had lost no more beside its neighbours than it usually does",
}
"""What the whole day's measure may say of robbing that was told while the day ran: reason -> words."""

STEADY_PART = 0.6
"""Part of a day's loss that goes outside of its worst hour where robbers are at it for hours. Our rule."""

NIGHT_PART = 0.5
"""Part of a day's loss that, gone again in the night after it, is no robbers': they sleep. Our rule."""

FAR = 4.0
"""Standard deviations beyond which a day's loss is a hive's own. Our rule."""

LEAST_SPREAD_KG = 0.06
"""Least standard deviation given to a hive's difference from its neighbours: two scales at 0.04 kg (OIML R 60, C3)."""


def close_day(
    look: Look, memory: RobbingMemory, day: HiveDay, others: Sequence[HiveDay], *, wet: bool, fed: bool
) -> RobbingMemory:
    """At the day's reckoning: take back what the bees brought home after all, rest after a calm day, tell a day's loss.

    `wet`: there may have been water on the hives at either end of the day; `fed`: a meal may be drying.
    """
    rule = look.rules.robbing
    loss = None if _hardly_lost(rule, day.foraging_gain) else measure_day(look, day, others)
    why: str | None = "not-measured"
    if loss is not None:
        why = why_not_that_day(rule, loss, DRYING_KG * wet + MEAL_KG * fed + ripening(look, day.hive, day.start))
    event = look.event(memory.event)
    if event is None:
        return _tell_day(look, day, loss) if loss is not None and why is None else RobbingMemory()
    if event.onset >= day.end or day.foraging_gain is None:
        return memory
    otherwise = _otherwise(memory.lost, day, why) if event.onset >= day.start else None
    if otherwise is not None:
        look.withdraw(memory.event, otherwise)
    goes_on = why is None or day.foraging_gain <= -0.5 * memory.lost
    return memory if goes_on and otherwise is None else RobbingMemory()


def _otherwise(lost: float, day: HiveDay, why: str | None) -> str | None:
    """Return what robbing told on a day turned out to be when the day was over, in words, or None where it stands."""
    if (day.overnight_change or 0.0) <= -NIGHT_PART * lost:
        return "it lost as much at night, when nobody robs: the scale, or something that drips"
    if why is not None and (day.foraging_gain or 0.0) > -0.5 * lost:
        return "the weight was back by dusk: foragers, not robbers"
    return OTHERWISE.get(why or "")


def take_back(look: Look, memory: RobbingMemory, day: HiveDay) -> RobbingMemory:
    """Take back what was told on a day after which the scale was found to wander by itself."""
    event = look.event(memory.event)
    if event is None or event.onset < day.start:
        return memory
    look.withdraw(memory.event, "the scale wandered as far at night, when nobody robs: it is the scale")
    return RobbingMemory()


class DayLoss(NamedTuple):
    """A hive's day between dawn and dusk beside its neighbours', kg.

    `gain` its own, `others` the neighbours' median. `lost`: how much more it lost than it usually does beside them, on
    `days` days before, of which `spread` is the standard deviation; `alike`: on those days the neighbours fared as
    today. `steady`: its loss without the worst hour. `overnight`: its change from dusk to the next dawn. `hours`: of
    daylight. `hot`: its nest is too hot. `cold`: nobody could fly. `restless`: its scale went alone the night before.
    """

    gain: float
    others: float
    lost: float
    spread: float
    days: int
    alike: bool
    steady: float
    overnight: float
    hours: float
    hot: bool
    cold: bool
    restless: bool


def measure_day(look: Look, day: HiveDay, others: Sequence[HiveDay]) -> DayLoss | None:
    """Measure a day's loss beside the neighbours; None where the hive was handled, or nothing can be compared.

    A yard's weather and forage are in its neighbours' day too, and how a hive and its scale differ from them shows in
    the days before. Best in days alike: a strong hive gains more than its neighbours in a flow, and no less without.
    """
    today = _beside(day, others)
    if today is None:
        return None
    known = _days_beside(look, day.hive)
    since = _same_since(look, day.hive)
    alike = [d for d in known if d.start >= since and abs(d.others - today.others) <= ALIKE_KG]
    compared = alike if len(alike) >= LEAST_DAYS else known
    gaps = np.array([d.gain - d.others for d in compared] or [0.0])
    usual = median(gaps)
    return DayLoss(
        gain=today.gain,
        others=today.others,
        lost=usual - (today.gain - today.others),
        spread=max(NORMAL_MAD * median(np.abs(gaps - usual)), LEAST_SPREAD_KG),
        days=len(compared),
        alike=compared is alike,
        steady=_without_worst_move(look.other(Quantity.WEIGHT, day.hive), day, today.gain),
        overnight=day.overnight_change or 0.0,
        hours=(day.dusk - day.start) / HOUR,
        hot=too_hot(look, day.hive, day.start),
        cold=too_cold(look, day.start, day.dusk),
        restless=restless_at_night(look, day.hive, day.start),
    )


def why_not_that_day(rule: RobbingRule, loss: DayLoss, excused: float) -> str | None:
    """Return the named reason why a day's loss is no robbing, or None when it probably is.

    `excused`: kg that drying wood or a meal may have lost without the neighbours.
    """
    beside = rule.times_neighbours * max(-loss.others, 0.0) + PLAIN_KG
    checks = (
        ("nothing-to-compare-with", loss.days < LEAST_DAYS),
        ("hardly-lost", _hardly_lost(rule, loss.gain)),
        ("as-usual-beside-neighbours", loss.lost < max(rule.least_kg_per_day, FAR * loss.spread)),
        ("drying-or-fed", loss.lost < rule.least_kg_per_day + excused),
        ("neighbours-lost-too", not loss.alike and -loss.gain < beside + excused),
        ("within-an-hour", loss.steady < STEADY_PART * -loss.gain),
        ("lost-at-night-too", loss.overnight <= -NIGHT_PART * loss.lost),
        ("cooling-its-nest", loss.hot),
        ("too-cold-to-fly", loss.cold),
        ("scale-restless-at-night", loss.restless),
        ("too-much-for-robbers", loss.lost > rule.most_kg_per_hour * loss.hours),
    )
    return next((reason for reason, holds in checks if holds), None)


def _hardly_lost(rule: RobbingRule, gain: float | None) -> bool:
    """Whether a day's gain, kg, is no loss worth comparing with the neighbours' and the days before."""
    return gain is None or gain > -rule.least_kg_per_day / 2


class _Beside(NamedTuple):
    """One day's gain from dawn to dusk, and the neighbours' median of it, kg."""

    start: Millis
    gain: float
    others: float


def _days_beside(look: Look, hive: str) -> list[_Beside]:
    """Return a hive's last calm days, each beside its neighbours."""
    by_date: dict[str, list[HiveDay]] = {}
    for other, kept in look.days.items():
        if other != hive:
            for day in kept[-COMPARED_DAYS:]:
                by_date.setdefault(day.date, []).append(day)
    beside = (_beside(day, by_date.get(day.date, [])) for day in look.days.get(hive, ())[-COMPARED_DAYS:])
    return [day for day in beside if day is not None]


def _same_since(look: Look, hive: str) -> Millis:
    """Return since when the same colony stands on the same scale, as far as can be seen.

    A swarm leaves another colony behind; whoever moves kilograms may have changed hives; a silent scale was mended.
    """
    swarms = look.events(Kind.SWARM, hive=hive)
    changed = [day.end for day in look.days.get(hive, ()) if day.net_gain is None or abs(day.handled) >= CHANGED_KG]
    return max([*(e.onset for e in swarms), *changed], default=0)


def _beside(day: HiveDay, others: Sequence[HiveDay]) -> _Beside | None:
    """Return a day beside the neighbours' median; None where handled or unknown."""
    gains = [o.foraging_gain for o in others if o.foraging_gain is not None and not o.handled]
    if day.foraging_gain is None or day.handled or not gains:
        return None
    return _Beside(day.start, day.foraging_gain, statistics.median(gains))


def _without_worst_move(weight: Series, day: HiveDay, gain: float) -> float:
    """Return the day's loss without the hour that lost most, kg: robbers take hours, hands and storms do not."""
    calm = without_spikes(weight.between(day.start, day.dusk), EXCUSED_KG)
    return -gain - (largest_move(calm, HOUR, -1.0) or 0.0)


def _tell_day(look: Look, day: HiveDay, loss: DayLoss) -> RobbingMemory:
    """Tell robbing from a whole day."""
    event = look.tell(
        Kind.ROBBING,
        onset=(day.start + day.dusk) // 2,
        size=loss.lost / (loss.hours / 2),
        unit="kg/h",
        confidence=0.6 + min(0.3, 0.3 * loss.lost),
        reason="loses-alone-all-day",
        summary=f"This hive lost {loss.lost:.1f} kg more than usual beside its neighbours between dawn and dusk.",
        evidence={name: float(value) for name, value in loss._asdict().items()},
    )
    return RobbingMemory(event=event.id, lost=loss.lost)

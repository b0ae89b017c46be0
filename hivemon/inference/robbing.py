"""Is one hive being robbed? Hours of loss in flying hours, far above its own habit, while the yard's others do not lose.

No published loss rate exists. Payloads bound it: 20 to 40 mg a trip and 1,000 to 10,000 trips an hour make 0.02 to 0.4 kg an
hour (from Meikle et al. 2018's 20 mg and a full crop's 40 mg).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

from hivemon.inference.look import solar_hour
from hivemon.model import DAY, HOUR, MINUTE, Kind, Millis, Quantity, Series
from hivemon.signals.clean import level

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.model import HiveDay
    from hivemon.rules import Rules

ROBBING_HOURS = (10.0, 20.0)
"""Sun's hours looked at: before ten, foragers leaving look the same."""

CALM: Millis = 4 * HOUR
"""A step of the weight this recent hides what bees do."""


class RobbingMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive: the standing event and how many quiet days there were since."""

    event: str = ""
    lost: float = 0.0


def gate(window: Series, first_new: int, rules: Rules) -> NDArray[np.int64]:
    """Return the times of new readings, first of their half hour, that close two hours of loss at the rule's rate."""
    rule = rules.robbing
    time, value = window
    start = max(first_new, 1)
    half = time[start - 1 :] // (30 * MINUTE)
    closing = np.flatnonzero(np.diff(half)) + start
    if not len(closing):
        return time[:0]
    span = round(rule.least_hours * HOUR)
    earlier = np.searchsorted(time, time[closing] - span, side="right") - 1
    known = earlier >= 0
    closing, earlier = closing[known], earlier[known]
    lost = value[earlier] - value[closing] >= 0.8 * rule.least_kg_per_hour * rule.least_hours
    return time[closing[lost]]


def judge(look: Look, memory: RobbingMemory, last_step: Millis, flow: bool) -> RobbingMemory:
    """Look at the last hours' loss; tell when nothing but robbers explains it. `last_step`: when the weight last jumped."""
    if memory.event or why_not(look, last_step, flow=flow) is not None:
        return memory
    rule = look.rules.robbing
    hours = rule.least_hours
    rate = _loss(look.own(Quantity.WEIGHT), look.now, hours) / hours
    event = look.tell(
        Kind.ROBBING,
        onset=_began(look, rule.least_kg_per_hour),
        size=rate,
        unit="kg/h",
        confidence=0.65 + min(0.2, 0.5 * rate),
        reason="hours-of-loss-alone",
        summary=f"This hive has lost {rate * hours:.1f} kg in {hours:.0f} hours of flight while the others have not.",
        evidence={
            "rate": rate,
            "hours": hours,
            "others_kg": _others(look, hours),
            "usual_kg": _usual(look, hours) or 0.0,
        },
    )
    return RobbingMemory(event=event.id, lost=rate * hours)


def why_not(look: Look, last_step: Millis, *, flow: bool) -> str | None:
    """Return the named reason why this is no robbing, or None when it probably is. Cheap reasons come first."""
    rule = look.rules.robbing
    checks: tuple[tuple[str, Callable[[], bool]], ...] = (
        ("flow-is-on", lambda: flow),
        ("wrong-hour", lambda: not ROBBING_HOURS[0] <= solar_hour(look, look.now) <= ROBBING_HOURS[1]),
        ("handled-lately", lambda: look.now - last_step < CALM),
        ("loss-not-steady", lambda: not _steady(look, rule.least_kg_per_hour, rule.least_hours)),
        ("rain-drying", lambda: _rained(look)),
        ("no-habit-known", lambda: _usual(look, rule.least_hours) is None),
        ("usual-for-this-hour", lambda: not _beyond_habit(look)),
        ("the-others-lose-too", lambda: not _alone(look)),
    )
    return next((reason for reason, holds in checks if holds()), None)


def close_day(look: Look, memory: RobbingMemory, day: HiveDay) -> RobbingMemory:
    """At the day's reckoning: take it back if the bees came home after all; let it rest after a day without loss."""
    event = look.event(memory.event)
    if event is None or event.onset >= day.end:
        return memory if event is not None else RobbingMemory()
    if day.foraging_gain is not None and event.onset >= day.start and day.foraging_gain > -0.5 * memory.lost:
        look.withdraw(memory.event, "the weight was back by dusk: foragers, not robbers")
        return RobbingMemory()
    quiet = event.onset < day.start and (day.foraging_gain is None or day.foraging_gain > -0.5 * memory.lost)
    return RobbingMemory() if quiet else memory


def _loss(series: Series, end: Millis, hours: float) -> float:
    """Return the weight lost over the hours before `end`, kg, between medians of twenty minutes; 0 where unknown."""
    width = 20 * MINUTE
    start = end - round(hours * HOUR)
    old, new = level(series, start - width, start + 1), level(series, end - width, end + 1)
    return 0.0 if old is None or new is None else old - new


def _steady(look: Look, rate: float, hours: float) -> bool:
    """Whether every hour of the span lost at half the rate at least, and the span at the whole rate."""
    weight = look.own(Quantity.WEIGHT)
    each = [_loss(weight, look.now - n * HOUR, 1.0) for n in range(int(hours))]
    return min(each) >= 0.5 * rate and _loss(weight, look.now, hours) >= rate * hours


def _usual(look: Look, hours: float) -> float | None:
    """Return the median loss over the same hours of the days before, kg; None without any."""
    weight = look.own(Quantity.WEIGHT)
    starts = [look.now - back * DAY for back in (1, 2, 3)]
    known = [_loss(weight, s, hours) for s in starts if len(weight.between(s - 3 * HOUR, s + 1).time) > 1]
    return float(np.median(known)) if known else None


def _beyond_habit(look: Look) -> bool:
    rule = look.rules.robbing
    usual = max(_usual(look, rule.least_hours) or 0.0, 0.0)
    lost = _loss(look.own(Quantity.WEIGHT), look.now, rule.least_hours)
    return lost >= max(rule.times_own_rate * usual, usual + rule.least_kg_per_hour * rule.least_hours)


def _others(look: Look, hours: float) -> float:
    """Return the median loss of the yard's other hives over the same hours, kg; 0 where there are none."""
    known = [_loss(look.other(Quantity.WEIGHT, hive), look.now, hours) for hive in look.neighbours()]
    return float(np.median(known)) if known else 0.0


def _alone(look: Look) -> bool:
    rule = look.rules.robbing
    return _others(look, rule.least_hours) < 0.4 * _loss(look.own(Quantity.WEIGHT), look.now, rule.least_hours)


def _rained(look: Look) -> bool:
    return float(look.other(Quantity.RAIN, None).since(look.now - DAY // 2).value.sum()) > 1.0


def _began(look: Look, rate: float) -> Millis:
    """Return the start of the unbroken hours of loss that led here, at most ten hours back."""
    weight, start = look.own(Quantity.WEIGHT), look.now
    for _ in range(20):
        if _loss(weight, start, 0.5) < 0.25 * rate:
            break
        start -= 30 * MINUTE
    return start

"""Is one hive being robbed? Hours of loss in flying hours, far above its own habit, while its neighbours do not lose.

No published loss rate exists. Payloads bound it: 20 to 40 mg a trip and 1,000 to 10,000 trips an hour make 0.02 to
0.4 kg an hour (from Meikle et al. 2018's 20 mg and a full crop's 40 mg).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.inference.look import solar_hour
from hivemon.model import DAY, HOUR, MINUTE, Kind, Millis, Quantity, Series
from hivemon.signals.clean import NORMAL_MAD, level

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.model import HiveDay
    from hivemon.rules import RobbingRule, Rules

ROBBING_HOURS = (12.0, 20.0)
"""Sun's hours looked at while they run: in the morning, foragers leaving look the same."""

WIDTH: Millis = 20 * MINUTE
"""Span of the medians compared."""

EXCUSED_KG = 0.4
"""Loss by day that needs no explanation beyond twice the neighbours' and the hive's own habit. Our rule."""

COMPARED_DAYS = 10
"""Days back over which a hive is compared with its neighbours. Our rule."""

FAR = 4.0
"""Standard deviations beyond which a day's loss is a hive's own. Our rule."""

LEAST_SPREAD_KG = 0.06
"""Least standard deviation given to a hive's difference from its neighbours: two scales at 0.04 kg (OIML R 60, C3)."""

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
    """Look at the day's loss so far; tell when only robbers explain it. `last_step`: when the weight last jumped."""
    if memory.event or why_not_now(look, last_step, flow=flow) is not None:
        return memory
    loss = measure(look)
    if loss is None or why_not(look, loss) is not None:
        return memory
    event = look.tell(
        Kind.ROBBING,
        onset=_began(look, look.rules.robbing.least_kg_per_hour),
        size=loss.rate,
        unit="kg/h",
        confidence=0.6 + min(0.3, 0.25 * (loss.today - loss.excused(look.rules.robbing))),
        reason="loses-alone-for-hours",
        summary=f"This hive has lost {loss.today:.1f} kg since dawn and still loses; usual by now is "
        f"{max(loss.usual or 0.0, 0.0):.1f} kg, its neighbours {max(loss.others or 0.0, 0.0):.1f} kg.",
        evidence={name: value for name, value in loss._asdict().items() if value is not None},
    )
    return RobbingMemory(event=event.id, lost=loss.today)


class Loss(NamedTuple):
    """A hive's loss, kg.

    `rate` an hour over the last hours, `today` since dawn, `usual` by this hour on the days before (the largest of
    three), `others` the yard's other hives since dawn (median). None where it is not known.
    """

    rate: float
    today: float
    usual: float | None
    others: float | None

    def excused(self, rule: RobbingRule) -> float:
        """Return the loss that foragers, eating and drying could explain, kg."""
        beside = rule.times_neighbours * (self.others or 0.0)
        return max(beside, rule.times_usual * (self.usual or 0.0), 0.0) + EXCUSED_KG


def why_not_now(look: Look, last_step: Millis, *, flow: bool) -> str | None:
    """Return the named reason why robbing is not asked about at this moment at all, or None. Looks at no stream."""
    checks = (
        ("flow-is-on", flow),
        ("wrong-hour", not ROBBING_HOURS[0] <= solar_hour(look, look.now) <= ROBBING_HOURS[1]),
        ("handled-lately", last_step >= min(look.sun.dawn, look.now - CALM)),
    )
    return next((reason for reason, holds in checks if holds), None)


def measure(look: Look) -> Loss | None:
    """Measure the loss up to now; None where dawn's weight is not known, or where there is no loss worth comparing."""
    rule = look.rules.robbing
    weight, dawn = look.own(Quantity.WEIGHT), look.sun.dawn
    rate = _lost(weight, look.now, rule.least_hours) / rule.least_hours
    today = _since_dawn(weight, dawn, look.now) if rate >= rule.least_kg_per_hour else None
    if today is None or today < EXCUSED_KG:
        return None
    usual = [u for back in (1, 2, 3) if (u := _deepest(weight, dawn - back * DAY, look.now - back * DAY)) is not None]
    others = [
        o
        for hive in look.neighbours()
        if (o := _since_dawn(look.other(Quantity.WEIGHT, hive), dawn, look.now)) is not None
    ]
    return Loss(rate, today, max(usual) if len(usual) > 1 else None, float(np.median(others)) if others else None)


def why_not(look: Look, loss: Loss) -> str | None:
    """Return the named reason why a loss is no robbing, or None when it probably is."""
    checks = (
        ("too-fast-for-robbers", loss.rate > look.rules.robbing.most_kg_per_hour),
        ("nothing-to-compare-with", loss.usual is None),
        ("could-be-foragers-or-drying", loss.today < loss.excused(look.rules.robbing)),
        ("rain-drying-alone", loss.others is None and _rained(look)),
    )
    return next((reason for reason, holds in checks if holds), None)


def close_day(
    look: Look, memory: RobbingMemory, day: HiveDay, others: Sequence[HiveDay], *, disturbed: bool
) -> RobbingMemory:
    """At the day's reckoning: take back what the bees brought home after all, rest after a calm day, tell a day's loss.

    `disturbed`: drying hives or a meal make this day no measure.
    """
    lost = None if disturbed else _more_than_usual(look, day, others)
    event = look.event(memory.event)
    if event is None:
        return _tell_day(look, day, lost) if lost is not None else RobbingMemory()
    if event.onset >= day.end or day.foraging_gain is None:
        return memory
    if day.foraging_gain <= -0.5 * memory.lost or lost is not None:
        return memory
    if event.onset >= day.start:
        look.withdraw(memory.event, "the weight was back by dusk: foragers, not robbers")
    return RobbingMemory()


def _more_than_usual(look: Look, day: HiveDay, others: Sequence[HiveDay]) -> float | None:
    """Return how much more a hive lost by day than it usually does beside its neighbours, kg; None for no robbing.

    A yard's weather and forage are in its neighbours' day too, and how a hive and its scale differ from them shows in
    the days before. What is left belongs to this hive and this day.
    """
    rule = look.rules.robbing
    known = list(_gaps(look, day.hive, COMPARED_DAYS))
    today = _gap(day, others)
    if today is None or len(known) < 3 or day.foraging_gain is None or day.foraging_gain > -rule.least_kg_per_day / 2:
        return None
    gaps = np.array(known)
    usual = float(np.median(gaps))
    spread = max(NORMAL_MAD * float(np.median(np.abs(gaps - usual))), LEAST_SPREAD_KG)
    lost = usual - today
    return lost if lost >= max(rule.least_kg_per_day, FAR * spread) else None


def _gaps(look: Look, hive: str, days: int) -> Iterator[float]:
    """Yield the gain from dawn to dusk less the neighbours' median of a hive's last calm days since it swarmed, kg."""
    by_date: dict[str, list[HiveDay]] = {}
    for other, kept in look.days.items():
        if other != hive:
            for day in kept[-days:]:
                by_date.setdefault(day.date, []).append(day)
    swarms = look.events(Kind.SWARM, hive=hive)
    same_colony_since = swarms[-1].onset if swarms else 0
    for day in look.days.get(hive, ())[-days:]:
        gap = _gap(day, by_date.get(day.date, []))
        if gap is not None and day.start >= same_colony_since:
            yield gap


def _gap(day: HiveDay, others: Sequence[HiveDay]) -> float | None:
    """Return a day's gain from dawn to dusk less the neighbours' median, kg; None where handled or unknown."""
    gains = [o.foraging_gain for o in others if o.foraging_gain is not None and not o.handled]
    if day.foraging_gain is None or day.handled or not gains:
        return None
    return day.foraging_gain - float(np.median(gains))


def _tell_day(look: Look, day: HiveDay, lost: float) -> RobbingMemory:
    """Tell robbing from a whole day, unless the yard is in a flow or the loss is more than robbers carry."""
    hours = (day.dusk - day.start) / HOUR
    if lost > look.rules.robbing.most_kg_per_hour * hours:
        return RobbingMemory()
    event = look.tell(
        Kind.ROBBING,
        onset=(day.start + day.dusk) // 2,
        size=lost / (hours / 2),
        unit="kg/h",
        confidence=0.6 + min(0.3, 0.3 * lost),
        reason="loses-alone-all-day",
        summary=f"This hive lost {lost:.1f} kg more than usual beside its neighbours between dawn and dusk.",
        evidence={"lost": lost, "foraging_gain": day.foraging_gain or 0.0},
    )
    return RobbingMemory(event=event.id, lost=lost)


def _lost(series: Series, end: Millis, hours: float) -> float:
    """Return the weight lost over the hours before `end`, kg, between medians of twenty minutes; 0 where unknown."""
    start = end - round(hours * HOUR)
    old, new = level(series, start - WIDTH, start + 1), level(series, end - WIDTH, end + 1)
    return 0.0 if old is None or new is None else old - new


def _since_dawn(series: Series, dawn: Millis, now: Millis) -> float | None:
    """Return the weight lost since dawn, kg, or None where either end is not known."""
    home, out = level(series, dawn - HOUR, dawn + WIDTH), level(series, now - max(WIDTH, HOUR // 2), now + 1)
    return None if home is None or out is None else home - out


def _deepest(series: Series, dawn: Millis, now: Millis) -> float | None:
    """Return the most a hive stood below its dawn weight within an hour and a half of `now`, kg; None where unknown."""
    home = level(series, dawn - HOUR, dawn + WIDTH)
    part = series.between(now - 3 * HOUR // 2, now + 3 * HOUR // 2)
    return None if home is None or not len(part.value) else home - float(np.quantile(part.value, 0.1))


def _rained(look: Look) -> bool:
    return float(look.other(Quantity.RAIN, None).since(look.now - DAY // 2).value.sum()) > 1.0


def _began(look: Look, rate: float) -> Millis:
    """Return the start of the unbroken hours of loss that led here, at most ten hours back."""
    weight, start = look.own(Quantity.WEIGHT), look.now
    for _ in range(20):
        if _lost(weight, start, 0.5) < 0.25 * rate:
            break
        start -= 30 * MINUTE
    return start

"""Is one hive being robbed? Hours of loss in flying hours, far above its own habit, while its neighbours do not lose.

No published loss rate exists. Payloads bound it: 20 to 40 mg a trip and 1,000 to 10,000 trips an hour make 0.02 to
0.4 kg an hour (from Meikle et al. 2018's 20 mg and a full crop's 40 mg).
"""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.model import DAY, HOUR, MINUTE, Kind, Millis, Quantity, Series
from hivemon.signals.clean import level, noise, quantile
from hivemon.signals.moves import NEARLY, stirred
from hivemon.signals.scale_temperature import at_reference
from hivemon.signals.sun import solar_hour

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.rules import RobbingRule, Rules

ROBBING_HOURS = (12.0, 20.0)
"""Sun's hours looked at while they run: in the morning, foragers leaving look the same. Our rule."""

WIDTH: Millis = 20 * MINUTE
"""Span of the medians compared. Our rule."""

EXCUSED_KG = 0.4
"""Least loss of a day so far worth comparing with the neighbours' and the hive's own habit. Our rule."""

MEAL_KG = 0.5
"""What a meal loses in a day at most: 2.5 kg of thin syrup dry by a third (mass balance on sugar) and are partly eaten,
within two or three days."""

PLAIN_KG = 0.6
"""Loss that needs no explanation while the day still runs and foragers are out, or where no days alike are known: what
is less plain is told after dusk. Our rule."""

RIPENS = 0.2
"""Part of what a hive has gathered in the `RIPENING_DAYS` before that it may still drive out in a day: nectar of 40 %
sugar loses half of its weight as water on the way to honey (mass balance on sugar), much of it at once. Our rule."""

RIPENING_DAYS = 3
"""How many days back nectar is held to be ripening yet. Our rule."""

TIMES_NOISE = 3.0
"""How many times its noise a loss may seem larger than it is: it lies between two readings, where these are rare. Our
rule."""

NIGHT_KG = 0.7
"""What no hive's weight does in a night beyond its neighbours' without hands: a tenth of a kilogram is eaten, dew and
rain come to all (drying wood: 0.1 to 1 kg, Wood Handbook). A scale that did will do it by day. Our rule."""

CALM: Millis = 4 * HOUR
"""A step of the weight this recent hides what bees do. Our rule."""


class RobbingMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive: the standing event, and what had been lost when it was told, kg."""

    event: str = ""
    lost: float = 0.0


def gate(window: Series, first_new: int, rules: Rules, longitude: float) -> NDArray[np.int64]:
    """Return the times of new readings, first of their half hour, that close two hours of loss at the rule's rate.

    Only those in `ROBBING_HOURS` at that longitude, degrees.
    """
    rule = rules.robbing
    time, value = window
    start = max(first_new, 1)
    half = time[start - 1 :] // (30 * MINUTE)
    closing = np.flatnonzero(half[1:] != half[:-1]) + start
    hour = (time[closing] / HOUR + longitude / 15) % 24
    closing = closing[(hour >= ROBBING_HOURS[0]) & (hour <= ROBBING_HOURS[1])]
    if not len(closing):
        return time[:0]
    span = round(rule.least_hours * HOUR)
    earlier = np.searchsorted(time, time[closing] - span, side="right") - 1
    known = earlier >= 0
    closing, earlier = closing[known], earlier[known]
    lost = value[earlier] - value[closing] >= NEARLY * rule.least_kg_per_hour * rule.least_hours
    return time[closing[lost]]


def asleep(memory: RobbingMemory, *, flow: bool) -> bool:
    """Whether nothing that comes before the day is reckoned up can be told: it has been, or nectar is there for all."""
    return flow or bool(memory.event)


def judge(look: Look, memory: RobbingMemory, known: Known) -> RobbingMemory:
    """Look at the day's loss so far; tell when only robbers explain it."""
    if memory.event or why_not_now(look, known) is not None:
        return memory
    weight = at_reference(look.own(Quantity.WEIGHT), look.other(Quantity.OUTSIDE_TEMPERATURE, None), known.scale_error)
    loss = measure(look, weight, since=max(look.sun.dawn, known.last_step + HOUR), fed=known.fed())
    if loss is None or why_not(look, loss) is not None:
        return memory
    event = look.tell(
        Kind.ROBBING,
        onset=_began(weight, look.now, look.rules.robbing.least_kg_per_hour),
        size=loss.rate,
        unit="kg/h",
        confidence=0.6 + min(0.3, 0.25 * (loss.today - loss.excused(look.rules.robbing))),
        reason="loses-alone-for-hours",
        summary=f"This hive has lost {loss.today:.1f} kg today and still loses; usual by now is "
        f"{max(loss.usual or 0.0, 0.0):.1f} kg, its neighbours {max(loss.others or 0.0, 0.0):.1f} kg.",
        evidence={name: float(value) for name, value in loss._asdict().items() if value is not None},
    )
    return RobbingMemory(event=event.id, lost=loss.today)


class Known(NamedTuple):
    """What other questions know of a hive and its yard.

    `last_step`: when the weight last jumped, 0 for never; `flow`: nectar comes in; `fed()`: a meal may still be drying
    and eaten; `scale_error`: the scale's temperature error, kg per °C.
    """

    last_step: Millis = 0
    flow: bool = False
    fed: Callable[[], bool] = lambda: False
    scale_error: float = 0.0


class Loss(NamedTuple):
    """A hive's loss, kg.

    `rate` an hour over the last hours, `today` since dawn or since the hive was handled, `usual` from dawn to this hour
    on the days before (the largest of three), `others` as today, of the yard's other hives (median). None: not known.
    `fed`: a meal may be drying; `ripening`: what fresh nectar may lose; `noise`: the scale's today, in wind.
    """

    rate: float
    today: float
    usual: float | None
    others: float | None
    fed: bool = False
    ripening: float = 0.0
    noise: float = 0.0

    def excused(self, rule: RobbingRule) -> float:
        """Return the loss that foragers, eating, drying and a shaken scale could explain, kg."""
        beside = rule.times_neighbours * (self.others or 0.0)
        foraging = max(beside, rule.times_usual * (self.usual or 0.0), 0.0)
        return foraging + PLAIN_KG + MEAL_KG * self.fed + self.ripening + TIMES_NOISE * self.noise


def why_not_now(look: Look, known: Known) -> str | None:
    """Return the named reason why robbing is not asked about at this moment at all, or None. Looks at no stream."""
    if known.flow:
        return "flow-is-on"
    if not ROBBING_HOURS[0] <= solar_hour(look.yard, look.now) <= ROBBING_HOURS[1]:
        return "wrong-hour"
    return "handled-lately" if known.last_step >= look.now - CALM else None


def measure(look: Look, weight: Series, *, since: Millis, fed: bool) -> Loss | None:
    """Measure the loss of `weight` (kg) from `since`, dawn or later, up to now.

    None where the weight then is not known, or there is no loss worth comparing.
    """
    rule, dawn = look.rules.robbing, look.sun.dawn
    rate = _lost(weight, look.now, rule.least_hours) / rule.least_hours
    today = _lost_since(weight, since, look.now) if rate >= rule.least_kg_per_hour else None
    if today is None or today < EXCUSED_KG:
        return None
    usual = [u for back in (1, 2, 3) if (u := _deepest(weight, dawn - back * DAY, look.now - back * DAY)) is not None]
    others = [
        o
        for hive in look.neighbours()
        if (o := _lost_since(look.other(Quantity.WEIGHT, hive), since, look.now)) is not None
    ]
    return Loss(
        rate=rate,
        today=today,
        usual=max(usual) if len(usual) > 1 else None,
        others=statistics.median(others) if others else None,
        fed=fed,
        ripening=ripening(look, look.hive or "", dawn),
        noise=noise(weight.since(since).value),
    )


def ripening(look: Look, hive: str, dawn: Millis) -> float:
    """Return how much water the nectar of the last days may still lose from a dawn to dusk, kg."""
    lately = [
        d for d in look.days.get(hive, ())[-RIPENING_DAYS - 1 :] if 0 < dawn - d.start <= (RIPENING_DAYS + 0.5) * DAY
    ]
    return RIPENS * sum(max(0.0, d.foraging_gain or 0.0) for d in lately)


def why_not(look: Look, loss: Loss) -> str | None:
    """Return the named reason why a loss is no robbing, or None when it probably is."""
    checks = (
        ("too-fast-for-robbers", loss.rate > look.rules.robbing.most_kg_per_hour),
        ("nothing-to-compare-with", loss.usual is None),
        ("could-be-foragers-or-drying", loss.today < loss.excused(look.rules.robbing)),
        ("rain-drying-alone", loss.others is None and _rained(look)),
        ("cooling-its-nest", too_hot(look, look.hive, look.sun.dawn)),
        ("too-cold-to-fly", too_cold(look, look.sun.dawn, look.now)),
        ("handled-lately", stirred(look.own(Quantity.WEIGHT).since(look.now - CALM))),
        ("scale-restless-at-night", restless_at_night(look, look.hive or "", look.sun.dawn)),
    )
    return next((reason for reason, holds in checks if holds), None)


def restless_at_night(look: Look, hive: str, dawn: Millis) -> bool:
    """Whether in the night before a dawn a hive's scale went where no hive and no neighbour does."""
    nights = {
        other: night.overnight_change
        for other, kept in look.days.items()
        if (night := next((d for d in reversed(kept) if abs(d.end - dawn) <= HOUR), None)) is not None
        and night.overnight_change is not None
    }
    own = nights.pop(hive, None)
    return own is not None and abs(own - statistics.median(nights.values() or [0.0])) > NIGHT_KG


def too_hot(look: Look, hive: str | None, dawn: Millis) -> bool:
    """Whether a hive's nest has been too hot today or the day before: it evaporates water by the kilogram then."""
    return bool(look.events(Kind.BROOD_HOT, hive=hive, since=dawn - DAY))


def too_cold(look: Look, start: Millis, end: Millis) -> bool:
    """Whether it was never warm enough to fly: what melts, drips or dries goes without robbers. Unknown: no."""
    outside = look.other(Quantity.OUTSIDE_TEMPERATURE, None).between(start, end).value
    return len(outside) > 0 and float(outside.max()) < look.rules.flow.flying_celsius


def _lost(series: Series, end: Millis, hours: float) -> float:
    """Return the weight lost over the hours before `end`, kg, between medians of twenty minutes; 0 where unknown."""
    start = end - round(hours * HOUR)
    old, new = level(series, start - WIDTH, start + 1), level(series, end - WIDTH, end + 1)
    return 0.0 if old is None or new is None else old - new


def _lost_since(series: Series, start: Millis, now: Millis) -> float | None:
    """Return the weight lost since the hour before a moment, kg, or None where either end is not known."""
    home, out = level(series, start - HOUR, start + WIDTH), level(series, now - max(WIDTH, HOUR // 2), now + 1)
    return None if home is None or out is None else home - out


def _deepest(series: Series, dawn: Millis, now: Millis) -> float | None:
    """Return the most a hive stood below its dawn weight within an hour and a half of `now`, kg; None where unknown."""
    home = level(series, dawn - HOUR, dawn + WIDTH)
    part = series.between(now - 3 * HOUR // 2, now + 3 * HOUR // 2)
    return None if home is None or not len(part.value) else home - quantile(part.value, 0.1)


def _rained(look: Look) -> bool:
    return float(look.other(Quantity.RAIN, None).since(look.now - DAY // 2).value.sum()) > 1.0


def _began(weight: Series, now: Millis, rate: float) -> Millis:
    """Return the start of the unbroken hours of loss that led here, at most ten hours back."""
    start = now
    for _ in range(20):
        if _lost(weight, start, 0.5) < 0.25 * rate:
            break
        start -= 30 * MINUTE
    return start

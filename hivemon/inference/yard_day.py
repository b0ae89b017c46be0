"""One hive day of a yard: what its hives together say of forage, and how sure that is.

Every hive has a voice that counts as much as it is sure: calm hives most, hives that were handled or fed less.
"""

from __future__ import annotations

import math
import statistics
from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.inference.feeding import dried
from hivemon.model import HiveDay, Kind, Millis
from hivemon.signals.clean import MEDIAN_VARIANCE, NORMAL_MAD, median

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from hivemon.inference.feeding import Meal
    from hivemon.inference.look import Look
    from hivemon.rules import FlowRule
    from hivemon.signals.weather import Weather

SPEAKING_PART = 0.3
"""Least part of a yard's hives that must say something for the day to count: one of three, three of ten. Our rule."""

MOST_LOST_KG = -1.5
"""A day's loss beyond this is no eating (0.15-0.3 kg a day: Seeley's budget) nor drying, but a step not taken out."""

MOST_GAINED_KG = 10.0
"""A day's gain beyond this is no nectar either: 4 to 5 kg are strong, over 9 exceptional (Crane 1990, from memory)."""

LEAST_COVERAGE = 0.6
"""Share of a day's hours a hive must have reported to count. Our rule."""

LEAST_DOUBT_KG = 0.03
"""What no scale in the open does better than from one dawn to the next. Our rule."""

HANDLED_KG = 0.12
"""Standard deviation of what a visit leaves in a net gain: a step is never taken out to the gram. Our rule."""

MOST_DOUBT_KG = 0.3
"""A hive whose net gain is less sure than this has no voice. Our rule."""

LONE_KG = 0.05
"""How far a hive alone may stray from what neighbours would show: water in its wood, a handful not logged. Our rule."""

UNSURE_OF_MEAL = 0.6
"""Standard deviation of what a meal loses in a day, as part of what it is reckoned to lose. Our rule."""


class YardDay(msgspec.Struct, frozen=True):
    """One hive day of a yard: its median working hive's net gain (kg), how many hives that is, and the weather.

    `spread`: median absolute deviation among the hives, kg; `doubt`: standard deviation of the net gain by scales,
    visits and meals, kg, water apart; `water`: what is reckoned to lie on a hive at the end, kg; `granted`: what of the
    net gain is there only because meals are reckoned to have lost it, kg; `gauged`: whether a gauge told what fell.
    """

    start: Millis
    end: Millis
    net: float | None
    hives: int
    spread: float
    flying: bool | None
    hours: float | None
    soaked: bool
    water: float = 0.0
    doubt: float = LEAST_DOUBT_KG
    granted: float = 0.0
    gauged: bool = True


class Voice(NamedTuple):
    """A hive's net gain without what a meal loses, and its standard deviation, kg; what of it all fed hives share.

    `granted`: what a meal is reckoned to have lost, kg; it is in the gain.
    """

    gain: float
    doubt: float
    shared: float
    granted: float = 0.0


def yard_day(
    look: Look,
    when: HiveDay,
    days: Sequence[HiveDay],
    meals: Mapping[str, Sequence[Meal]],
    hives: int,
    weather: Weather,
    *,
    robbed_on: Collection[str] = (),
) -> YardDay:
    """Sum up one hive day of the yard from the `days` of those of its `hives` whose scales can be trusted.

    `robbed_on`: the hives at which robbing told before goes on.

    Where too few are left, or where the surest gain what most do not, the day says nothing: nectar comes to all, a meal
    overlooked to one.
    """
    robbed = [d for d in days if d.hive in robbed_on or _robbed(look, d)]
    voices = [_voice(d, meals.get(d.hive, ())) for d in days if _works(d) and d not in robbed]
    voices = _without_loot([v for v in voices if v.doubt <= MOST_DOUBT_KG], robbed)
    net = _middle(voices) if voices and len(voices) >= SPEAKING_PART * hives else None
    if net is not None and _alone(net, voices, look.rules.flow):
        net = None
    return YardDay(
        start=when.start,
        end=when.end,
        net=net,
        hives=0 if net is None else len(voices),
        spread=0.0 if net is None else round(statistics.median(abs(v.gain - net) for v in voices), 3),
        flying=weather.flying,
        hours=weather.flying_hours,
        water=weather.water,
        soaked=weather.soaked,
        doubt=LEAST_DOUBT_KG if net is None else round(_doubt(voices, net), 3),
        granted=0.0 if net is None else round(net - _middle([v._replace(gain=v.gain - v.granted) for v in voices]), 3),
        gauged=weather.rain_mm is not None,
    )


def _alone(net: float, voices: Sequence[Voice], rule: FlowRule) -> bool:
    """Whether a gain like a flow's is not shared by the plain median of all that have a voice."""
    return net >= rule.flow_kg_per_day and statistics.median(v.gain for v in voices) < rule.flow_end_kg_per_day


def _works(day: HiveDay) -> bool:
    """Whether a hive's day was measured well enough to speak of forage."""
    likely = day.net_gain is not None and MOST_LOST_KG <= day.net_gain <= MOST_GAINED_KG
    return likely and day.coverage >= LEAST_COVERAGE


def _robbed(look: Look, day: HiveDay) -> bool:
    """Whether robbing of a hive began on a day."""
    return any(e.onset < day.end for e in look.events(Kind.ROBBING, hive=day.hive, since=day.start))


def _without_loot(voices: Sequence[Voice], robbed: Sequence[HiveDay]) -> list[Voice]:
    """Take off what robbers brought home: what the robbed lost, shared among the others.

    Robbers may come from other yards, too: how much of it stayed here is known to half.
    """
    loot = sum(max(0.0, -(d.net_gain or 0.0)) for d in robbed) / max(len(voices), 1)
    return [
        v._replace(gain=v.gain - loot, doubt=math.hypot(v.doubt, loot / 2), shared=math.hypot(v.shared, loot / 2))
        for v in voices
    ]


def _voice(day: HiveDay, meals: Sequence[Meal]) -> Voice:
    """Say what a hive's day says of forage: a meal that shrinks is no loss, a day with hands in it is less sure."""
    lost = sum(dried(meal, day.start, day.end) for meal in meals)
    shared = UNSURE_OF_MEAL * lost
    own = math.hypot(max(day.uncertainty or 0.0, LEAST_DOUBT_KG), HANDLED_KG if day.handled else 0.0)
    return Voice((day.net_gain or 0.0) + lost, math.hypot(own, shared), shared, lost)


def _middle(voices: Sequence[Voice]) -> float:
    """Return the median gain, every voice weighing as much as it is sure (by the inverse of its variance)."""
    ordered = sorted(voices)
    weights = np.array([v.doubt**-2 for v in ordered])
    reached = (np.cumsum(weights) - weights / 2) / weights.sum()
    return round(float(np.interp(0.5, reached, [v.gain for v in ordered])), 3)


def _doubt(voices: Sequence[Voice], net: float) -> float:
    """Return the standard deviation of that median, kg.

    What each hive has for itself, its error and how it differs from the others, shrinks with their number; what meals
    lose is misjudged alike in all that were fed.
    """
    gains, shared = np.array([v.gain for v in voices]), np.array([v.shared for v in voices])
    weights = np.array([v.doubt**-2 for v in voices])
    apart = NORMAL_MAD * median(np.abs(gains - net)) if len(voices) > 1 else LONE_KG
    alone = MEDIAN_VARIANCE * (1 / float(weights.sum()) + apart**2 / len(voices))
    return math.sqrt(alone + (float(weights @ shared) / float(weights.sum())) ** 2)

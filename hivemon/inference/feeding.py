"""What a hive was fed: meals logged, and gains that look so; and how much of a meal is driven out as water."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from hivemon.inference.cause import Cause
from hivemon.model import DAY, MINUTE, Entry, Millis

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.inference.look import Look
    from hivemon.inference.steps import Step, StepMemory
    from hivemon.model import HiveDay, LogEntry

FEED_KG = (0.5, 4.0)
"""Weight of a meal with its jar or bag: half to three litres of syrup at 1.2-1.3 kg a litre (sucrose tables)."""

USUAL_MEAL_KG = 2.0
"""Weight of a meal that nobody weighed: a litre and a half of syrup (sucrose tables). Our rule."""

FEED_SETTLES: Millis = 7 * DAY
"""Syrup loses its water and is eaten within days; until then a fed hive that loses weight need not be robbed. Our
rule."""

ODD_GAIN_SETTLES: Millis = 3 * DAY
"""How long one gain of a meal's weight, which may be anything, is given to settle. Our rule."""

MEALS_APART: Millis = 21 * DAY
"""Gains of a meal's weight no further apart than this are feeding. Our rule."""

SHRINKS = 0.3
"""Part of a meal's weight that is driven out as water: 0.36 of syrup 1:1, 0.14 of 2:1 (mass balance on sugar, from 50
or 67 % to 78 %); thin syrup is fed most. Our rule between the two."""

SHRINKS_FOR: Millis = 2 * DAY
"""In this time all but a third (1/e) of it is gone. Our rule."""

MEAL_SETTLES: Millis = 8 * DAY
"""How long a meal is reckoned with: by then it has lost all but a fiftieth of its water."""


class Meal(NamedTuple):
    """Feed given to a hive: when, and its weight in kg."""

    time: Millis
    kg: float


def fed(look: Look, memory: StepMemory, hive: str | None, start: Millis, end: Millis) -> bool:
    """Whether what a hive weighs in start <= time < end may speak of a meal: one is logged, or the weight looks so."""
    logged = look.logged(hive, {Entry.FEED}, start - FEED_SETTLES, end)
    return bool(logged) or _looks_fed(memory, start, end)


def _looks_fed(memory: StepMemory, start: Millis, end: Millis) -> bool:
    """Whether unlogged gains look like feeding that may still be settling in start <= time < end.

    One gain of a meal's weight may be anything and settles within days; gains that come again are meals.
    """
    gains = [step.after for step in memory.steps if _like_a_meal(step) and step.after < end]
    again = len([gain for gain in gains if gain >= start - MEALS_APART]) > 1
    return any(gain >= start - (FEED_SETTLES if again else ODD_GAIN_SETTLES) for gain in gains)


def meals(look: Look, memory: StepMemory, day: HiveDay) -> list[Meal]:
    """Return what a hive was fed until a day's end: meals logged, by the step they made, and gains that look so."""
    since = day.start - MEAL_SETTLES
    gains = [step for step in memory.steps if since <= step.after < day.end and step.size > 0]
    logged = [_logged_meal(look, entry, gains) for entry in look.logged(day.hive, {Entry.FEED}, since, day.end)]
    odd = [Meal(step.after, step.size) for step in gains if _like_a_meal(step)]
    return logged + [meal for meal in odd if meal not in logged]


def dried(meal: Meal, start: Millis, end: Millis) -> float:
    """Return how much water a meal is reckoned to lose between two moments, kg."""
    since, until = (max(0.0, (moment - meal.time) / SHRINKS_FOR) for moment in (start, end))
    return SHRINKS * meal.kg * (math.exp(-since) - math.exp(-until))


def _like_a_meal(step: Step) -> bool:
    """Whether an unlogged step is a gain of a meal's weight."""
    low, high = FEED_KG
    return step.cause is Cause.UNLOGGED and low <= step.size <= high


def _logged_meal(look: Look, entry: LogEntry, gains: Sequence[Step]) -> Meal:
    """Return a logged meal: when and how much the scale saw put on about then, or else what the logbook says."""
    slack = 2 * look.rules.steps.log_slack_minutes * MINUTE
    near = [step for step in gains if abs(step.after - entry.time) <= slack]
    if near:
        step = min(near, key=lambda step: abs(step.after - entry.time))
        return Meal(step.after, step.size)
    return Meal(entry.time, entry.amount or USUAL_MEAL_KG)

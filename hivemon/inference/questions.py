"""Every question, registered once: which stream wakes it, its gate, its judge. The fold knows nothing more about them.

A new question is a new module and a line here (and, if it remembers anything, a field of `HiveMemory`).
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.inference import brood, robbing, robbing_day, sensors, steps
from hivemon.inference.brood import BroodMemory
from hivemon.inference.cause import Cause, unnatural
from hivemon.inference.flow import FlowMemory, Mode
from hivemon.inference.robbing import RobbingMemory
from hivemon.inference.sensors import SensorMemory
from hivemon.inference.steps import StepMemory
from hivemon.inference.yard_day import MEAL_SETTLES, USUAL_MEAL_KG, Meal
from hivemon.model import MINUTE, Entry, Quantity
from hivemon.signals.scale_temperature import ScaleTemperature, learn

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from hivemon.config import YardSettings
    from hivemon.inference.look import Look
    from hivemon.inference.steps import Step
    from hivemon.model import HiveDay, LogEntry, Millis, Series
    from hivemon.rules import Rules


class HiveMemory(msgspec.Struct, frozen=True):
    """What all questions together remember of one hive."""

    steps: StepMemory = StepMemory()
    brood: BroodMemory = BroodMemory()
    robbing: RobbingMemory = RobbingMemory()
    sensors: SensorMemory = SensorMemory()
    scale: ScaleTemperature = ScaleTemperature()


class YardMemory(msgspec.Struct, frozen=True):
    """What the yard's questions remember."""

    flow: FlowMemory = FlowMemory()


class Question(NamedTuple):
    """A question asked of one hive while readings come in.

    `gate(window, first_new, rules, yard)` returns the times of new readings worth a look, memoryless and vectorised;
    `restless(memory)` says whether every next reading is wanted too; `asleep(memory, yard)` whether none is before the
    next reckoning, whatever it be; `judge(look, memory, yard)` answers.
    """

    wakes: Quantity
    gate: Callable[[Series, int, Rules, YardSettings], NDArray]  # type: ignore[type-arg]
    restless: Callable[[HiveMemory], bool]
    asleep: Callable[[HiveMemory, YardMemory], bool]
    judge: Callable[[Look, HiveMemory, YardMemory], HiveMemory]


def _steps(look: Look, memory: HiveMemory, yard: YardMemory) -> HiveMemory:
    dearth = yard.flow.mode is Mode.DEARTH
    return msgspec.structs.replace(memory, steps=steps.judge(look, memory.steps, dearth=dearth))


def _brood(look: Look, memory: HiveMemory, _: YardMemory) -> HiveMemory:
    return msgspec.structs.replace(memory, brood=brood.judge_hour(look, memory.brood))


def _robbing(look: Look, memory: HiveMemory, yard: YardMemory) -> HiveMemory:
    known = robbing.Known(
        last_step=last_jump(memory),
        flow=yard.flow.mode is Mode.FLOW,
        fed=partial(_fed_between, look, memory, look.hive, look.now, look.now),
        scale_error=memory.scale.error,
    )
    return msgspec.structs.replace(memory, robbing=robbing.judge(look, memory.robbing, known))


QUESTIONS: tuple[Question, ...] = (
    Question(
        wakes=Quantity.WEIGHT,
        gate=lambda window, first_new, rules, _: steps.gate(window, first_new, rules),
        restless=lambda memory: steps.restless(memory.steps),
        asleep=lambda *_: False,
        judge=_steps,
    ),
    Question(
        wakes=Quantity.WEIGHT,
        gate=lambda window, first_new, rules, yard: robbing.gate(window, first_new, rules, yard.longitude),
        restless=lambda _: False,
        asleep=lambda memory, yard: (
            memory.sensors.spoils_weight or robbing.asleep(memory.robbing, flow=yard.flow.mode is Mode.FLOW)
        ),
        judge=_robbing,
    ),
    Question(
        wakes=Quantity.TEMPERATURE,
        gate=lambda window, first_new, rules, _: brood.gate(window, first_new, rules),
        restless=lambda _: False,
        asleep=lambda memory, _: brood.asleep(memory.brood),
        judge=_brood,
    ),
)


def close_day(
    look: Look, memory: HiveMemory, day: HiveDay, others: Sequence[HiveDay], *, until: Millis, wet: bool
) -> HiveMemory:
    """Ask once a day what needs a whole day to answer.

    `others`: the same day of the yard's other hives; `wet`: there may have been water on the hives at either end of it.
    """
    faults = sensors.judge_day(look, memory.sensors, until)
    if faults.wanders:
        robbed = robbing_day.take_back(look, memory.robbing, day)
    else:
        robbed = robbing_day.close_day(look, memory.robbing, day, others, wet=wet, fed=fed(look, memory, day))
    return msgspec.structs.replace(
        memory,
        sensors=faults,
        brood=brood.judge_day(look, memory.brood, day),
        robbing=robbed,
        scale=_learn_scale(look, memory.scale, day),
    )


def _learn_scale(look: Look, known: ScaleTemperature, day: HiveDay) -> ScaleTemperature:
    outside, rain = look.other(Quantity.OUTSIDE_TEMPERATURE, None), look.other(Quantity.RAIN, None)
    return learn(known, day.dusk, day.end, look.other(Quantity.WEIGHT, look.hive), outside, rain)


def fed(look: Look, memory: HiveMemory, day: HiveDay) -> bool:
    """Whether a hive's day speaks of a meal and not of forage: one is logged, or the weight looks like it."""
    return _fed_between(look, memory, day.hive, day.start, day.end)


def _fed_between(look: Look, memory: HiveMemory, hive: str | None, start: Millis, end: Millis) -> bool:
    if look.logged(hive, {Entry.FEED}, start - steps.FEED_SETTLES, end):
        return True
    return steps.fed_lately(memory.steps, start, end)


def meals(look: Look, memory: HiveMemory, day: HiveDay) -> list[Meal]:
    """Return what a hive was fed until a day's end: meals logged, by the step they made, and gains that look so."""
    since = day.start - MEAL_SETTLES
    gains = [s for s in memory.steps.steps if since <= s.after < day.end and s.size > 0]
    logged = [_meal(look, e, gains) for e in look.logged(day.hive, {Entry.FEED}, since, day.end)]
    low, high = steps.FEED_KG
    odd = [Meal(s.after, s.size) for s in gains if s.cause is Cause.UNLOGGED and low <= s.size <= high]
    return logged + [meal for meal in odd if meal not in logged]


def _meal(look: Look, entry: LogEntry, gains: Sequence[Step]) -> Meal:
    """Return a logged meal: when and how much the scale saw put on about then, or else what the logbook says."""
    slack = 2 * look.rules.steps.log_slack_minutes * MINUTE
    near = [s for s in gains if abs(s.after - entry.time) <= slack]
    if near:
        step = min(near, key=lambda s: abs(s.after - entry.time))
        return Meal(step.after, step.size)
    return Meal(entry.time, entry.amount or USUAL_MEAL_KG)


def last_jump(memory: HiveMemory) -> Millis:
    """Return when the weight last jumped or began to be watched; 0 for never."""
    judged = max((s.after for s in unnatural(memory.steps.steps)), default=0)
    return max(judged, memory.steps.opened or 0)

"""Every question, registered once: which stream wakes it, its gate, its judge. The fold knows nothing more about them.

A new question is a new module and a line here (and, if it remembers anything, a field of `HiveMemory`).
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.inference import brood, feeding, robbing, robbing_day, sensors, steps
from hivemon.inference.brood import BroodMemory
from hivemon.inference.cause import unnatural
from hivemon.inference.flow import FlowMemory, Mode
from hivemon.inference.robbing import RobbingMemory
from hivemon.inference.sensors import SensorMemory
from hivemon.inference.steps import StepMemory
from hivemon.model import Quantity
from hivemon.signals.scale_temperature import ScaleTemperature, learn

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from hivemon.config import YardSettings
    from hivemon.inference.look import Look
    from hivemon.model import HiveDay, Millis, Series
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
    judged = steps.judge(look, memory.steps, dearth=dearth, wanders=memory.sensors.wanders)
    return msgspec.structs.replace(memory, steps=judged)


def _brood(look: Look, memory: HiveMemory, _: YardMemory) -> HiveMemory:
    return msgspec.structs.replace(memory, brood=brood.judge_hour(look, memory.brood))


def _robbing(look: Look, memory: HiveMemory, yard: YardMemory) -> HiveMemory:
    known = robbing.Known(
        last_step=last_jump(memory),
        flow=yard.flow.mode is Mode.FLOW,
        fed=partial(feeding.fed, look, memory.steps, look.hive, look.now, look.now),
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
        steps.take_back(look, day.start)
        robbed = robbing_day.take_back(look, memory.robbing, day)
    else:
        fed = feeding.fed(look, memory.steps, day.hive, day.start, day.end)
        robbed = robbing_day.close_day(look, memory.robbing, day, others, wet=wet, fed=fed)
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


def last_jump(memory: HiveMemory) -> Millis:
    """Return when the weight last jumped or began to be watched; 0 for never."""
    judged = max((s.after for s in unnatural(memory.steps.steps)), default=0)
    return max(judged, memory.steps.opened or 0)

"""Steps of the weight: who did that? A swarm, a person, the weather, or nobody (it came back).

A gate lets through readings half a kilogram off half an hour before. From then on the hive is watched: at every reading
segmentation finds the change of level, and once the new level has settled, evidence is gathered and judged (`verdict`).
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from hivemon.inference import swarm
from hivemon.inference.evidence import Evidence, gather
from hivemon.model import DAY, HOUR, MINUTE, Kind, Millis, Quantity, Series
from hivemon.signals import steps as signal
from hivemon.signals.clean import interval, noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.rules import Rules

LOOKBACK: Millis = 150 * MINUTE
"""How much weight before the gate opened the segmentation sees."""

LONGEST_WATCH: Millis = 5 * HOUR
"""An open hive is closed again by then; what has not settled is taken as it stands."""

REMEMBERED: Millis = 60 * DAY
"""How long a step is remembered: a stone laid on the lid may lie there for weeks."""

PATIENCE: Millis = 35 * MINUTE
"""How long a loss that could be a person's doing is watched before it may be called a swarm: a lifted lid is back by then, or shows more."""


class Cause(StrEnum):
    """Who or what made a step."""

    SWARM = "swarm"
    LOGGED = "logged"
    UNLOGGED = "unlogged"
    RETURNED = "returned"
    WEATHER = "weather"
    OFF_SCALE = "off-scale"
    FAULT = "fault"


class Step(msgspec.Struct, frozen=True):
    """One judged step: the readings it lies between, its size in kg, its cause, the event told of it ('' for none)."""

    before: Millis
    after: Millis
    size: float
    cause: Cause
    event: str = ""


class StepMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive. `quiet_from`: what lies before is judged and done."""

    opened: Millis | None = None
    quiet_from: Millis = 0
    steps: tuple[Step, ...] = ()


def gate(window: Series, first_new: int, rules: Rules) -> NDArray[np.int64]:
    """Return the times of new readings worth a look."""
    return signal.gate(window, first_new, 0.8 * rules.steps.least_kg)


def restless(memory: StepMemory) -> bool:
    """Whether every next reading is wanted: something is being watched."""
    return memory.opened is not None


def judge(look: Look, memory: StepMemory) -> StepMemory:
    """Look at the weight now; tell, withdraw, or wait for the next reading."""
    opened = memory.opened if memory.opened is not None else look.now
    weight = look.own(Quantity.WEIGHT).since(max(opened - LOOKBACK, memory.quiet_from))
    change = signal.find_change(weight, opened)
    if change is None or not (_matters(look, change) or _stirred(change, look)):
        return _give_up(look, memory, opened)
    if change.settled < _settling(weight) or change.readings < 2:
        return msgspec.structs.replace(memory, opened=opened)
    return _decide(look, memory, opened, change, weight)


def _matters(look: Look, change: signal.Change) -> bool:
    """Whether a change is large enough: the rule's least, clear of the noise; half of it where the logbook expects one."""
    least = look.rules.steps.least_kg
    if abs(change.size) < least and look.entries(change.before, change.after):
        least /= 2
    return abs(change.size) >= max(least, 5 * change.noise)


def _stirred(change: signal.Change, look: Look) -> bool:
    """Whether the weight went somewhere and came back, as under a person's hands."""
    return change.overshoot >= look.rules.steps.least_kg


def _settling(weight: Series) -> Millis:
    """Return how long a level must stand to count: five minutes, or from one reading to the next where they are rarer."""
    return min(5 * MINUTE, max(interval(weight.time), MINUTE))


def _give_up(look: Look, memory: StepMemory, opened: Millis) -> StepMemory:
    """Keep watching for half an hour in case more comes; then close the watch."""
    usual = interval(look.own(Quantity.WEIGHT).time)
    if look.now - opened < max(signal.GATE_LAG, 2 * usual):
        return msgspec.structs.replace(memory, opened=opened)
    weight = look.own(Quantity.WEIGHT)
    calm = signal.calm_since(weight.since(opened - signal.GATE_LAG), noise(weight.value))
    return msgspec.structs.replace(memory, opened=None, quiet_from=max(memory.quiet_from, calm))


def _decide(look: Look, memory: StepMemory, opened: Millis, change: signal.Change, weight: Series) -> StepMemory:
    evidence = gather(look, change, weight, memory.steps)
    cause, reason, wait = verdict(evidence, look.rules, watched=look.now - opened)
    if wait:
        return msgspec.structs.replace(memory, opened=opened)
    event = _tell(look, cause, reason, evidence)
    step = Step(change.before, change.after, round(change.size, 3), cause, event)
    _settle_earlier(look, memory, step)
    kept = tuple(s for s in memory.steps if s.after >= look.now - REMEMBERED)
    return StepMemory(opened=None, quiet_from=change.after, steps=(*kept, step))


def verdict(e: Evidence, rules: Rules, *, watched: Millis) -> tuple[Cause, str, bool]:
    """Judge one settled change: (cause, named reason, whether to wait for more before saying so).

    The order matters: what a person wrote down explains first, then what the whole yard did, then what no bees can do.
    """
    if e.left_scale:
        return (Cause.LOGGED, "handled-off-scale", False) if e.visited else (Cause.OFF_SCALE, "hive-gone", False)
    no_swarm = swarm.why_not(e, rules)
    if e.fitting_entry:
        return Cause.LOGGED, "logged", False
    if e.visited and (no_swarm is not None or e.abrupt or e.stirred):
        return Cause.LOGGED, "logged-visit", False
    if e.shared:
        return Cause.WEATHER, "whole-yard", False
    if e.slow and not e.overshot:
        return Cause.WEATHER, "too-slow-for-a-step", False
    if no_swarm is None:
        could_be_a_hand = (e.fine_sampling and (e.abrupt or e.stirred)) or e.visited or e.visit_nearby
        return Cause.SWARM, "loss-within-minutes-in-flying-weather", could_be_a_hand and watched < PATIENCE
    unsettled = watched < LONGEST_WATCH and e.stirred and e.recently_stirred
    return Cause.UNLOGGED, no_swarm, unsettled


def _tell(look: Look, cause: Cause, reason: str, e: Evidence) -> str:
    """Raise what the verdict calls for; return the event's id, or '' where nothing needs saying."""
    if cause is Cause.SWARM:
        return swarm.tell(look, e, reason).id
    if cause is Cause.OFF_SCALE:
        return look.tell(
            Kind.OFF_SCALE,
            onset=e.onset,
            size=e.change.new,
            unit="kg",
            confidence=0.9,
            reason=reason,
            summary=f"The scale shows {e.change.new:.1f} kg where {e.change.old:.1f} kg stood: the hive is not on it.",
            evidence=e.numbers(),
        ).id
    if cause is Cause.UNLOGGED and abs(e.change.size) >= look.rules.steps.least_kg and not e.undoes:
        way = "more" if e.change.size > 0 else "less"
        return look.tell(
            Kind.UNLOGGED_STEP,
            onset=e.onset,
            size=e.change.size,
            unit="kg",
            confidence=0.8,
            reason=reason,
            summary=f"{abs(e.change.size):.1f} kg {way} within {e.change.lasted // MINUTE} minutes, not in the logbook.",
            evidence=e.numbers(),
        ).id
    return ""


def _settle_earlier(look: Look, memory: StepMemory, step: Step) -> None:
    """Withdraw an earlier event that this step undoes: a swarm that came back, a hive set down again."""
    if step.size <= 0:
        return
    for earlier in reversed(memory.steps):
        if earlier.event and swarm.came_back(look, earlier.size, earlier.after, step.size, step.before):
            event = look.event(earlier.event)
            if event is not None and event.kind is Kind.SWARM:
                look.withdraw(
                    earlier.event, "the weight came back: the swarm returned, or something was lifted and put back"
                )
                return

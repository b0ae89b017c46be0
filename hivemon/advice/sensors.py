"""A sensor that lies, a hive off its scale, and a step that nobody logged."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from hivemon.advice import draft
from hivemon.advice.decision import Decision
from hivemon.advice.faults import problem_of, quantity_of, standing_faults
from hivemon.advice.texts import scale as scale_texts
from hivemon.advice.texts import sensors as texts
from hivemon.inference.steps import VISIT_REASON
from hivemon.model import DAY, HANDLING, HOUR, TELLING, WEIGHT_SIGN, Entry, Event, Kind, Quantity, Urgency

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from hivemon.advice.scene import Scene
    from hivemon.limits import SensorLimits
    from hivemon.model import Advisory, LogEntry, Millis


class FaultReason(StrEnum):
    """How much a fault matters."""

    WEIGHT_BLIND = "weight-blind"
    BROOD_BLIND = "brood-blind"
    BATTERY_LOW = "battery-low"
    MINOR = "minor"


def judge_fault(quantity: Quantity | None) -> Decision[Urgency, FaultReason]:
    """Return how soon to see to a faulty sensor, and why. One in the brood nest waits for the next inspection."""
    if quantity is Quantity.WEIGHT:
        return Decision(Urgency.THIS_WEEK, FaultReason.WEIGHT_BLIND, 0.8)
    if quantity is Quantity.BATTERY:
        return Decision(Urgency.THIS_WEEK, FaultReason.BATTERY_LOW, 0.8)
    if quantity is Quantity.TEMPERATURE:
        return Decision(Urgency.FOR_INFORMATION, FaultReason.BROOD_BLIND, 0.8)
    return Decision(Urgency.FOR_INFORMATION, FaultReason.MINOR, 0.8)


def faults(scene: Scene) -> Iterator[Advisory]:
    """Tell of each sensor that lies and what that means for the advice; one note a sensor, one for a silent node."""
    latest: dict[tuple[str | None, Quantity | None], Event] = {}
    for event in standing_faults(scene):
        latest[event.hive, quantity_of(event)] = event
    titles = {hive.id: hive for hive in scene.hives}
    for (hive_id, quantity), event in latest.items():
        silent = _silent_together(latest, hive_id)
        if (hive_id is not None and hive_id not in titles) or event in silent[1:]:
            continue
        name = draft.condition("sensor", scene.yard.id, hive_id, quantity.value if quantity else "")
        hive = titles[hive_id] if hive_id is not None else None
        told = silent if event in silent else [event]
        yield texts.fault(scene, name, hive, told, quantity, problem_of(event), judge_fault(quantity))


def _silent_together(latest: Mapping[tuple[str | None, Quantity | None], Event], hive: str | None) -> list[Event]:
    """Return the silences of a hive's sensors, the worst first: mostly one node that sends nothing any more."""
    known = [latest[hive, quantity] for quantity in TELLING if (hive, quantity) in latest]
    return [event for event in known if problem_of(event) == "silent"]


class OffScaleReason(StrEnum):
    """Why an empty scale is or is not told."""

    HANDLED = "handled"
    BACK = "back"
    LONG_AGO = "long-ago"
    GONE = "gone"


def judge_off_scale(
    *,
    days: float,
    handled: bool,
    weight: float | None,
    limits: SensorLimits,
) -> Decision[bool, OffScaleReason]:
    """Return whether to tell of a hive off its scale for `days`; `weight`: the scale's latest, kg or None."""
    if handled:
        return Decision(False, OffScaleReason.HANDLED, 0.8)
    if weight is not None and weight >= limits.back_kg:
        return Decision(False, OffScaleReason.BACK, 0.9)
    if days > limits.off_scale_days:
        return Decision(False, OffScaleReason.LONG_AGO, 0.8)
    return Decision(True, OffScaleReason.GONE, 0.9)


def off_scale(scene: Scene) -> Iterator[Advisory]:
    """Tell at once of a hive that no longer stands on its scale; close with relief when it is back."""
    limits = scene.limits.sensors
    for hive in scene.hives:
        event = scene.last(Kind.OFF_SCALE, hive=hive.id)
        if event is None:
            continue
        name = draft.condition("off-scale", scene.yard.id, hive.id, event.id)
        decision = judge_off_scale(
            days=(scene.now - event.raised) / DAY,
            handled=_somebody_there(scene, event, round(limits.near_hours * HOUR)),
            weight=scene.weights.get(hive.id),
            limits=limits,
        )
        if decision.verdict:
            yield scale_texts.gone(scene, name, hive, event)
        elif decision.reason is OffScaleReason.BACK:
            yield scale_texts.back(scene, name, hive, event)


def _somebody_there(scene: Scene, event: Event, near: Millis) -> bool:
    """Whether the logbook has somebody at the hive when it left its scale, or an answer to the alarm."""
    entries = [e for e in scene.entries(event.hive or "", since=event.onset - near) if e.time <= event.onset + near]
    return any(e.entry in HANDLING or (e.entry is Entry.NOTE and e.time >= event.onset) for e in entries)


class StepReason(StrEnum):
    """What an unlogged step probably was, or why it is not asked."""

    ANSWERED = "answered"
    LONG_AGO = "long-ago"
    SIZE_UNKNOWN = "size-unknown"
    FED = "fed"
    BOX_ON = "box-on"
    BIG_ON = "big-on"
    LITTLE_OFF = "little-off"
    BOX_OFF = "box-off"


_FEED_KG = 5.0
"""Less than this put on is mostly a feed: an empty super weighs 5 kg and more (from memory). Our rule."""
_BOX_KG = 14.0
"""More than this put on is more than one empty super. Our rule: two supers of 7 kg."""
_FRAMES_KG = 8.0
"""Less than this taken off is frames or an empty box; a full shallow super weighs 16 kg (from memory). Our rule."""


def judge_step(
    *,
    days: float,
    size: float | None,
    answered: bool,
    limits: SensorLimits,
) -> Decision[bool, StepReason]:
    """Return whether to ask about a step of `size` kg (signed) raised `days` ago, and what it probably was."""
    if answered:
        return Decision(False, StepReason.ANSWERED, 0.9)
    if days > limits.ask_days:
        return Decision(False, StepReason.LONG_AGO, 0.8)
    return Decision(True, _likely_step(size), 0.5)


def _likely_step(size: float | None) -> StepReason:
    if size is None:
        return StepReason.SIZE_UNKNOWN
    if size < 0:
        return StepReason.LITTLE_OFF if -size < _FRAMES_KG else StepReason.BOX_OFF
    if size < _FEED_KG:
        return StepReason.FED
    return StepReason.BOX_ON if size <= _BOX_KG else StepReason.BIG_ON


def _answers(entry: LogEntry, step: Event) -> bool:
    """Whether a logbook entry says what a step was; of a visit that is known, only one that names what it moved."""
    if step.reason == VISIT_REASON and entry.entry in HANDLING and entry.entry not in WEIGHT_SIGN:
        return False
    return entry.entry is not Entry.SWARM_SEEN


def unlogged_steps(scene: Scene) -> Iterator[Advisory]:
    """Ask once, kindly, about each step that the logbook does not explain."""
    limits = scene.limits.sensors
    near = round(limits.near_hours * HOUR)
    for hive in scene.hives:
        for event in scene.find(Kind.UNLOGGED_STEP, hive=hive.id):
            entries = scene.entries(hive.id, since=event.onset - near)
            answered = any(e.time <= event.onset + near and _answers(e, event) for e in entries)
            decision = judge_step(
                days=(scene.now - event.raised) / DAY,
                size=event.size,
                answered=answered,
                limits=limits,
            )
            if decision.verdict:
                name = draft.condition("step", scene.yard.id, hive.id, event.id)
                yield scale_texts.step(scene, name, hive, event, decision, visited=event.reason == VISIT_REASON)

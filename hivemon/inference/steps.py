"""Steps of the weight: who did that? A swarm, a person, the weather, or nobody (it came back).

A gate lets through readings nearly half a kilogram off half an hour before. From then on the hive is watched: at every
reading segmentation finds the change of level, and once the new level has settled, evidence is gathered and judged
(`verdict`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.inference import swarm
from hivemon.inference.cause import Cause, unnatural
from hivemon.inference.evidence import LATEST_RETURN, NEAR, Evidence
from hivemon.inference.gather import gather, undone_by
from hivemon.model import DAY, HOUR, MINUTE, Kind, Millis, Quantity, Series
from hivemon.signals import moves
from hivemon.signals.clean import interval, noise
from hivemon.signals.steps import Change, find_change

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.model import Event
    from hivemon.rules import Rules

LOOKBACK: Millis = 150 * MINUTE
"""How much weight before the gate opened the segmentation sees. Our rule."""

LOOKBACK_READINGS = 6
"""Least readings before the gate opened that the segmentation sees, where sampling is slow. Our rule."""

SETTLING: Millis = 5 * MINUTE * 9 // 10
"""How long a level must stand: five minutes, less a clock's jitter. Our rule."""

LONGEST_WATCH: Millis = 5 * HOUR
"""An open hive is closed again by then; what has not settled is taken as it stands. Our rule."""

REMEMBERED: Millis = 60 * DAY
"""How long a step is remembered: a stone laid on the lid may lie there for weeks. Our rule."""

PATIENCE: Millis = 35 * MINUTE
"""How long a loss that could be a person's doing is watched before it is called a swarm: a lifted lid is back by then,
or shows more. Our rule."""

OFF_SCALE_PATIENCE: Millis = 15 * MINUTE
"""How long a hive may be off its scale before it is said: swapping a floor, levelling a stand take less. Our rule."""

LONGEST_LIFT: Millis = 90 * MINUTE
"""How long a hive may be off its scale while its beekeeper is known to be there, or its weight goes to and fro as in
somebody's hands. Our rule."""

PUT_BACK: Millis = 3 * HOUR
"""Time in which what a visit took off and set aside is put on again. Our rule."""

VISIT_KG = 1.5
"""What a visit may leave lighter or heavier with nothing taken or given: bees in the air, burr comb, a scraped lid.
Less than a frame of honey, two kilograms and more (common practice). Our rule."""

VISIT_REASON = "visit-tells-no-amount"
"""Why a step is asked about though somebody is known to have been there."""


class Step(msgspec.Struct, frozen=True):
    """One judged step: the readings it lies between, its size in kg, its cause, the event told of it ('' for none).

    `jump`: the largest part of it between one reading and the next, kg; 0 where that is not known.
    """

    before: Millis
    after: Millis
    size: float
    cause: Cause
    event: str = ""
    jump: float = 0.0


class StepMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive. `quiet_from`: what lies before is judged and done."""

    opened: Millis | None = None
    quiet_from: Millis = 0
    steps: tuple[Step, ...] = ()


def gate(window: Series, first_new: int, rules: Rules) -> NDArray[np.int64]:
    """Return the times of new readings worth a look."""
    return moves.gate(window, first_new, moves.NEARLY * rules.steps.least_kg)


def restless(memory: StepMemory) -> bool:
    """Whether every next reading is wanted: something is being watched."""
    return memory.opened is not None


def judge(look: Look, memory: StepMemory, *, dearth: bool = False, wanders: bool = False) -> StepMemory:
    """Look at the weight now; tell, withdraw, or wait for the next reading.

    `dearth`: the yard is in one; `wanders`: the scale is known to go up and down by itself.
    """
    opened = memory.opened if memory.opened is not None else look.now
    days = look.own(Quantity.WEIGHT)
    usual = interval(days.time)
    lookback = max(LOOKBACK, LOOKBACK_READINGS * usual)
    weight = days.since(opened - lookback)
    quiet = noise(weight.until(opened).value)  # of steps judged before, too: an open hive's own hour is no measure
    weight = weight.since(memory.quiet_from)
    change = find_change(weight, opened, quiet, days, _least(look, opened - lookback, look.now))
    if change is None or not (_is_step(look, change) or _stirred(change, look)):
        return _give_up(look, memory, opened, usual)
    settled = change.settled >= _settling(weight) and change.readings >= 2
    if not settled or visit_goes_on(look, change, watched=look.now - opened):
        return msgspec.structs.replace(memory, opened=opened)
    evidence = gather(look, change, weight, memory.steps, dearth=dearth, wanders=wanders)
    return _decide(look, memory, opened, evidence)


def _is_step(look: Look, change: Change) -> bool:
    """Whether a change is sudden and large enough: the rule's least, clear of the noise; half where one was logged."""
    least = max(_least(look, change.before, change.after), 5 * change.noise)
    return not change.gradual and abs(change.size) >= least


def _least(look: Look, start: Millis, end: Millis) -> float:
    """Return the rule's least step, kg; half of it where something was logged in a span."""
    least = look.rules.steps.least_kg
    return least / 2 if look.entries(start, end) else least


def _stirred(change: Change, look: Look) -> bool:
    """Whether the weight went somewhere and came back, as under a person's hands."""
    return change.overshoot >= look.rules.steps.least_kg


def visit_goes_on(look: Look, change: Change, *, watched: Millis) -> bool:
    """Whether it is plain already that the verdict would be to wait: a visit is logged, and this is no swarm.

    It spares gathering all evidence, at much greater cost, at every reading of every visit.
    """
    if watched >= LONGEST_WATCH or change.settled >= NEAR or not look.entries(change.before, change.after):
        return False
    if look.events(Kind.SWARM, hive=look.hive, since=change.before - LATEST_RETURN):
        return False  # this may be its return, or the rest of it
    lost, rules = -change.size, look.rules
    return lost <= 2 * rules.steps.off_scale_kg and (lost <= 0 or lost > rules.swarm.most_kg or change.overshot)


def _settling(weight: Series) -> Millis:
    """Return how long a level must stand to count: five minutes, or from one reading to the next where they are rarer.

    A swarm pours out in bursts: shorter rests are part of its leaving.
    """
    return max(SETTLING, interval(weight.time) * 9 // 10)


def _give_up(look: Look, memory: StepMemory, opened: Millis, usual: Millis) -> StepMemory:
    """Keep watching for half an hour, or twice the `usual` interval, in case more comes; then close the watch."""
    if look.now - opened < max(moves.GATE_LAG, 2 * usual):
        return msgspec.structs.replace(memory, opened=opened)
    weight = look.own(Quantity.WEIGHT)
    calm = moves.calm_since(weight.since(opened - moves.GATE_LAG), noise(weight.value))
    return msgspec.structs.replace(memory, opened=None, quiet_from=max(memory.quiet_from, calm))


def _decide(look: Look, memory: StepMemory, opened: Millis, evidence: Evidence) -> StepMemory:
    change = evidence.change
    swarmed = _swarm_that_goes_on(look, memory, evidence)
    if swarmed is not None:
        swarm.add(look, swarmed, evidence)
        return _remember(look, memory, _step(change, Cause.SWARM, swarmed.id))
    cause, reason, wait = verdict(evidence, look.rules, watched=look.now - opened)
    if wait:
        return msgspec.structs.replace(memory, opened=opened)
    event = _tell(look, cause, reason, evidence)
    step = _step(change, cause, event)
    _settle_earlier(look, memory, step, change.new)
    _settle_visit(look, [*memory.steps, step])
    _settle_question(look, undone_by(change, memory.steps))
    return _remember(look, memory, step)


def _step(change: Change, cause: Cause, event: str) -> Step:
    return Step(change.before, change.after, round(change.size, 3), cause, event, round(change.largest, 3))


def _remember(look: Look, memory: StepMemory, step: Step) -> StepMemory:
    kept = tuple(s for s in memory.steps if s.after >= look.now - REMEMBERED)
    return StepMemory(opened=None, quiet_from=step.after, steps=(*kept, step))


def _swarm_that_goes_on(look: Look, memory: StepMemory, evidence: Evidence) -> Event | None:
    """Return the swarm said last if this is the rest of it, or None."""
    last = memory.steps[-1] if memory.steps else None
    if last is None or last.cause is not Cause.SWARM:
        return None
    event = look.event(last.event)
    stands = event is not None and event.withdrawn is None
    return event if event and stands and swarm.goes_on(evidence, event, last.after, look.rules) else None


def verdict(e: Evidence, rules: Rules, *, watched: Millis) -> tuple[Cause, str, bool]:
    """Judge one settled change: (cause, named reason, whether to wait for more before saying so).

    The order matters: what a person wrote down explains first, then what the whole yard did, then what no bees can do.
    """
    unsettled = watched < LONGEST_WATCH and e.just_settled
    if e.fitting_entry:
        return Cause.LOGGED, "logged", unsettled
    if e.left_scale or e.wanders:
        return _by_the_scale(e, watched)
    no_swarm = swarm.why_not(e, rules)
    natural = _natural(e)
    if e.visited and no_swarm is not None:
        return *_left_by_visit(e), unsettled
    if natural is not None:
        return Cause.WEATHER, natural, False
    if no_swarm is None:
        waiting = min(watched, e.change.lasted + e.change.settled) < PATIENCE
        return Cause.SWARM, "loss-within-minutes-in-flying-weather", waiting and not _sure_at_once(e)
    ordinary = _ordinary(e)
    cause = Cause.UNLOGGED if ordinary is None else Cause.WEATHER
    return cause, ordinary or no_swarm, unsettled or (e.maybe_rain and e.rain_due)


def _left_by_visit(e: Evidence) -> tuple[Cause, str]:
    """Judge what a hive weighs more or less after a logged visit: a super, a meal or frames its entry does not name?"""
    named = e.weight_entry or abs(e.size) < VISIT_KG or e.undoes
    return (Cause.LOGGED, "logged-visit") if named else (Cause.UNLOGGED, VISIT_REASON)


def _sure_at_once(e: Evidence) -> bool:
    """Whether a swarm is so likely that it is told without waiting for what a person, or wind, would still do."""
    enough = swarm.SURE_IN_COMPANY if e.company else swarm.SURE_AT_ONCE
    return not e.change.restless and swarm.log_odds(e) >= enough


def _by_the_scale(e: Evidence, watched: Millis) -> tuple[Cause, str, bool]:
    """Judge a scale that wanders by itself, or shows no hive: a loose wire, or one off it for longer than a lift."""
    if not e.left_scale:
        return Cause.FAULT, "scale-wanders", False
    if e.dropped_out_before or e.dead:
        return Cause.FAULT, "scale-drops-out", False
    patience = LONGEST_LIFT if e.worked_at else OFF_SCALE_PATIENCE
    return Cause.OFF_SCALE, "hive-gone", watched < max(patience, 2 * e.interval)


def _natural(e: Evidence) -> str | None:
    """Return the named reason why neither bees nor hands need have made a change, or None."""
    checks = (
        ("whole-yard", e.shared),
        ("too-slow-for-a-step", e.weather_like),
        ("rain", e.rained_on),
        ("no-faster-than-nature", e.unhurried),
    )
    return next((reason for reason, holds in checks if holds), None)


def _ordinary(e: Evidence) -> str | None:
    """Return the named reason why a change that is no swarm is not worth a question either, or None."""
    checks = (("in-parts", e.by_degrees), ("as-on-other-days", e.as_on_other_days))
    return next((reason for reason, holds in checks if holds), None)


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
            summary=f"{abs(e.size):.1f} kg {way} within {e.change.lasted // MINUTE} minutes, not in the logbook.",
            evidence=e.numbers(),
        ).id
    return ""


def _settle_earlier(look: Look, memory: StepMemory, step: Step, level: float) -> None:
    """Withdraw swarms said before that this step, which leads to `level` kg, undoes."""
    for earlier in memory.steps:
        event = look.event(earlier.event) if earlier.cause is Cause.SWARM else None
        why = event and swarm.taken_back(look, event, earlier.after, step, level)
        if why:
            look.withdraw(earlier.event, why)


def take_back(look: Look, since: Millis) -> None:
    """Take back the swarms said from a moment on of a scale that was found to go up and down by itself."""
    for event in look.events(Kind.SWARM, hive=look.hive, since=since):
        look.withdraw(event.id, "the scale was found to go up and down by itself")


def _settle_visit(look: Look, steps: Sequence[Step]) -> None:
    """Take questions about a visit back once what went is on again: together they left the hive as it was."""
    lately = [s for s in unnatural(steps) if s.after >= steps[-1].before - PUT_BACK]
    if abs(sum(s.size for s in lately)) >= VISIT_KG:
        return
    for step in lately:
        event = look.event(step.event)
        if event is not None and event.reason == VISIT_REASON:
            look.withdraw(event.id, "what went came back within the visit")


def _settle_question(look: Look, undone: Sequence[Step]) -> None:
    """Take back the question about what came and went within a day: nobody needs to remember what it was."""
    for step in undone[-1:]:
        event = look.event(step.event)
        if event is not None and event.kind is Kind.UNLOGGED_STEP and event.withdrawn is None:
            look.withdraw(event.id, "within a day the hive weighed what it had before")

"""Between flows: supers that a trickle fills are told of once, gently; what a flow left in them is told at its end."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.boxes import boxes
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import scale_ok
from hivemon.advice.season import northern_week, season_name, tropical
from hivemon.advice.supers import gained, room
from hivemon.advice.texts import between as texts
from hivemon.model import DAY, Kind, Millis

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.boxes import Boxes
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import SuperLimits
    from hivemon.model import Advisory, Event


class BetweenReason(StrEnum):
    """Why full supers are or are not worth a word while no flow is on: first of the yard, then of a hive."""

    IN_FLOW = "in-flow"
    DEARTH = "dearth"
    OUT_OF_SEASON = "out-of-season"
    FLOW_JUST_OVER = "flow-just-over"
    BETWEEN_FLOWS = "between-flows"
    SCALE_FAULTY = "scale-faulty"
    FILL_UNKNOWN = "fill-unknown"
    NO_TRICKLE = "no-trickle"
    ROOM_ENOUGH = "room-enough"
    NEARLY_FULL = "nearly-full"


class YardEvidence(NamedTuple):
    """What says whether it is a time between flows: `week` as in the north (None: no winter there)."""

    in_flow: bool
    dearth: bool
    week: int | None
    days_since_flow: float | None


class SupersEvidence(NamedTuple):
    """What the decision on a hive with supers looks at: `left` kg of room in them."""

    scale_ok: bool
    since: Millis | None
    """When the supers were last empty, where the logbook tells."""
    trickled: float
    """Honey that came in since then, and since the last flow, kg."""
    left: float
    asked: bool
    """Whether this is being told already."""


def judge_yard(evidence: YardEvidence, limits: SuperLimits) -> Decision[bool, BetweenReason]:
    """Return whether a trickle may be filling supers now, and why."""
    week, since_flow = evidence.week, evidence.days_since_flow
    in_season = week is None or limits.between_first_week <= week <= limits.between_last_week
    reason, confidence = first_that_holds(
        (
            (evidence.in_flow, BetweenReason.IN_FLOW, 0.9),
            (evidence.dearth, BetweenReason.DEARTH, 0.9),
            (not in_season, BetweenReason.OUT_OF_SEASON, 0.8),
            (since_flow is not None and since_flow < limits.look_after_days, BetweenReason.FLOW_JUST_OVER, 0.9),
            (True, BetweenReason.BETWEEN_FLOWS, 0.7),
        ),
    )
    return Decision(reason is BetweenReason.BETWEEN_FLOWS, reason, confidence)


def judge_supers(evidence: SupersEvidence, limits: SuperLimits) -> Decision[bool, BetweenReason]:
    """Return whether to tell that a hive's supers are nearly full though no flow is on, and why."""
    hold = 2.0 if evidence.asked else 1.0  # once said, a poor week must not take it back
    reason, confidence = first_that_holds(
        (
            (not evidence.scale_ok, BetweenReason.SCALE_FAULTY, 0.5),
            (evidence.since is None, BetweenReason.FILL_UNKNOWN, 0.5),
            (evidence.trickled < limits.trickle_kg / hold, BetweenReason.NO_TRICKLE, 0.7),
            (evidence.left > limits.between_kg * hold, BetweenReason.ROOM_ENOUGH, 0.7),
            (True, BetweenReason.NEARLY_FULL, 0.6),
        ),
    )
    return Decision(reason is BetweenReason.NEARLY_FULL, reason, confidence)


def full_supers(scene: Scene) -> Iterator[Advisory]:
    """Tell of each hive whose supers are nearly full while no flow is on, once for each set of supers."""
    last = scene.last(Kind.FLOW_END)
    yard = YardEvidence(
        in_flow=scene.flow() is not None,
        dearth=scene.dearth() is not None,
        week=None if tropical(scene) else northern_week(scene),
        days_since_flow=None if last is None else (scene.now - last.onset) / DAY,
    )
    if not judge_yard(yard, scene.limits.supers).verdict:
        return
    for hive in scene.hives:
        stack = boxes(scene, hive)
        if not stack.supers:
            continue
        name = draft.condition(
            "super", scene.yard.id, hive.id, last.id if last else season_name(scene), "between", f"{stack.supers}"
        )
        found = room(scene, hive, stack, None, 0.0)
        evidence = SupersEvidence(
            scale_ok=scale_ok(scene, hive.id),
            since=found.since,
            trickled=_trickled(scene, hive, stack, found.since, last),
            left=found.left,
            asked=scene.standing(name) is not None,
        )
        decision = judge_supers(evidence, scene.limits.supers)
        if decision.verdict and found.since is not None:
            yield texts.nearly_full(scene, name, hive, stack.supers, found, last, decision.confidence)


def _trickled(scene: Scene, hive: HiveSettings, stack: Boxes, since: Millis | None, last: Event | None) -> float:
    """Return the honey, kg, that came in since the supers were empty and the last flow was over."""
    began = max(since or scene.now, last.onset if last else 0)
    return gained(scene, hive, stack._replace(taken=0), began, 0.0)[0]

"""Before swarming: room in the brood nest of a strong hive in a flow of the swarm season."""

from __future__ import annotations

import statistics
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.breaks import brood_breaks
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import scale_ok
from hivemon.advice.scene import net_gains
from hivemon.advice.season import northern_week
from hivemon.advice.spread import mean
from hivemon.advice.texts import nest as texts
from hivemon.model import DAY, Entry

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import NestLimits
    from hivemon.model import Advisory, Event


class NestReason(StrEnum):
    """Why a look for room in the brood nest is or is not worth the disturbance."""

    NO_FLOW = "no-flow"
    OUT_OF_SEASON = "out-of-season"
    SCALE_FAULTY = "scale-faulty"
    BROOD_BREAK = "brood-break"
    LOOKED = "looked"
    KEEPS_LOOKING = "keeps-looking"
    TOO_FEW_DAYS = "too-few-days"
    NOT_STRONG = "not-strong"
    STRONG = "strong"


class NestEvidence(NamedTuple):
    """What the decision looks at: gains kg a day, `week` as in the north, inspections of late."""

    in_flow: bool
    week: int
    scale_ok: bool
    brood_break: bool
    """Whether it swarmed, was split, united or got a queen within the last weeks: then it does not swarm again soon."""
    looked: bool
    """Whether it was inspected since the flow began or in the last days."""
    inspections: int
    """In the last weeks."""
    gain: float | None
    typical: float | None
    """The yard's median; None when the hive is alone."""


_OFTEN = 3
"""So many inspections in the last weeks show a beekeeper who keeps an eye on the nest himself. Our rule."""


def judge_nest(evidence: NestEvidence, limits: NestLimits) -> Decision[bool, NestReason]:
    """Return whether to ask for a look at the room in a brood nest, and why."""
    gain = evidence.gain or 0.0
    strong = limits.strong_kg_per_day
    if evidence.typical is not None:
        strong = max(strong, limits.strong_share * evidence.typical)
    reason, confidence = first_that_holds(
        (
            (not evidence.in_flow, NestReason.NO_FLOW, 0.9),
            (not limits.first_week <= evidence.week <= limits.last_week, NestReason.OUT_OF_SEASON, 0.8),
            (not evidence.scale_ok, NestReason.SCALE_FAULTY, 0.5),
            (evidence.brood_break, NestReason.BROOD_BREAK, 0.8),
            (evidence.looked, NestReason.LOOKED, 0.9),
            (evidence.inspections >= _OFTEN, NestReason.KEEPS_LOOKING, 0.7),
            (evidence.gain is None, NestReason.TOO_FEW_DAYS, 0.5),
            (gain < strong, NestReason.NOT_STRONG, 0.7),
            (True, NestReason.STRONG, 0.6),
        ),
    )
    return Decision(reason is NestReason.STRONG, reason, confidence)


def brood_nests(scene: Scene) -> Iterator[Advisory]:
    """Ask once in a flow for a look at the room in the nest of each strong hive, until it is looked at."""
    flow = scene.flow()
    if flow is None:
        return
    gains = {hive.id: _gain(scene, hive.id, flow) for hive in scene.hives}
    for hive in scene.hives:
        name = draft.condition("nest-room", scene.yard.id, hive.id, flow.id)
        decision = judge_nest(_evidence(scene, hive, flow, gains), scene.limits.nest)
        standing = scene.standing(name) is not None
        if decision.verdict or (standing and decision.reason is NestReason.NOT_STRONG):
            yield texts.room(scene, name, hive, flow, gains[hive.id] or 0.0)


def _gain(scene: Scene, hive: str, flow: Event) -> float | None:
    """Return a hive's mean gain in this flow, kg a day; None when too few days tell."""
    gains = net_gains(scene.whole_days(hive, since=flow.onset - DAY))
    return mean(gains) if len(gains) >= scene.limits.nest.gaining_days else None


def _evidence(scene: Scene, hive: HiveSettings, flow: Event, gains: dict[str, float | None]) -> NestEvidence:
    limits = scene.limits.nest
    lately = scene.now - round(limits.rest_days * DAY)
    others = [g for other, g in gains.items() if other != hive.id and g is not None]
    return NestEvidence(
        in_flow=True,
        week=northern_week(scene),
        scale_ok=scale_ok(scene, hive.id),
        brood_break=bool(brood_breaks(scene, hive.id)),
        looked=bool(scene.entries(hive.id, Entry.INSPECT, since=min(lately, flow.onset))),
        inspections=len(scene.entries(hive.id, Entry.INSPECT, since=scene.now - round(limits.once_days * DAY))),
        gain=gains[hive.id],
        typical=statistics.median(others) if others else None,
    )

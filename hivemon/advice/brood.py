"""Brood nest too cold, unsteady or well again: what to check, in which order, when to wait. Heat is in `heat.py`."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.breaks import brood_breaks
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import is_faulty
from hivemon.advice.season import broodless
from hivemon.advice.texts import brood as texts
from hivemon.advice.warmth import BROOD_KINDS, nest_is_warm
from hivemon.inference.brood import DESERTED_REASON
from hivemon.model import DAY, Entry, Event, Kind, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from hivemon.advice.breaks import Break
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import BroodLimits
    from hivemon.model import Advisory

_TROUBLE = (Kind.BROOD_COLD, Kind.BROOD_UNSTABLE)


class BroodVerdict(StrEnum):
    """What to say of a cold or unsteady nest."""

    CHECK = "check"
    EXPLAIN = "explain"
    QUIET = "quiet"


class BroodReason(StrEnum):
    """Why."""

    SENSOR_FAULTY = "sensor-faulty"
    LOOKED = "looked"
    WARM_AGAIN = "warm-again"
    LONG_AGO = "long-ago"
    WINTER = "winter"
    DESERTED = "deserted"
    SWARMED = "swarmed"
    SWARM_SEEN = "swarm-seen"
    SPLIT = "split"
    NEW_QUEEN = "new-queen"
    JUST_OPENED = "just-opened"
    COLD_FOR_ALL = "cold-for-all"
    COLD_ALONE = "cold-alone"
    NO_BROOD_AT_SENSOR = "no-brood-at-sensor"


_QUIET = frozenset(
    {
        BroodReason.SENSOR_FAULTY,
        BroodReason.LOOKED,
        BroodReason.WARM_AGAIN,
        BroodReason.LONG_AGO,
        BroodReason.WINTER,
        BroodReason.SWARMED,
        BroodReason.JUST_OPENED,
    },
)
_EXPLAINED = frozenset({BroodReason.SWARM_SEEN, BroodReason.SPLIT, BroodReason.NEW_QUEEN})
_BREAKS: dict[Kind | Entry | None, BroodReason] = {
    Kind.SWARM: BroodReason.SWARMED,
    Entry.SWARM_SEEN: BroodReason.SWARM_SEEN,
    Entry.SPLIT: BroodReason.SPLIT,
    Entry.REQUEEN: BroodReason.NEW_QUEEN,
    Entry.COMBINE: BroodReason.NEW_QUEEN,
}


class BroodEvidence(NamedTuple):
    """What is known around a cold or unsteady nest."""

    kind: Kind
    days: float
    """Since the event was raised."""
    sensor_ok: bool
    looked: bool
    """Whether the hive was inspected after the event."""
    warm_again: bool
    winter: bool
    deserted: bool
    """Whether it is too cold, too soon after bees left, for any to be in it."""
    broken_by: Kind | Entry | None
    """The swarm, split or new queen that explains a gap in the brood, the latest one."""
    just_opened: bool
    others: bool
    """Whether another hive of the yard is cold too."""


def judge_brood(evidence: BroodEvidence, limits: BroodLimits) -> Decision[BroodVerdict, BroodReason]:
    """Return what to say of a cold or unsteady nest, and why."""
    reason, confidence = _brood_reason(evidence, limits)
    if reason in _QUIET:
        return Decision(BroodVerdict.QUIET, reason, confidence)
    if reason in _EXPLAINED:
        return Decision(BroodVerdict.EXPLAIN, reason, confidence)
    return Decision(BroodVerdict.CHECK, reason, confidence)


def _brood_reason(evidence: BroodEvidence, limits: BroodLimits) -> tuple[BroodReason, float]:
    """Return the first reason that holds: what explains the readings away comes before what alarms."""
    cold = evidence.kind is Kind.BROOD_COLD
    return first_that_holds(
        (
            (not evidence.sensor_ok, BroodReason.SENSOR_FAULTY, 0.7),
            (evidence.looked, BroodReason.LOOKED, 0.8),
            (evidence.warm_again, BroodReason.WARM_AGAIN, 0.8),
            (evidence.days > limits.forget_days, BroodReason.LONG_AGO, 0.7),
            (evidence.winter, BroodReason.WINTER, 0.8),
            (evidence.deserted, BroodReason.DESERTED, 0.7),
            (evidence.broken_by is not None, _BREAKS.get(evidence.broken_by, BroodReason.SWARMED), 0.8),
            (evidence.just_opened, BroodReason.JUST_OPENED, 0.6),
            (not cold, BroodReason.NO_BROOD_AT_SENSOR, 0.6),
            (evidence.others, BroodReason.COLD_FOR_ALL, 0.6),
            (True, BroodReason.COLD_ALONE, 0.6),
        ),
    )


def brood(scene: Scene) -> Iterator[Advisory]:
    """Say what to do about each nest that is cold or unsteady; close with good news when it is warm again."""
    for hive in scene.hives:
        last = scene.last(*BROOD_KINDS, hive=hive.id)
        if last is None:
            continue
        trouble = scene.last(*_TROUBLE, hive=hive.id)
        name = draft.condition("brood", scene.yard.id, hive.id)
        if last.kind is Kind.BROOD_RECOVERED and trouble is not None:
            yield texts.recovered(scene, name, hive, last)
        elif last is trouble:
            broken = brood_breaks(scene, hive.id)
            evidence = brood_evidence(scene, hive, last, broken)
            decision = judge_brood(evidence, scene.limits.brood)
            if decision.verdict is not BroodVerdict.QUIET:
                yield texts.trouble(scene, name, hive, last, decision, since=broken[-1].time if broken else None)
            elif decision.reason is BroodReason.WARM_AGAIN:
                yield texts.recovered(scene, name, hive, last)


def brood_evidence(scene: Scene, hive: HiveSettings, event: Event, broken: Sequence[Break]) -> BroodEvidence:
    """Gather what is known around a cold or unsteady nest; `broken`: what breaks the hive's brood, the latest last."""
    limits = scene.limits.brood
    return BroodEvidence(
        kind=event.kind,
        days=(scene.now - event.raised) / DAY,
        sensor_ok=not is_faulty(scene, hive.id, Quantity.TEMPERATURE),
        looked=bool(scene.entries(hive.id, Entry.INSPECT, since=event.raised)),
        warm_again=bool(nest_is_warm(scene.whole_days(hive.id, since=event.raised), limits)),
        winter=broodless(scene),
        deserted=event.reason == DESERTED_REASON,
        broken_by=broken[-1].by if broken else None,
        just_opened=_just_opened(scene, hive, event),
        others=any(e.hive != hive.id for e in scene.find(Kind.BROOD_COLD, since=event.onset - 2 * DAY)),
    )


def _just_opened(scene: Scene, hive: HiveSettings, event: Event) -> bool:
    """Whether the hive was opened shortly before, and all this is too new to be told from that."""
    span = round(scene.limits.brood.handled_days * DAY)
    opened = scene.entries(hive.id, Entry.INSPECT, Entry.MOVED, since=event.onset - span)
    return scene.now - event.raised < span and any(e.time < event.raised for e in opened)

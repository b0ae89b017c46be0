"""Robbing: what to do while it goes on, with heat in mind, and how long to watch."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from hivemon.advice import draft
from hivemon.advice.decision import Decision
from hivemon.advice.faults import scale_ok
from hivemon.advice.heat import entrance_of
from hivemon.advice.texts import robbing as texts
from hivemon.model import DAY, HOUR, Entry, Event, Kind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.limits import HeatLimits
    from hivemon.model import Advisory

_TAKEN = (Entry.HARVEST, Entry.SUPER_OFF, Entry.SPLIT, Entry.COMBINE)


class RobbingVerdict(StrEnum):
    """What to say of robbing."""

    ACT = "act"
    WATCH = "watch"
    QUIET = "quiet"


class RobbingReason(StrEnum):
    """Why."""

    SCALE_FAULTY = "scale-faulty"
    BEEKEEPER_TOOK = "beekeeper-took"
    UNDER_WAY = "under-way"
    MAY_COME_BACK = "may-come-back"
    OVER = "over"


def judge_robbing(
    *,
    hours: float,
    scale_believed: bool,
    taken_by_person: bool,
    limits: HeatLimits,
) -> Decision[RobbingVerdict, RobbingReason]:
    """Return what to say `hours` after robbing was raised, and why."""
    if not scale_believed:
        return Decision(RobbingVerdict.QUIET, RobbingReason.SCALE_FAULTY, 0.6)
    if taken_by_person:
        return Decision(RobbingVerdict.QUIET, RobbingReason.BEEKEEPER_TOOK, 0.7)
    if hours <= limits.robbed_hours:
        return Decision(RobbingVerdict.ACT, RobbingReason.UNDER_WAY, 0.7)
    if hours <= limits.watch_hours:
        return Decision(RobbingVerdict.WATCH, RobbingReason.MAY_COME_BACK, 0.6)
    return Decision(RobbingVerdict.QUIET, RobbingReason.OVER, 0.8)


def robbed(scene: Scene) -> Iterator[Advisory]:
    """Say what to do for each hive that is being robbed or lately was; one note a hive, the latest event leads."""
    for hive in scene.hives:
        event = scene.last(Kind.ROBBING, hive=hive.id)
        if event is None:
            continue
        decision = judge_robbing(
            hours=(scene.now - event.raised) / HOUR,
            scale_believed=scale_ok(scene, hive.id),
            taken_by_person=_taken(scene, hive.id, event),
            limits=scene.limits.heat,
        )
        if decision.verdict is RobbingVerdict.QUIET:
            continue
        entrance = entrance_of(scene, hive, robbers=True)
        act = decision.verdict is RobbingVerdict.ACT
        yield texts.robbing(scene, draft.condition("robbing", scene.yard.id, hive.id), hive, event, entrance, act=act)


def under_way(scene: Scene, hive: str) -> bool:
    """Whether a hive was robbed within the last day: syrup in it now would only feed the robbers."""
    event = scene.last(Kind.ROBBING, hive=hive)
    return event is not None and scene.now - event.raised <= DAY and not _taken(scene, hive, event)


def _taken(scene: Scene, hive: str, event: Event) -> bool:
    """Whether the beekeeper took something out within hours of it: then the loss is no robbing."""
    near = round(scene.limits.heat.robbed_hours * HOUR)
    return any(e.time <= event.raised + near for e in scene.entries(hive, *_TAKEN, since=event.onset - near))

"""Heat: an overheated brood nest, water and shade, and ventilation before a reduced entrance."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.decision import Decision
from hivemon.advice.faults import is_faulty
from hivemon.advice.texts import brood as brood_texts
from hivemon.advice.texts import heat as texts
from hivemon.advice.warmth import BROOD_KINDS
from hivemon.model import DAY, HOUR, Event, Kind, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import HeatLimits
    from hivemon.model import Advisory

_SWARM_HOURS = 3.0
"""Swarming bees warm the nest for minutes (Zacepins et al. 2016, from memory); this near it explains the heat."""


class Entrance(StrEnum):
    """What to do with the entrance of a hive."""

    VENTILATE = "ventilate"
    REDUCE = "reduce"
    LEAVE = "leave"


class EntranceReason(StrEnum):
    """Why."""

    HEAT = "heat"
    HEAT_BEFORE_ROBBING = "heat-before-robbing"
    FLOOR_SCREENED = "floor-screened"
    ROBBERS = "robbers"
    NOTHING = "nothing"


def judge_entrance(*, hot: bool, robbers: bool, screened: bool) -> Decision[Entrance, EntranceReason]:
    """Return what to do with an entrance; `robbers`: robbing or a dearth that invites it.

    Common practice: in great heat ventilation comes first; the entrance is reduced only over a screened floor.
    """
    if hot and robbers and screened:
        return Decision(Entrance.REDUCE, EntranceReason.FLOOR_SCREENED, 0.8)
    if hot and robbers:
        return Decision(Entrance.VENTILATE, EntranceReason.HEAT_BEFORE_ROBBING, 0.8)
    if hot:
        return Decision(Entrance.VENTILATE, EntranceReason.HEAT, 0.9)
    if robbers:
        return Decision(Entrance.REDUCE, EntranceReason.ROBBERS, 0.9)
    return Decision(Entrance.LEAVE, EntranceReason.NOTHING, 0.9)


def is_hot(scene: Scene, hive: str) -> bool:
    """Whether heat is a matter at a hive now: hot air outside or an overheated nest."""
    outside = scene.outside_celsius
    if outside is not None and outside >= scene.limits.heat.hot_outside_celsius:
        return True
    return overheating(scene, hive) is not None


def overheating(scene: Scene, hive: str) -> Event | None:
    """Return the event of an overheated nest that still stands, or None."""
    last = scene.last(*BROOD_KINDS, hive=hive)
    if last is None or last.kind is not Kind.BROOD_HOT or _has_cooled(scene, hive, last):
        return None
    return None if scene.now - last.raised > scene.limits.heat.forget_days * DAY else last


def _has_cooled(scene: Scene, hive: str, hot: Event) -> bool:
    """Whether a whole day since has had the right mean warmth."""
    return any(
        d.temperature_mean is not None and d.temperature_mean <= scene.limits.heat.safe_brood_celsius
        for d in scene.whole_days(hive, since=hot.raised)
    )


class HeatReason(StrEnum):
    """Why a hot nest is or is not told."""

    NOT_HOT = "not-hot"
    SENSOR_FAULTY = "sensor-faulty"
    SWARMING = "swarming"
    HEAT_OUTSIDE = "heat-outside"
    HIVE_ALONE = "hive-alone"


class HeatEvidence(NamedTuple):
    """What is known about one hot nest."""

    hot: bool
    sensor_ok: bool
    swarmed: bool
    """Whether a swarm left within hours of it."""
    others_hot: bool
    outside: float | None
    """Highest outside temperature of the last day, °C."""


def judge_heat(evidence: HeatEvidence, limits: HeatLimits) -> Decision[bool, HeatReason]:
    """Return whether to tell of an overheated nest, and why."""
    if not evidence.hot:
        return Decision(False, HeatReason.NOT_HOT, 0.9)
    if not evidence.sensor_ok:
        return Decision(False, HeatReason.SENSOR_FAULTY, 0.7)
    if evidence.swarmed:
        return Decision(False, HeatReason.SWARMING, 0.8)
    outside = evidence.outside is not None and evidence.outside >= limits.hot_outside_celsius
    if evidence.others_hot or outside:
        return Decision(True, HeatReason.HEAT_OUTSIDE, 0.9)
    return Decision(True, HeatReason.HIVE_ALONE, 0.6)


def _cooled(scene: Scene) -> Iterator[Advisory]:
    """Give the good news to close with for hives whose nest recovered."""
    for hive in scene.hives:
        last = scene.last(*BROOD_KINDS, hive=hive.id)
        if last is None:
            continue
        if last.kind is Kind.BROOD_RECOVERED or (last.kind is Kind.BROOD_HOT and _has_cooled(scene, hive.id, last)):
            yield brood_texts.recovered(scene, draft.condition("heat", scene.yard.id, hive.id), hive, last)


def hot_nests(scene: Scene) -> Iterator[Advisory]:
    """Say what to do about heat: one note for the yard when several hives suffer, else one for the hive."""
    yield from _cooled(scene)
    hot = {hive.id: overheating(scene, hive.id) for hive in scene.hives}
    suffering = sum(event is not None for event in hot.values())
    told = []
    for hive in scene.hives:
        event = hot[hive.id]
        others = suffering > (event is not None)
        decision = judge_heat(_evidence(scene, hive.id, event, others_hot=others), scene.limits.heat)
        if event is not None and decision.verdict:
            told.append((hive, event, decision))
    yard_name = draft.condition("heat", scene.yard.id, None)
    if len(told) > 1 or (told and scene.standing(yard_name)):
        yield texts.yard_hot(scene, yard_name, [hive for hive, _, _ in told], [event for _, event, _ in told])
        return
    for hive, event, decision in told:
        yield texts.hive_hot(scene, draft.condition("heat", scene.yard.id, hive.id), hive, event, decision)


def entrance_of(scene: Scene, hive: HiveSettings, *, robbers: bool) -> Decision[Entrance, EntranceReason]:
    """Return what to do with a hive's entrance."""
    return judge_entrance(hot=is_hot(scene, hive.id), robbers=robbers, screened=hive.screened_floor)


def _evidence(scene: Scene, hive: str, event: Event | None, *, others_hot: bool) -> HeatEvidence:
    near = scene.find(Kind.SWARM, hive=hive)
    return HeatEvidence(
        hot=event is not None,
        sensor_ok=not is_faulty(scene, hive, Quantity.TEMPERATURE),
        swarmed=event is not None and any(abs(s.onset - event.onset) <= _SWARM_HOURS * HOUR for s in near),
        others_hot=others_hot,
        outside=scene.outside_celsius,
    )

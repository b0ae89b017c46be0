"""Dearth: leave them alone, no harvest, small entrances; and for each hive, feed it or not."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import scale_ok
from hivemon.advice.heat import Entrance, entrance_of
from hivemon.advice.larder import Larder, larder
from hivemon.advice.robbing import under_way
from hivemon.advice.scene import once
from hivemon.advice.texts import dearth as texts
from hivemon.advice.texts import feeding as feeding_texts
from hivemon.model import DAY, Entry, Event, Urgency

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import FoodLimits
    from hivemon.model import Advisory

_HOLD = 2.0
"""Once a hive is called starving, its food must last this much longer before that is taken back. Our rule."""
_HOLD_GAIN = 1.5
"""Once feeding is asked for, the hive must gain this much more before that is taken back. Our rule."""
_LOOK_DAYS = 10.0
"""An inspection this recent told the beekeeper about the food. Our rule."""


class FeedVerdict(StrEnum):
    """What to do about food."""

    FEED = "feed"
    LOOK = "look"
    KEEP_HONEY = "keep-honey"
    LEAVE = "leave"


class FeedReason(StrEnum):
    """Why."""

    IN_FLOW = "in-flow"
    GAINING = "gaining"
    NO_WEIGHT = "no-weight"
    SCALE_FAULTY = "scale-faulty"
    JUST_FED = "just-fed"
    ENOUGH = "enough"
    SUPERS_ON = "supers-on"
    ROBBED = "robbed"
    LOOKED_LATELY = "looked-lately"
    SUPERS_UNSURE = "supers-unsure"
    UNSURE = "unsure"
    LOW = "low"
    STARVING = "starving"


class FeedEvidence(NamedTuple):
    """What the decision looks at; `larder` None when there is no weight to judge by."""

    in_flow: bool
    gaining: bool
    scale_ok: bool
    fed_lately: bool
    looked_lately: bool
    robbed: bool
    supers: int
    larder: Larder | None
    asked: bool
    """Whether something is being said about this hive's food already."""
    alarmed: bool
    """Whether it is being called starving already."""


def judge_feed(evidence: FeedEvidence, limits: FoodLimits) -> Decision[FeedVerdict, FeedReason]:
    """Return whether to feed, look, keep the honey on, or leave alone, and why.

    The order of the questions is the safety: a flow and honey supers rule feeding out before hunger is looked at.
    """
    for holds, reason, confidence in (
        (evidence.in_flow, FeedReason.IN_FLOW, 0.9),
        (evidence.gaining, FeedReason.GAINING, 0.8),
        (not evidence.scale_ok, FeedReason.SCALE_FAULTY, 0.5),
        (evidence.larder is None, FeedReason.NO_WEIGHT, 0.5),
        (evidence.fed_lately, FeedReason.JUST_FED, 0.7),
    ):
        if holds:
            return Decision(FeedVerdict.LEAVE, reason, confidence)
    assert evidence.larder is not None  # noqa: S101 - the row above returned otherwise
    if not is_low(evidence.larder, limits, asked=evidence.asked):
        return Decision(FeedVerdict.LEAVE, FeedReason.ENOUGH, 0.8 if evidence.larder.tare_known else 0.6)
    return _judge_hunger(evidence, evidence.larder, limits)


def _judge_hunger(
    evidence: FeedEvidence,
    larder_now: Larder,
    limits: FoodLimits,
) -> Decision[FeedVerdict, FeedReason]:
    """Decide for a hive whose stores look low. A guessed tare is never enough to feed by: hives differ too much."""
    guessed = not larder_now.tare_known
    starving = limits.starving_days * (_HOLD if evidence.alarmed else 1.0)
    reason, confidence = first_that_holds(
        (
            (evidence.supers > 0, FeedReason.SUPERS_ON, 0.8),
            (evidence.robbed, FeedReason.ROBBED, 0.8),
            (guessed and evidence.looked_lately, FeedReason.LOOKED_LATELY, 0.6),
            (larder_now.unsure > 0, FeedReason.SUPERS_UNSURE, 0.5),
            (guessed, FeedReason.UNSURE, 0.5),
            (larder_now.lasts.expected < starving, FeedReason.STARVING, 0.8),
            (True, FeedReason.LOW, 0.7),
        ),
    )
    return Decision(_FOR_HUNGER[reason], reason, confidence)


_FOR_HUNGER = {
    FeedReason.SUPERS_ON: FeedVerdict.KEEP_HONEY,
    FeedReason.ROBBED: FeedVerdict.LEAVE,
    FeedReason.LOOKED_LATELY: FeedVerdict.LEAVE,
    FeedReason.SUPERS_UNSURE: FeedVerdict.LOOK,
    FeedReason.UNSURE: FeedVerdict.LOOK,
    FeedReason.STARVING: FeedVerdict.FEED,
    FeedReason.LOW: FeedVerdict.FEED,
}


def is_low(found: Larder, limits: FoodLimits, *, asked: bool) -> bool:
    """Whether food is short by amount or by days; once said, it must rise further before it is taken back."""
    days = limits.let_go_days if asked else limits.warn_days
    kilos = limits.comfortable_kg if asked else limits.emergency_kg
    return found.food.mean < kilos or found.lasts.expected < days


def feeding(scene: Scene) -> Iterator[Advisory]:
    """Say for each hive short of food what to do about it."""
    for hive in scene.hives:
        evidence = feed_evidence(scene, hive)
        decision = judge_feed(evidence, scene.limits.food)
        if decision.verdict is not FeedVerdict.LEAVE and evidence.larder is not None:
            name = _food_name(scene, hive, decision.verdict)
            yield feeding_texts.food(scene, name, hive, evidence.larder, decision)


def _food_name(scene: Scene, hive: HiveSettings, verdict: FeedVerdict) -> str:
    return draft.condition(_TOPIC[verdict], scene.yard.id, hive.id)


_TOPIC = {FeedVerdict.FEED: "feed", FeedVerdict.LOOK: "look-for-food", FeedVerdict.KEEP_HONEY: "keep-honey"}


@once
def feed_evidence(scene: Scene, hive: HiveSettings) -> FeedEvidence:
    """Gather what is known about a hive's food."""
    limits = scene.limits.food
    found = larder(scene, hive)
    standing = [a for a in (scene.standing(_food_name(scene, hive, verdict)) for verdict in _TOPIC) if a is not None]
    enough = limits.gaining_kg_per_day * (_HOLD_GAIN if standing else 1.0)
    return FeedEvidence(
        in_flow=scene.flow() is not None,
        gaining=found is not None and found.gain is not None and found.gain >= enough,
        scale_ok=scale_ok(scene, hive.id),
        fed_lately=bool(scene.entries(hive.id, Entry.FEED, since=scene.now - round(limits.rest_after_feed_days * DAY))),
        looked_lately=bool(scene.entries(hive.id, Entry.INSPECT, since=scene.now - round(_LOOK_DAYS * DAY))),
        robbed=under_way(scene, hive.id),
        supers=found.supers if found else 0,
        larder=found,
        asked=bool(standing),
        alarmed=any(a.urgency is Urgency.NOW for a in standing),
    )


class DearthReason(StrEnum):
    """Why a dearth is or is not told."""

    NO_DEARTH = "no-dearth"
    LONG_AGO = "long-ago"
    DEARTH = "dearth"
    DEARTH_IN_HEAT = "dearth-in-heat"


def judge_dearth(onset: Event | None, *, days: float, hot: bool, limits: FoodLimits) -> Decision[bool, DearthReason]:
    """Return whether to tell of a dearth that began `days` ago, and why."""
    if onset is None:
        return Decision(False, DearthReason.NO_DEARTH, 0.9)
    if days > limits.dearth_days:
        return Decision(False, DearthReason.LONG_AGO, 0.7)
    return Decision(True, DearthReason.DEARTH_IN_HEAT if hot else DearthReason.DEARTH, onset.confidence)


def yard_dearth(scene: Scene) -> Iterator[Advisory]:
    """Say what a dearth asks for in the whole yard."""
    onset = scene.dearth()
    airy = [h for h in scene.hives if entrance_of(scene, h, robbers=True).verdict is Entrance.VENTILATE]
    decision = judge_dearth(
        onset,
        days=(scene.now - onset.onset) / DAY if onset else 0.0,
        hot=bool(airy),
        limits=scene.limits.food,
    )
    if onset is None or not decision.verdict:
        return
    verdicts = {h.id: judge_feed(feed_evidence(scene, h), scene.limits.food) for h in scene.hives}
    short = [h for h in scene.hives if verdicts[h.id].verdict is not FeedVerdict.LEAVE]
    enough = [h for h in scene.hives if verdicts[h.id].reason is FeedReason.ENOUGH]
    fine, guessed = ([h for h in enough if (h.tare_kg is not None) == known] for known in (True, False))
    name = draft.condition("dearth", scene.yard.id, None, onset.id)
    yield texts.dearth(scene, name, onset, airy, texts.FoodSummary(short, fine, guessed))

"""Supers: the date by which each hive needs its next one; at the flow's end, no more of them."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.advice import draft
from hivemon.advice.boxes import Boxes, boxes
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import scale_ok
from hivemon.advice.larder import colony_change, larder
from hivemon.advice.nectar import fresh_room
from hivemon.advice.room import DOUBT, DaysLeft, Filling, days_left
from hivemon.advice.scene import Scene, net_gains
from hivemon.advice.spread import deviation, fading_mean, mean
from hivemon.advice.texts import supers as texts
from hivemon.model import DAY, Event, Kind, Millis

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from hivemon.config import HiveSettings
    from hivemon.limits import SuperLimits
    from hivemon.model import Advisory

_UNKNOWN_FILL = 0.3
"""How full supers may be that were on before anything is known. Our rule."""
_HOLD = 0.5
"""Share of a threshold at which something asked is let go. Our rule, against flapping."""
_BETTER_OF_TWO = 0.56
"""Standard deviations by which the larger of two normal values exceeds the mean, on average: 1 / sqrt(pi)."""
_LEAST_RATE_DOUBT = 0.2
"""A rate is never better known than to a fifth: weather to come. Our rule."""


class SuperVerdict(StrEnum):
    """What to do about room."""

    ADD = "add"
    KEEP = "keep"
    LEAVE = "leave"


class SuperReason(StrEnum):
    """Why."""

    NO_FLOW = "no-flow"
    SCALE_FAULTY = "scale-faulty"
    RATE_UNKNOWN = "rate-unknown"
    NOT_GAINING = "not-gaining"
    WEAK = "weak"
    ROOM_ENOUGH = "room-enough"
    FIRST_SUPER = "first-super"
    ROOM_RUNS_OUT = "room-runs-out"
    FULL_NOW = "full-now"


class SuperEvidence(NamedTuple):
    """What the decision looks at. Masses kg, rates kg a day, `left` in days from now."""

    in_flow: bool
    scale_ok: bool
    supers: int
    since: Millis | None
    """When the supers were last empty, where the logbook tells."""
    capacity: float
    gained: float
    rate: float | None
    typical: float | None
    """What a typical hive of the yard gains in this flow."""
    left: DaysLeft
    asked: bool
    """Whether this is being asked already."""


def judge_super(evidence: SuperEvidence, limits: SuperLimits) -> Decision[SuperVerdict, SuperReason]:
    """Return whether the hive needs a super and why."""
    reason, confidence = _super_reason(evidence, limits)
    if reason in (SuperReason.FIRST_SUPER, SuperReason.ROOM_RUNS_OUT, SuperReason.FULL_NOW):
        return Decision(SuperVerdict.ADD, reason, confidence)
    # Nectar does not wait for a scale: what was told while it could be believed still holds.
    told = evidence.asked and reason is SuperReason.SCALE_FAULTY
    return Decision(SuperVerdict.KEEP if told else SuperVerdict.LEAVE, reason, confidence)


def _super_reason(evidence: SuperEvidence, limits: SuperLimits) -> tuple[SuperReason, float]:
    known = 0.8 if evidence.since is not None else 0.6
    far = limits.let_go_days if evidence.asked else limits.ask_days
    # Once asked, half the gain is enough to go on asking: a few poor days must not take it back.
    least = limits.least_gain * (_HOLD if evidence.asked else 1.0)
    share = limits.weak_share * (_HOLD if evidence.asked else 1.0)
    return first_that_holds(
        (
            (not evidence.in_flow, SuperReason.NO_FLOW, 0.9),
            (not evidence.scale_ok, SuperReason.SCALE_FAULTY, 0.5),
            (evidence.rate is None, SuperReason.RATE_UNKNOWN, 0.5),
            ((evidence.rate or 0.0) < least, SuperReason.NOT_GAINING, 0.8),
            (
                (evidence.rate or 0.0) < share * (evidence.typical or 0.0) and evidence.left.likely > limits.weak_days,
                SuperReason.WEAK,
                0.7,
            ),
            (evidence.left.likely > far, SuperReason.ROOM_ENOUGH, 0.8),
            (evidence.supers == 0, SuperReason.FIRST_SUPER, known),
            (evidence.left.likely <= limits.today_days, SuperReason.FULL_NOW, known),
            (True, SuperReason.ROOM_RUNS_OUT, known),
        ),
    )


def next_supers(scene: Scene) -> Iterator[Advisory]:
    """Ask for a super on each hive that runs out of room."""
    flow = scene.flow()
    if flow is None:
        return  # spare the reckoning
    for hive in scene.hives:
        stack = boxes(scene, hive)
        name = draft.condition("super", scene.yard.id, hive.id, flow.id, f"{stack.supers}")
        standing = scene.standing(name)
        evidence = super_evidence(scene, hive, stack, flow, asked=standing is not None)
        decision = judge_super(evidence, scene.limits.supers)
        if decision.verdict is SuperVerdict.ADD:
            yield texts.add_super(scene, name, hive, flow, evidence, decision)
        elif decision.verdict is SuperVerdict.KEEP and standing is not None:
            yield msgspec.structs.replace(standing, id=name)


def super_evidence(
    scene: Scene,
    hive: HiveSettings,
    stack: Boxes,
    flow: Event | None,
    *,
    asked: bool,
) -> SuperEvidence:
    """Gather what is known about room and rate of one hive."""
    own = own_rate(scene, hive.id, flow)
    rate = own.kg if own.known else None
    found = room(scene, hive, stack, flow, rate or 0.0)
    fresh_low, fresh_high = fresh_room(scene, hive.id, flow)
    left = days_left(
        Filling(
            found.low, found.high, found.ripe, found.ripe + found.unseen, own.kg, own.sd, own.good_day, own.uneven,
            scene.limits.food.use_kg_per_day,
        ),
        fresh_low=fresh_low,
        fresh_high=fresh_high,
    )  # fmt: skip
    days = scene.whole_days(hive.id)
    left = left.later((scene.now - days[-1].end) / DAY if days else 0.0)
    return SuperEvidence(
        in_flow=flow is not None,
        scale_ok=scale_ok(scene, hive.id),
        supers=stack.supers,
        since=found.since,
        capacity=found.shown,
        gained=found.gained,
        rate=rate,
        typical=flow.evidence.get("rate", flow.size) if flow else None,
        left=left,
        asked=asked,
    )


class Room(NamedTuple):
    """The room for honey on a hive, kg: least and most, that shown to people, and what went in `since` it was empty.

    `ripe`: the same gain without the water that still stands in yesterday's nectar; `unseen`: what more may be in it.
    """

    low: float
    high: float
    shown: float
    since: Millis | None
    gained: float
    ripe: float
    unseen: float

    @property
    def left(self) -> float:
        """What is likely left of it, kg; below none when more came than fits."""
        return (self.low + self.high - self.unseen) / 2 - self.ripe


def room(scene: Scene, hive: HiveSettings, stack: Boxes, flow: Event | None, rate: float) -> Room:
    """Return the room on a hive, in its supers or else in its nest, at `rate` kg for a day that does not tell."""
    began = flow.onset if flow else None
    since = stack.since if stack.supers else began
    came, unseen = gained(scene, hive, stack, since or began or scene.now, rate)
    ripe = max(came - _undried(scene, hive.id), 0.0)
    if not stack.supers:
        low, high = nest_room(scene, hive, came)
        return Room(low, high, high, since, came, ripe, unseen)
    capacity = stack.supers * hive.super_kg
    unseen += 0.0 if since is not None else _UNKNOWN_FILL * capacity
    return Room(capacity, capacity / scene.limits.supers.share_low, capacity, since, came, ripe, unseen)


def _undried(scene: Scene, hive: str) -> float:
    """Return what of yesterday's gain still is water in nectar this morning, kg: no honey yet."""
    last = net_gains(scene.whole_days(hive)[-1:])
    return scene.limits.supers.undried_days * max(last[0], 0.0) if last else 0.0


def nest_room(scene: Scene, hive: HiveSettings, gained: float) -> tuple[float, float]:
    """Return the least and most honey, kg, that a nest without supers had room for when the flow began.

    What a nest in good order takes, but no more than its combs hold beside brood, pollen, the queen's empty frames and
    what is in them now by weight. `gained`: kg since the flow began.
    """
    limits = scene.limits.supers
    found = larder(scene, hive)
    if found is None:
        return limits.spare_low_kg, limits.spare_high_kg
    taken = limits.brood_frames + limits.pollen_frames + limits.queen_frames
    free = max(limits.frames * hive.brood_boxes - taken, 0.0) * limits.frame_kg - found.food.mean
    doubt = math.hypot(found.food.sd, limits.brood_frames_sd * limits.frame_kg) * DOUBT
    return (
        min(limits.spare_low_kg, gained + max(free - doubt, 0.0)),
        min(limits.spare_high_kg, gained + max(free + doubt, 0.0)),
    )


class Rate(NamedTuple):
    """A hive's gain in a flow, kg a day, and its doubt; `good_day`: what a good day's nectar makes, eaten or kept.

    `uneven`: how unlike its days are in that, standard deviation as a share of the mean.
    """

    kg: float
    sd: float
    good_day: float
    uneven: float
    known: bool = True


def own_rate(scene: Scene, hive: str, flow: Event | None) -> Rate:
    """Return what the hive gains in this flow; what the yard does where its own days do not tell yet.

    A good day is the better of two, and what was eaten on it came in too.
    """
    if flow is None:
        return Rate(0.0, 0.0, 0.0, 0.0, known=False)
    limits = scene.limits.supers
    gains = net_gains(scene.whole_days(hive, since=flow.onset - DAY // 2))[-limits.rate_days :]
    eaten = scene.limits.food.use_kg_per_day
    if len(gains) > 1:
        rate, spread = fading_mean(gains, limits.rate_half_days), deviation(gains)
        # Twice the error of the mean's square: the days behind and as many to come.
        doubt = spread * math.sqrt(2 / len(gains))
        good_day = max(mean(gains) + _BETTER_OF_TWO * spread + eaten, 0.0)
        return Rate(rate, max(doubt, _LEAST_RATE_DOUBT * abs(rate)), good_day, _uneven(gains, eaten, limits))
    given = flow.evidence.get("rate", flow.size)
    if given is None:
        return Rate(0.0, 0.0, 0.0, 0.0, known=False)
    doubt = max(flow.evidence.get("rate_sd", 0.0), 0.5 * abs(given))
    return Rate(given, doubt, max(given + eaten, 0.0), limits.uneven)


def _uneven(gains: Sequence[float], eaten: float, limits: SuperLimits) -> float:
    """Return how unlike days are in what they bring, as a share: what is usual counts as some days more."""
    brought = max(mean(gains) + eaten, limits.least_gain)
    own, usual = len(gains) - 1, limits.uneven_days
    square = own * (deviation(gains) / brought) ** 2 + usual * limits.uneven**2
    return math.sqrt(square / (own + usual))


def gained(scene: Scene, hive: HiveSettings, stack: Boxes, since: Millis, rate: float) -> tuple[float, float]:
    """Return the gain since a moment, less supers taken off full, and what days without a gain may have added, kg.

    What is eaten after the supers are empty comes out of the nest, so that the gain never falls below none. Bees and
    brood that grew or dwindled meanwhile are no honey.
    """
    days = [d for d in scene.whole_days(hive.id) if d.end > since]
    came = 0.0
    for day in days:
        share = min(max((day.dusk - since) / (day.dusk - day.start), 0.0), 1.0)
        came = max(came + share * (day.net_gain or 0.0), 0.0)
    came -= colony_change(scene, hive, since)
    missing = sum(d.net_gain is None for d in days)
    return max(came - stack.taken * hive.super_kg, 0.0), missing * max(rate, 0.0)


class FlowReason(StrEnum):
    """What the yard's flow is doing, and why it is or is not told."""

    FLOW_ON = "flow-on"
    NO_FLOW_KNOWN = "no-flow-known"
    RIPENING = "ripening"
    DEARTH_AFTER = "dearth-after"
    NO_SUPERS_ON = "no-supers-on"
    LONG_OVER = "long-over"


def judge_flow(
    *,
    last: Event | None,
    supers_on: int,
    dearth: bool,
    now: Millis,
    limits: SuperLimits,
) -> Decision[bool, FlowReason]:
    """Return whether to tell of the yard's flow or its end, and why; `last` is its latest flow event."""
    if last is None:
        return Decision(False, FlowReason.NO_FLOW_KNOWN, 0.9)
    if last.kind is Kind.FLOW_ONSET:
        return Decision(True, FlowReason.FLOW_ON, last.confidence)
    if supers_on == 0:
        return Decision(False, FlowReason.NO_SUPERS_ON, 0.8)
    if now - last.onset > limits.flow_over_days * DAY:
        return Decision(False, FlowReason.LONG_OVER, 0.9)
    return Decision(True, FlowReason.DEARTH_AFTER if dearth else FlowReason.RIPENING, last.confidence)


def yard_flow(scene: Scene) -> Iterator[Advisory]:
    """Tell that a flow has begun; when it is over, that no more supers are needed and when to look at the honey."""
    last = scene.last(Kind.FLOW_ONSET, Kind.FLOW_END)
    carrying = [hive for hive in scene.hives if boxes(scene, hive).supers]
    decision = judge_flow(
        last=last,
        supers_on=len(carrying),
        dearth=scene.dearth() is not None,
        now=scene.now,
        limits=scene.limits.supers,
    )
    if last is None or not decision.verdict:
        return
    if decision.reason is FlowReason.FLOW_ON:
        yield texts.flow_on(scene, draft.condition("flow", scene.yard.id, None, last.id), last)
    else:
        name = draft.condition("flow-over", scene.yard.id, None, last.id)
        yield texts.flow_over(scene, name, last, carrying, decision)

"""Is nectar coming in, or is this a dearth? Judged once a day for a yard, on its median working hive.

Days without flying weather say nothing about forage and are passed over. A flow is told by its mean. A dearth lies so
close to the level before it that a mean of days would flap: every day is evidence for or against it, as much as it is
sure, and an onset or an end is told when the evidence suffices. Change points say when it began. The rules, which are
ours and configurable (no published cut-offs exist), say what each level is.
"""

from __future__ import annotations

import itertools
import math
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.inference.changepoints import Run, crossing_day, spread_of_mean, strongest_run, turning_day
from hivemon.inference.yard_day import YardDay
from hivemon.model import DAY, Kind, Millis
from hivemon.signals.water import without_water

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.inference.look import Look
    from hivemon.rules import FlowRule

REMEMBERED = 45
"""Yard days kept: a long flow and what was before it."""

SEGMENTED = 24
"""Flying days that are looked at for a turn."""

FAIR_SHARE = 0.6
"""Share of a good flying day's hours below which a loss says more of the weather than of forage. Our rule."""

FORTNIGHT = 14
"""Days whose better ones show how many flying hours are to be had in the season."""

GOOD_HOURS = 6.0
"""Flying hours of a day at which a colony gathers about as much as it can that day. Our rule."""

LUCK_KG = 0.08
"""Standard deviation of true gains from day to day while forage stays the same: sun, wind and chance. Our rule."""

RAINED_ON_KG = 0.06
"""Standard deviation of what rain keeps from coming in on a day where no gauge tells of it; a loss may be that, a gain
not. Our rule."""

APART_KG = 0.1
"""How far apart the levels lie between which evidence decides: with the rule's 0.05 kg lost, 0.1 lost or nothing."""

MOST_KG = 0.25
"""What one day counts for at most: one wild day is no dearth. Our rule."""

ENOUGH_A_DAY = 0.8
"""Evidence (natural logarithm of odds) that must have gathered for each of the rule's days until a dearth is told: of
its five, 55 to 1. A calm day with 0.12 kg lost brings as much, one with 0.2 lost twice that. Our rule."""

AFTER_A_FLOW = 0.7
"""Part of that evidence which is enough right after a flow: the dearth that follows one is the usual one (common
practice), while losses out of nothing are mostly weather. Of five days' evidence, 16 to 1. Our rule."""

JUST_OVER: Millis = 8 * DAY
"""How long after its end a flow still makes a dearth likely. Our rule."""

ENOUGH_TO_END = 3.0
"""Evidence (20 to 1) at which a dearth is over: being told a day late costs little, being told in vain a visit."""

BEYOND_DOUBT = 1.0
"""Standard errors by which a flow's mean must lie below the rule's level until its end is told: rain that dries off,
or a scale in the sun, make two poor days of fair ones. Our rule."""


class Mode(StrEnum):
    """What the yard's forage is doing."""

    NEITHER = "neither"
    FLOW = "flow"
    DEARTH = "dearth"


class Forgotten(NamedTuple):
    """After how long without a flying day a mode is taken as over, and that in words."""

    after: Millis
    words: str


FORGOTTEN: dict[Mode, Forgotten] = {
    Mode.FLOW: Forgotten(10 * DAY, "No flying weather for ten days: the flow is taken as over."),
    Mode.DEARTH: Forgotten(40 * DAY, "No flying weather for forty days: the dearth is taken as over."),
}
"""Whoever cannot fly finds nothing either: a dearth lasts on through bad weather, until winter sets in. Our rule."""


class FlownDay(NamedTuple):
    """A flying day.

    `net`: its net gain without water, kg; `seen`: the same without what is granted for meals, which may not shrink as
    reckoned: it speaks for a flow, where `net` speaks against a dearth; `water` and `own`: standard deviations that the
    water and everything else leave in it, kg; `share`: how much of a good flying day it was, 0.1 to 1.
    """

    start: Millis
    end: Millis
    net: float
    seen: float
    water: float
    own: float
    share: float
    day: YardDay


class Turn(NamedTuple):
    """How one kind of turn is told: whether gains rise, the mode it leads to, its reason and its words."""

    rising: bool
    mode: Mode
    reason: str
    summary: str


TURNS: dict[Kind, Turn] = {
    Kind.FLOW_ONSET: Turn(
        True, Mode.FLOW, "mean-gain-reached", "The median hive gains {rate:.1f} kg a day: nectar comes in."
    ),
    Kind.FLOW_END: Turn(
        False, Mode.NEITHER, "mean-gain-fallen", "The flow is over: the median hive hardly gains any more."
    ),
    Kind.DEARTH_ONSET: Turn(
        False,
        Mode.DEARTH,
        "mean-loss-reached",
        "The median hive loses {rate:.2f} kg a day although bees can fly.",
    ),
    Kind.DEARTH_END: Turn(
        True, Mode.NEITHER, "loss-over", "The dearth is over: the median hive no longer loses weight."
    ),
}


class FlowMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a yard."""

    days: tuple[YardDay, ...] = ()
    mode: Mode = Mode.NEITHER
    since: Millis = 0


def judge(look: Look, memory: FlowMemory, day: YardDay) -> FlowMemory:
    """Take in one more yard day; tell an onset or an end when the newest flying days say so."""
    memory = msgspec.structs.replace(memory, days=(*memory.days, day)[-REMEMBERED:])
    flown = flown_days(memory.days)
    last_flight = max((d.end for d in memory.days if d.flying is not False), default=day.start)
    forgotten = FORGOTTEN.get(memory.mode)
    if forgotten is not None and day.end - last_flight > forgotten.after:
        return _forget(look, memory, last_flight, forgotten.words)
    if not flown or flown[-1].end != day.end or len(flown) < 2:
        return memory
    return _turn(look, memory, flown[-SEGMENTED:])


def flown_days(days: Sequence[YardDay]) -> list[FlownDay]:
    """Return the flying days, each with a net gain that holds no water."""
    flown: list[FlownDay] = []
    before = 0.0
    share = dict(zip(days, _shares(days), strict=True))
    for known, run in itertools.groupby(days, lambda d: d.net is not None):
        stretch = list(run)
        if known:
            nets = [d.net or 0.0 for d in stretch]
            gauged = [d.gauged for d in stretch]
            gains, waters = without_water(nets, [d.water for d in stretch], before=before, gauged=gauged)
            flown += [
                FlownDay(d.start, d.end, float(gain), float(gain) - d.granted, float(water), d.doubt, share[d], d)
                for d, gain, water in zip(stretch, gains, waters, strict=True)
                if d.flying is not False
            ]
        before = stretch[-1].water
    return flown


def _shares(days: Sequence[YardDay]) -> list[float]:
    """Return how good a flying day each was, 0.1 to 1: its flying hours against the better ones of the fortnight."""
    shares: list[float] = []
    known: list[float] = []
    for day in days:
        if day.hours is None:
            shares.append(1.0)
            continue
        known = [*known, day.hours][-FORTNIGHT:]
        better = sorted(known)[3 * len(known) // 4]
        shares.append(min(1.0, max(0.1, day.hours / max(better, GOOD_HOURS))))
    return shares


def _turn(look: Look, memory: FlowMemory, flown: Sequence[FlownDay]) -> FlowMemory:
    """End what is over, then begin what has begun; both can be on the same day."""
    rule = look.rules.flow
    if memory.mode is Mode.FLOW and _dries_up(flown, rule):
        memory = _tell(look, memory, Kind.FLOW_END, flown)
    elif memory.mode is Mode.DEARTH and _flows(flown, rule):
        memory = _tell(look, memory, Kind.DEARTH_END, flown)
    elif memory.mode is Mode.DEARTH and _feeds_again(since := _since(flown, memory), rule):
        never = _beyond(since, rule, rising=True).first == 0
        memory = _take_back(look, memory, since) if never else _tell(look, memory, Kind.DEARTH_END, since)
    if memory.mode is Mode.NEITHER and _flows(flown, rule):
        return _tell(look, memory, Kind.FLOW_ONSET, flown)
    since = _since(flown, memory)
    if memory.mode is Mode.NEITHER and since and _fair(since[-1]) and _starves(look, [d for d in since if _fair(d)]):
        return _tell(look, memory, Kind.DEARTH_ONSET, since)
    return memory


def _take_back(look: Look, memory: FlowMemory, flown: Sequence[FlownDay]) -> FlowMemory:
    """Withdraw a dearth that was none: all days since its first speak against it. What they were told of is done."""
    for event in look.events(Kind.DEARTH_ONSET, since=memory.since):
        look.withdraw(event.id, "the days since then gain again from its first on: forage was poor, and no dearth")
    return msgspec.structs.replace(memory, mode=Mode.NEITHER, since=flown[-1].start)


def _since(flown: Sequence[FlownDay], memory: FlowMemory) -> list[FlownDay]:
    """Return the flying days since the last turn: what was before it has been told."""
    return [d for d in flown if d.start >= memory.since]


def _fair(day: FlownDay) -> bool:
    """Whether a loss on a day may speak for a dearth: what is eaten on a day rained off is no sign of one."""
    return day.share >= FAIR_SHARE and not day.day.soaked


def _flows(flown: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether the newest days make a flow: their mean reaches the rule, and not by one lucky day alone."""
    newest = flown[-rule.flow_days :]
    if _mean(_newest(flown, rule.flow_days)) < rule.flow_kg_per_day or newest[-1].seen < rule.flow_end_kg_per_day:
        return False
    return sum(d.seen >= rule.flow_kg_per_day / 2 for d in newest) >= 2


def _dries_up(flown: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether a flow is over: the mean of its newest days lies below the rule's level beyond doubt."""
    newest = _newest(flown, rule.flow_days)
    weight = sum(d.share for d in newest)
    own = math.hypot(*(d.share * math.hypot(d.own, LUCK_KG) for d in newest))
    # Water that dries on one day came on another: over days on end only that at either end is left.
    doubt = math.hypot(own, max(d.share * d.water for d in newest)) / weight
    return _mean(newest) + BEYOND_DOUBT * doubt < rule.flow_end_kg_per_day


def _starves(look: Look, fair: Sequence[FlownDay]) -> bool:
    """Whether a run of fair days makes a dearth: bees fly, and lose the rule's rate beyond doubt, today too."""
    rule = look.rules.flow
    flow_before = bool(look.events(Kind.FLOW_END, since=look.now - JUST_OVER))
    enough = ENOUGH_A_DAY * rule.dearth_days * (AFTER_A_FLOW if flow_before else 1.0)
    return fair[-1].net <= rule.dearth_kg_per_day and _beyond(fair, rule, rising=False).evidence >= enough


def _feeds_again(flown: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether a dearth is over: a run of days in it loses less than the rule's rate beyond doubt, today too."""
    if not flown or flown[-1].net <= rule.dearth_kg_per_day:
        return False
    return _beyond(flown, rule, rising=True).evidence >= ENOUGH_TO_END


def _beyond(flown: Sequence[FlownDay], rule: FlowRule, *, rising: bool) -> Run:
    """Return the newest run of days that lies above (or below) a dearth's rate, and how sure that is."""
    sign = 1.0 if rising else -1.0
    return strongest_run(
        [sign * (d.net - rule.dearth_kg_per_day) for d in flown],
        [math.hypot(d.own, LUCK_KG, 0.0 if rising or d.day.gauged else RAINED_ON_KG) for d in flown],
        [d.water for d in flown],
        apart=APART_KG,
        most=MOST_KG,
    )


def _mean(flown: Sequence[FlownDay]) -> float:
    """Return the mean gain of flying days, better ones counting more."""
    return sum(d.share * d.seen for d in flown) / sum(d.share for d in flown)


def _newest(flown: Sequence[FlownDay], days: int) -> list[FlownDay]:
    """Return the newest flying days, newest first, that are worth `days` full ones; all where there are fewer."""
    worth = itertools.accumulate(day.share for day in reversed(flown))
    needed = next((n for n, sum_ in enumerate(worth, 1) if sum_ >= days - 0.25), len(flown))
    return list(reversed(flown))[:needed]


def _tell(look: Look, memory: FlowMemory, kind: Kind, flown: Sequence[FlownDay]) -> FlowMemory:
    """Tell an onset or an end, dated by its change point, with the rate since then; return the new mode."""
    turn = TURNS[kind]
    onset = max(_onset(kind, flown, look.rules.flow), memory.since)
    of_flow = kind in (Kind.FLOW_ONSET, Kind.FLOW_END)
    counted = [d for d in flown if d.start >= onset and (_fair(d) or kind is not Kind.DEARTH_ONSET)]
    since = [d.seen if of_flow else d.net for d in counted]
    rate, sd = float(np.mean(since)), spread_of_mean(since)
    look.tell(
        kind,
        onset=onset,
        size=rate,
        unit="kg/d",
        confidence=_sureness(rate, sd, _limit(kind, look.rules.flow), flown[-1].day.hives),
        reason=turn.reason,
        summary=turn.summary.format(rate=abs(rate)),
        evidence={
            "rate": rate,
            "rate_sd": sd,
            "hives": float(flown[-1].day.hives),
            "spread": flown[-1].day.spread,
            "days": float(len(since)),
            "newest_day": flown[-1].net,
        },
    )
    return msgspec.structs.replace(memory, mode=turn.mode, since=onset)


def _onset(kind: Kind, flown: Sequence[FlownDay], rule: FlowRule) -> Millis:
    """Return when a turn came. Without flight nobody knows: what ended then did so half-way, what began began after."""
    first = _first(kind, flown, rule).start
    before = max((d.end for d in flown if d.start < first), default=first)
    unseen = round((first - before) / DAY) if kind in (Kind.FLOW_END, Kind.DEARTH_END) else 0
    return first - unseen // 2 * DAY


def _first(kind: Kind, flown: Sequence[FlownDay], rule: FlowRule) -> FlownDay:
    """Return a turn's first day: that of the strongest evidence, or where a flow's change point lies."""
    if kind is Kind.DEARTH_ONSET:
        return _first_of_dearth(flown, rule)
    if kind is Kind.DEARTH_END and not _flows(flown, rule):
        return flown[_beyond(flown, rule, rising=True).first]
    return flown[turning_day([d.seen for d in flown], _limit(kind, rule), rising=TURNS[kind].rising)]


def _first_of_dearth(flown: Sequence[FlownDay], rule: FlowRule) -> FlownDay:
    """Return a dearth's first day: where the fair days' level turned, or a poorer day right before that lost as much.

    Rain says nothing of forage by itself, but between a flow's end and days of plain loss it was no flow either.
    """
    fair = [d for d in flown if _fair(d)]
    gains = [d.net for d in fair]
    run = _beyond(fair, rule, rising=False).first
    half_way = min(float(np.mean(gains[run:])) / 2, rule.dearth_kg_per_day)
    first = fair[run + crossing_day(gains[run:], half_way, rising=False)]
    before = [d for d in flown if d.start < first.start]
    poor = itertools.takewhile(lambda d: d.net <= rule.dearth_kg_per_day, reversed(before))
    return min(poor, default=first, key=lambda d: d.start)


def _limit(kind: Kind, rule: FlowRule) -> float:
    """Return the rule's level that a turn crosses, kg a day."""
    return {
        Kind.FLOW_ONSET: rule.flow_kg_per_day,
        Kind.FLOW_END: rule.flow_end_kg_per_day,
        Kind.DEARTH_ONSET: rule.dearth_kg_per_day,
        Kind.DEARTH_END: rule.dearth_kg_per_day,
    }[kind]


def _forget(look: Look, memory: FlowMemory, last: Millis, words: str) -> FlowMemory:
    """End what stood when there has been no flying weather for long: nothing can be known of forage."""
    look.tell(
        Kind.FLOW_END if memory.mode is Mode.FLOW else Kind.DEARTH_END,
        onset=last,
        confidence=0.6,
        reason="no-flying-weather",
        summary=words,
    )
    return msgspec.structs.replace(memory, mode=Mode.NEITHER, since=last)


def _sureness(rate: float, sd: float, limit: float, hives: int) -> float:
    """Return a confidence from how far the rate stands off the limit, in its own uncertainty. Checked in the bench."""
    margin = abs(rate - limit) / max(sd, 0.02)
    return 0.65 + 0.05 * min(margin, 4.0) + (0.05 if hives >= 3 else 0.0)

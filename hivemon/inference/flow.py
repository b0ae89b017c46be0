"""Is nectar coming in, or is this a dearth? Judged once a day for a yard, on its median working hive.

Days without flying weather say nothing about forage and are passed over. Change points find where the newest level
began; the rules, which are ours and configurable (no published cut-offs exist), say what that level is.
"""

from __future__ import annotations

import itertools
import math
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.inference.changepoints import spread_of_mean, turning_day
from hivemon.model import DAY, HiveDay, Kind, Millis
from hivemon.signals.water import without_water

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from hivemon.inference.look import Look
    from hivemon.rules import FlowRule
    from hivemon.signals.weather import Weather

REMEMBERED = 45
"""Yard days kept: a long flow and what was before it."""

SEGMENTED = 24
"""Flying days that segmentation looks at."""

FORGOTTEN: Millis = 10 * DAY
"""So long without a flying day and what forage did before is no longer known. Our rule."""

FAIR_SHARE = 0.6
"""Share of a good flying day's hours below which a loss says more of the weather than of forage. Our rule."""

SPARSE = 2
"""Days among which one fair flying day must be found for several to speak together. Our rule."""

LEAST_DRY = 3
"""Least days without heavy rain among those that speak for a dearth. Our rule."""

GOOD_HOURS = 6.0
"""Flying hours of a day at which a colony gathers about as much as it can that day. Our rule."""

SPEAKING_PART = 0.3
"""Least part of a yard's hives that must say something for the day to count: one of three, three of ten. Our rule."""

FED_GAIN = 2.0
"""How many times the rule's gain a fed yard must show: meals are easily overlooked. Our rule."""

MOST_LOST_KG = -1.5
"""A day's loss beyond this is no eating (0.15-0.3 kg a day: Seeley's budget) nor drying, but a step not taken out."""

LEAST_COVERAGE = 0.6
"""Share of a day's hours a hive must have reported to count. Our rule."""


class Mode(StrEnum):
    """What the yard's forage is doing."""

    NEITHER = "neither"
    FLOW = "flow"
    DEARTH = "dearth"


class YardDay(msgspec.Struct, frozen=True):
    """One hive day of a yard: its median working hive's net gain (kg), how many hives that is, and the weather."""

    start: Millis
    end: Millis
    net: float | None
    hives: int
    spread: float
    flying: bool | None
    hours: float | None
    wet: bool
    soaked: bool


class FlownDay(NamedTuple):
    """A flying day.

    `net`: its net gain without water, kg; `doubt`: the standard deviation that the water leaves in it, kg; `share`: how
    much of a good flying day it was, 0.1 to 1.
    """

    start: Millis
    end: Millis
    net: float
    doubt: float
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


def yard_day(
    look: Look, when: HiveDay, days: Sequence[HiveDay], fed: Collection[str], hives: int, weather: Weather
) -> YardDay:
    """Sum up one hive day of the yard from the `days` of those of its `hives` whose scales can be trusted.

    Hives that were handled that day do not count (a step is never taken out to the gram). Syrup only grows lighter once
    it is in the hive: what `fed` hives gain nevertheless is nectar, so they can speak for a flow and for nothing else.
    Where too few are left, or where they gain alone, the day says nothing: nectar comes to all, a meal overlooked to
    one.
    """
    rule = look.rules.flow
    working = [d for d in days if _works(look, d)]
    calm = [d for d in working if not d.handled]
    gains = _gains(d for d in calm if d.hive not in fed)
    if len(gains) < SPEAKING_PART * hives:
        gains = _gains(calm)
        if len(gains) < SPEAKING_PART * hives or np.median(gains) < FED_GAIN * rule.flow_kg_per_day:
            gains = []
    alone = gains and np.median(gains) >= rule.flow_kg_per_day
    if alone and np.median(_gains(working)) < rule.flow_end_kg_per_day:
        gains = []
    net = float(np.median(gains)) if gains else None
    spread = float(np.median(np.abs(np.asarray(gains) - net))) if gains else 0.0
    return YardDay(
        when.start,
        when.end,
        net,
        len(gains),
        round(spread, 3),
        weather.flying,
        weather.flying_hours,
        weather.wet,
        weather.soaked,
    )


def _gains(days: Iterable[HiveDay]) -> list[float]:
    return [d.net_gain for d in days if d.net_gain is not None]


def _works(look: Look, day: HiveDay) -> bool:
    """Whether a hive's day speaks of forage: measured well, not being robbed."""
    if day.net_gain is None or day.net_gain < MOST_LOST_KG or day.coverage < LEAST_COVERAGE:
        return False
    robbed = look.events(Kind.ROBBING, hive=day.hive, since=day.start)
    return not any(e.onset < day.end for e in robbed)


def judge(look: Look, memory: FlowMemory, day: YardDay) -> FlowMemory:
    """Take in one more yard day; tell an onset or an end when the newest flying days say so."""
    memory = msgspec.structs.replace(memory, days=(*memory.days, day)[-REMEMBERED:])
    flown = flown_days(memory.days)
    last_flight = max((d.end for d in memory.days if d.flying is not False), default=day.start)
    if day.end - last_flight > FORGOTTEN:
        return _forget(look, memory, last_flight)
    if not flown or flown[-1].end != day.end or len(flown) < 2:
        return memory
    return _turn(look, memory, flown[-SEGMENTED:])


def flown_days(days: Sequence[YardDay]) -> list[FlownDay]:
    """Return the flying days, each with a net gain that holds no water."""
    flown: list[FlownDay] = []
    began_wet = False
    for known, run in itertools.groupby(days, lambda d: d.net is not None):
        stretch = list(run)
        if known:
            nets, wet = [d.net or 0.0 for d in stretch], [d.wet for d in stretch]
            gains, doubts = without_water(nets, wet, began_wet=began_wet)
            flown += [
                FlownDay(d.start, d.end, float(gain), float(doubt), _share(d, days), d)
                for d, gain, doubt in zip(stretch, gains, doubts, strict=True)
                if d.flying is not False
            ]
        began_wet = stretch[-1].wet
    return flown


def _share(day: YardDay, days: Sequence[YardDay]) -> float:
    """Return how good a flying day it was, 0.1 to 1: its flying hours against the better ones of the days before."""
    hours = [d.hours for d in days if d.hours is not None and d.start <= day.start][-14:]
    if day.hours is None or not hours:
        return 1.0
    return min(1.0, max(0.1, day.hours / max(float(np.quantile(hours, 0.75)), GOOD_HOURS)))


def _turn(look: Look, memory: FlowMemory, flown: Sequence[FlownDay]) -> FlowMemory:
    """End what is over, then begin what has begun; both can be on the same day."""
    rule = look.rules.flow
    newest = _mean(flown, rule.flow_days)
    if memory.mode is Mode.FLOW and newest < rule.flow_end_kg_per_day:
        memory = _tell(look, memory, Kind.FLOW_END, flown)
    elif memory.mode is Mode.DEARTH and _feeds_again(flown, rule):
        memory = _tell(look, memory, Kind.DEARTH_END, flown)
    if memory.mode is Mode.NEITHER and _flows(flown, rule):
        return _tell(look, memory, Kind.FLOW_ONSET, flown)
    fair = [d for d in flown if d.share >= FAIR_SHARE and d.start >= memory.since]
    if memory.mode is Mode.NEITHER and fair and fair[-1] is flown[-1] and _starves(fair, rule):
        return _tell(look, memory, Kind.DEARTH_ONSET, [d for d in flown if d.start >= memory.since])
    return memory


def _flows(flown: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether the newest days make a flow: their mean reaches the rule, and not by one lucky day alone."""
    newest = flown[-rule.flow_days :]
    if _mean(flown, rule.flow_days) < rule.flow_kg_per_day or newest[-1].net < rule.flow_end_kg_per_day:
        return False
    return sum(d.net >= rule.flow_kg_per_day / 2 for d in newest) >= 2


def _starves(fair: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether the newest days make a dearth: bees fly, and lose the rule's rate beyond doubt.

    Only `fair` days count: what is eaten on a day half rained off is no sign of dearth. Three days do where the loss is
    plain, the rule's days and up to twice as many where it is small.
    """
    if fair[-1].net > 0:
        return False
    return any(_plain_loss(fair[-days:], days, rule) for days in range(3, 2 * rule.dearth_days + 1))


def _feeds_again(flown: Sequence[FlownDay], rule: FlowRule) -> bool:
    """Whether a dearth is over: no loss over the rule's days, nor in either part of them; or a flow has begun."""
    newest = flown[-rule.dearth_days :]
    parts = (newest, newest[:3], newest[-3:])
    whole, first, last = (float(np.mean([d.net for d in part])) for part in parts)
    return (whole > 0 and min(first, last) > rule.dearth_kg_per_day) or _flows(flown, rule)


def _plain_loss(newest: Sequence[FlownDay], days: int, rule: FlowRule) -> bool:
    """Whether a run of days is whole, and its mean below the rule's by more than its doubt, with and without rain."""
    if len(newest) < days or newest[-1].end - newest[0].start > SPARSE * days * DAY:
        return False
    dry = [d.net for d in newest if not d.day.soaked]
    if len(dry) < LEAST_DRY or float(np.mean(dry)) > rule.dearth_kg_per_day:
        return False
    nets = [d.net for d in newest]
    water = math.hypot(newest[0].doubt, newest[-1].doubt) / days  # what came and went in between cancels
    doubt = math.hypot(spread_of_mean(nets), water)
    few = days < rule.dearth_days
    return float(np.mean(nets)) + (2 if few else 1) * doubt <= rule.dearth_kg_per_day * (2 if few else 1)


def _mean(flown: Sequence[FlownDay], days: int) -> float:
    """Return the mean gain of the newest flying days worth `days` full ones, better flying days counting more."""
    total = weight = 0.0
    for day in reversed(flown):
        total += day.share * day.net
        weight += day.share
        if weight >= days - 0.25:
            break
    return total / weight


def _tell(look: Look, memory: FlowMemory, kind: Kind, flown: Sequence[FlownDay]) -> FlowMemory:
    """Tell an onset or an end, dated by its change point, with the rate since then; return the new mode."""
    rule = look.rules.flow
    turn = TURNS[kind]
    limit = {
        Kind.FLOW_ONSET: rule.flow_kg_per_day,
        Kind.FLOW_END: rule.flow_end_kg_per_day,
        Kind.DEARTH_ONSET: rule.dearth_kg_per_day,
        Kind.DEARTH_END: rule.dearth_kg_per_day,
    }[kind]
    first = turning_day([d.net for d in flown], limit, rising=turn.rising, at_limit=kind is Kind.DEARTH_ONSET)
    onset = max(flown[first].start, memory.since)
    since = [d.net for d in flown if d.start >= onset]
    rate, sd = float(np.mean(since)), spread_of_mean(since)
    look.tell(
        kind,
        onset=onset,
        size=rate,
        unit="kg/d",
        confidence=_sureness(rate, sd, limit, flown[-1].day.hives),
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


def _forget(look: Look, memory: FlowMemory, last: Millis) -> FlowMemory:
    """End whatever stood when there has been no flying weather for long: nothing can be known of forage."""
    if memory.mode is Mode.NEITHER:
        return memory
    look.tell(
        Kind.FLOW_END if memory.mode is Mode.FLOW else Kind.DEARTH_END,
        onset=last,
        confidence=0.6,
        reason="no-flying-weather",
        summary=f"No flying weather for ten days: the {memory.mode.value} is taken as over.",
    )
    return msgspec.structs.replace(memory, mode=Mode.NEITHER, since=last)


def _sureness(rate: float, sd: float, limit: float, hives: int) -> float:
    """Return a confidence from how far the rate stands off the limit, in its own uncertainty. Checked in the bench."""
    margin = abs(rate - limit) / max(sd, 0.02)
    return 0.65 + 0.05 * min(margin, 4.0) + (0.05 if hives >= 3 else 0.0)

"""Is nectar coming in, or is this a dearth? Judged once a day for a yard, on its median working hive.

Days without flying weather say nothing about forage and are passed over. Change points find where the newest level began;
the rules, which are ours and configurable (no published cut-offs exist), say what that level is.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from hivemon.inference.changepoints import Stretch, newest_stretch
from hivemon.model import DAY, Entry, HiveDay, Kind, Millis

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from hivemon.inference.look import Look
    from hivemon.rules import FlowRule
    from hivemon.signals.weather import Weather

REMEMBERED = 45
"""Yard days kept: a long flow and what was before it."""

SEGMENTED = 24
"""Flying days that segmentation looks at."""

FEED_SETTLES: Millis = 3 * DAY
"""Syrup loses its water and is eaten into stores within days; until then a fed hive's net gain says nothing."""

FORGOTTEN: Millis = 10 * DAY
"""So long without a flying day and what forage did before is no longer known. Our rule."""

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


class FlowMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a yard."""

    days: tuple[YardDay, ...] = ()
    mode: Mode = Mode.NEITHER
    since: Millis = 0


def yard_day(look: Look, days: Sequence[HiveDay], weather: Weather, broken: Collection[str]) -> YardDay:
    """Sum up one hive day of the yard from its hives' days; `broken` names hives whose scale is not to be trusted."""
    working = [d for d in days if d.hive not in broken and _works(look, d)]
    calm = [d for d in working if not d.handled] or working
    gains = [d.net_gain for d in calm if d.net_gain is not None]
    net = float(np.median(gains)) if gains else None
    spread = float(np.median(np.abs(np.asarray(gains) - net))) if gains else 0.0
    return YardDay(days[0].start, days[0].end, net, len(gains), round(spread, 3), weather.flying)


def _works(look: Look, day: HiveDay) -> bool:
    """Whether a hive's day speaks of forage: measured well, not fed lately, not being robbed."""
    if day.net_gain is None or day.coverage < LEAST_COVERAGE:
        return False
    if look.logged(day.hive, {Entry.FEED}, day.start - FEED_SETTLES, day.end):
        return False
    robbed = look.events(Kind.ROBBING, hive=day.hive, since=day.start)
    return not any(e.onset < day.end for e in robbed)


def judge(look: Look, memory: FlowMemory, day: YardDay) -> FlowMemory:
    """Take in one more yard day; tell an onset or an end when the newest flying days say so."""
    memory = msgspec.structs.replace(memory, days=(*memory.days, day)[-REMEMBERED:])
    flown = [d for d in memory.days if d.net is not None and d.flying is not False]
    if not flown or day.end - flown[-1].end > FORGOTTEN:
        return _forget(look, memory, flown, day)
    if flown[-1] is not day or len(flown) < 2:
        return memory
    return _turn(look, memory, flown[-SEGMENTED:])


def _turn(look: Look, memory: FlowMemory, flown: Sequence[YardDay]) -> FlowMemory:
    """End what is over, then begin what has begun; both can be on the same day."""
    rule = look.rules.flow
    gains = [d.net for d in flown if d.net is not None]
    if memory.mode is Mode.FLOW and _mean(gains, rule.flow_days) < rule.flow_end_kg_per_day:
        memory = _end(look, memory, Kind.FLOW_END, flown, newest_stretch(gains))
    elif memory.mode is Mode.DEARTH and _mean(gains, rule.flow_days) > max(0.0, rule.dearth_kg_per_day):
        memory = _end(look, memory, Kind.DEARTH_END, flown, newest_stretch(gains))
    if memory.mode is Mode.NEITHER and _flows(gains, rule):
        return _begin(look, memory, Kind.FLOW_ONSET, flown, newest_stretch(gains))
    if memory.mode is Mode.NEITHER and _starves(gains, rule):
        return _begin(look, memory, Kind.DEARTH_ONSET, flown, newest_stretch(gains, least=3))
    return memory


def _flows(gains: Sequence[float], rule: FlowRule) -> bool:
    """Whether the newest days make a flow: their mean reaches the rule, and not by one lucky day alone."""
    newest = gains[-rule.flow_days :]
    if _mean(gains, rule.flow_days) < rule.flow_kg_per_day or gains[-1] < rule.flow_end_kg_per_day:
        return False
    return sum(g >= rule.flow_kg_per_day / 2 for g in newest) >= 2


def _starves(gains: Sequence[float], rule: FlowRule) -> bool:
    """Whether the newest days make a dearth: the rule's mean is reached, or three days that leave no doubt."""
    if len(gains) >= rule.dearth_days and max(gains[-2:]) < rule.flow_end_kg_per_day:
        if _mean(gains, rule.dearth_days) <= rule.dearth_kg_per_day:
            return True
    if len(gains) < 3 or max(gains[-3:]) > 0:
        return False
    stretch = newest_stretch(gains, least=3)
    return stretch.mean <= rule.dearth_kg_per_day and stretch.mean + stretch.sd < 0


def _begin(look: Look, memory: FlowMemory, kind: Kind, flown: Sequence[YardDay], stretch: Stretch) -> FlowMemory:
    """Tell an onset. It began with the first day of the newest stretch that is itself of that kind."""
    rule, flow = look.rules.flow, kind is Kind.FLOW_ONSET
    first = _first_day(flown, stretch, rule.flow_kg_per_day / 2 if flow else None, rule.dearth_days + 2)
    onset = flown[first].start
    days = [d.net for d in flown[first:] if d.net is not None]
    rate = float(np.mean(days))
    what = "comes in" if flow else "is eaten"
    look.tell(
        kind,
        onset=onset,
        size=rate,
        unit="kg/d",
        confidence=_sureness(rate, stretch.sd, rule.flow_end_kg_per_day if flow else 0.0, flown[-1].hives),
        reason="mean-gain-reached" if flow else "mean-loss-reached",
        summary=f"The median hive {'gains' if flow else 'loses'} {abs(rate):.1f} kg a day: "
        f"{'nectar' if flow else 'food'} {what}.",
        evidence=_numbers(flown, stretch, rate, len(days)),
    )
    return msgspec.structs.replace(memory, mode=Mode.FLOW if flow else Mode.DEARTH, since=onset)


def _end(look: Look, memory: FlowMemory, kind: Kind, flown: Sequence[YardDay], stretch: Stretch) -> FlowMemory:
    """Tell an end: at the start of the newest stretch, never before the onset it ends."""
    recent = len(flown) - look.rules.flow.flow_days - 2
    onset = max(flown[max(stretch.start, recent, 0)].start, memory.since)
    days = [d.net for d in flown if d.net is not None and d.start >= onset]
    rate = float(np.mean(days))
    flow = kind is Kind.FLOW_END
    look.tell(
        kind,
        onset=onset,
        size=rate,
        unit="kg/d",
        confidence=_sureness(rate, stretch.sd, look.rules.flow.flow_end_kg_per_day if flow else 0.0, flown[-1].hives),
        reason="mean-gain-fallen" if flow else "loss-over",
        summary="The flow is over: the median hive gains no more."
        if flow
        else "The dearth is over: food comes in again.",
        evidence=_numbers(flown, stretch, rate, len(days)),
    )
    return msgspec.structs.replace(memory, mode=Mode.NEITHER, since=onset)


def _forget(look: Look, memory: FlowMemory, flown: Sequence[YardDay], day: YardDay) -> FlowMemory:
    """End whatever stood when there has been no flying weather for long: nothing can be known of forage."""
    if memory.mode is Mode.NEITHER:
        return memory
    flow = memory.mode is Mode.FLOW
    onset = flown[-1].end if flown else day.start
    look.tell(
        Kind.FLOW_END if flow else Kind.DEARTH_END,
        onset=onset,
        confidence=0.6,
        reason="no-flying-weather",
        summary=f"No flying weather for ten days: the {'flow' if flow else 'dearth'} is taken as over.",
    )
    return msgspec.structs.replace(memory, mode=Mode.NEITHER, since=onset)


def _first_day(flown: Sequence[YardDay], stretch: Stretch, least: float | None, furthest: int) -> int:
    """Return the index of the day an onset began: the stretch's first, less days before it that belong to another level."""
    first = max(stretch.start, len(flown) - furthest)
    while first < len(flown) - 1:
        net = flown[first].net or 0.0
        if (net >= least) if least is not None else (net < 0):
            break
        first += 1
    return first


def _mean(gains: Sequence[float], days: int) -> float:
    return float(np.mean(gains[-days:]))


def _sureness(rate: float, sd: float, threshold: float, hives: int) -> float:
    """Return a confidence from how far the rate stands off the threshold, in its own uncertainty. Checked in the bench."""
    margin = abs(rate - threshold) / max(sd, 0.02)
    return min(0.95, 0.6 + 0.07 * min(margin, 4.0) + (0.05 if hives >= 3 else 0.0))


def _numbers(flown: Sequence[YardDay], stretch: Stretch, rate: float, days: int) -> dict[str, float]:
    return {
        "rate": rate,
        "rate_sd": stretch.sd,
        "hives": float(flown[-1].hives),
        "spread": flown[-1].spread,
        "days": float(days),
        "newest_day": flown[-1].net or 0.0,
    }

"""The morning table: how every hive did last night and what it needs. Pure functions over lists; no store, no clock."""

from __future__ import annotations

import re
from datetime import date, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import msgspec

from hivemon.model import HOUR, HiveDay, Millis, Urgency, rfc3339

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.config import HiveSettings, YardSettings
    from hivemon.model import Advisory
    from hivemon.rules import FlowRule


class Standing(StrEnum):
    """What a hive's weight says of it while no advisory does."""

    SILENT = "silent"
    TOO_FEW = "too-few"
    QUIET = "quiet"
    GAINING = "gaining"
    ON_STORES = "on-stores"
    STEADY = "steady"


_SAID = {
    Standing.SILENT: "no readings last night",
    Standing.TOO_FEW: "too few readings to judge",
    Standing.QUIET: "nothing stands out, leave alone",
    Standing.GAINING: "gaining, leave alone",
    Standing.ON_STORES: "living on its stores, leave alone",
    Standing.STEADY: "steady, leave alone",
}

TREND_DAYS = 7
TREND_LEAST = 4
"""Hive days that must tell before a trend is said: more than half of the seven. Our rule."""

STALE: Millis = 26 * HOUR
"""Readings older than this cannot be last night's: a day, and two hours for a sensor that sends seldom. Our rule."""

URGENCY_ORDER = {urgency: rank for rank, urgency in enumerate(Urgency)}
"""Reading order: now, today, this week, for information."""


class HiveMorning(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the morning table. Weights in kg; `trend` in kg a day; None where the readings do not tell."""

    hive: str
    name: str
    dusk: Millis | None = None
    dawn: Millis | None = None
    dusk_weight: float | None = None
    dawn_weight: float | None = None
    overnight_change: float | None = None
    net_gain: float | None = None
    trend: float | None = None
    verdict: str
    urgency: Urgency | None = None
    """The most urgent open advisory's; None when nothing is wanted."""


class YardMorning(msgspec.Struct, frozen=True, kw_only=True):
    """A yard's morning: `date` is the hive day whose night it was, `notes` what concerns the whole yard."""

    yard: str
    name: str
    date: str | None
    hives: list[HiveMorning]
    notes: list[str]

    @property
    def wanted(self) -> int:
        """How many hives want something done."""
        return sum(hive.urgency not in (None, Urgency.FOR_INFORMATION) for hive in self.hives)

    @property
    def silent(self) -> int:
        """How many hives nothing was heard of, so that nothing can be said of them."""
        return sum(hive.verdict == _SAID[Standing.SILENT] for hive in self.hives)


def yard_morning(
    yard: YardSettings,
    hives: Sequence[HiveSettings],
    days: Sequence[HiveDay],
    advisories: Sequence[Advisory],
    rule: FlowRule,
) -> YardMorning:
    """Build a yard's morning table from its hive days (any order) and its open advisories."""
    night = last_night(days)
    by_hive: dict[str, dict[str, HiveDay]] = {}
    for day in days:
        by_hive.setdefault(day.hive, {})[day.date] = day
    lines = [
        hive_morning(hive, by_hive.get(hive.id, {}), night, [a for a in advisories if a.hive == hive.id], rule)
        for hive in hives
    ]
    notes = [advisory.title for advisory in in_reading_order(advisories) if advisory.hive is None]
    return YardMorning(yard=yard.id, name=yard.title, date=night, hives=lines, notes=notes)


def judged_at(newest: Millis | None, clock: Millis) -> Millis:
    """Return the moment of which a yard is spoken: now, or its newest reading where that is long past."""
    return clock if newest is None or clock - newest <= STALE else newest


def last_night(days: Sequence[HiveDay]) -> str | None:
    """Return the newest date whose night has ended for any hive; None before the first whole night."""
    return max((day.date for day in days if day.end_weight is not None), default=None)


def hive_morning(
    hive: HiveSettings,
    days: Mapping[str, HiveDay],
    night: str | None,
    advisories: Sequence[Advisory],
    rule: FlowRule,
) -> HiveMorning:
    """Build one line; `days` are the hive's own by date, `advisories` its open ones."""
    day = days.get(night) if night else None
    gain = trend(days, night)
    words, urgency = verdict(day, gain, advisories, rule)
    words = _without_name(words, hive.title)
    if day is None:
        return HiveMorning(hive=hive.id, name=hive.title, trend=gain, verdict=words, urgency=urgency)
    return HiveMorning(
        hive=hive.id,
        name=hive.title,
        dusk=day.dusk,
        dawn=day.end,
        dusk_weight=day.dusk_weight,
        dawn_weight=day.end_weight,
        overnight_change=day.overnight_change,
        net_gain=day.net_gain,
        trend=gain,
        verdict=words,
        urgency=urgency,
    )


def _without_name(title: str, name: str) -> str:
    """Return what a title says of its hive, which the line names already: "Hive o1 has swarmed", "Volk o1: ..."."""
    return re.sub(rf"^(?:\w+ )?{re.escape(name)}:? ", "", title)


def trend(days: Mapping[str, HiveDay], night: str | None) -> float | None:
    """Return the mean net gain, kg a day, of the seven hive days up to `night`; None when too few of them tell."""
    if night is None:
        return None
    last = date.fromisoformat(night)
    wanted = [(last - timedelta(days=back)).isoformat() for back in range(TREND_DAYS)]
    gains = [gain for day in wanted if day in days and (gain := days[day].net_gain) is not None]
    return sum(gains) / len(gains) if len(gains) >= TREND_LEAST else None


def verdict(
    day: HiveDay | None,
    gain: float | None,
    advisories: Sequence[Advisory],
    rule: FlowRule,
) -> tuple[str, Urgency | None]:
    """Say in words what a hive needs: its most urgent open advisory, else what its weight says, else nothing."""
    ordered = in_reading_order(advisories)
    if ordered:
        more = f" (and {len(ordered) - 1} more)" if len(ordered) > 1 else ""
        return f"{ordered[0].title}{more}", ordered[0].urgency
    return _SAID[standing(day, gain, rule)], None


def standing(day: HiveDay | None, trend: float | None, rule: FlowRule) -> Standing:
    """Judge the newest night and the net gain by the thresholds of flow and dearth; else of the one day."""
    if day is None:
        return Standing.SILENT
    if day.overnight_change is None:
        return Standing.TOO_FEW
    gain = day.net_gain if trend is None else trend
    if gain is None:
        return Standing.QUIET
    if gain >= rule.flow_kg_per_day:
        return Standing.GAINING
    return Standing.ON_STORES if gain <= rule.dearth_kg_per_day else Standing.STEADY


def in_reading_order(advisories: Sequence[Advisory]) -> list[Advisory]:
    """Sort by urgency, then by what must be done first, then the newest."""
    return sorted(
        advisories,
        key=lambda a: (URGENCY_ORDER[a.urgency], a.do_by is None, a.do_by or 0, -a.raised, a.id),
    )


def to_json(morning: YardMorning) -> dict[str, Any]:
    """Return a yard's morning as a JSON object: weights in kg, moments in RFC 3339 (UTC)."""
    written: dict[str, Any] = msgspec.to_builtins(morning)
    for hive in written["hives"]:
        for name in ("dusk", "dawn"):
            hive[name] = rfc3339(hive[name]) if hive[name] is not None else None
        hive["unit"] = "kg"
    return written

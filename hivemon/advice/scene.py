"""All that a decision may look at: one yard at one moment. No clock, no disk, no network."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property, wraps
from typing import TYPE_CHECKING, Any, TypeVar

from hivemon.config import HiveSettings, UnitSettings, YardSettings
from hivemon.model import Advisory, Entry, Event, HiveDay, Kind, LogEntry, Millis

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from hivemon.limits import Limits

_Found = TypeVar("_Found")


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One yard at the moment `now` (the time of the last reading, ms UTC).

    `events`: of this yard, last 75 days or so; withdrawn ones may be among them and only serve to take an advisory back
    with kind words. `days`: hive id -> its hive days, oldest first, last 190 or so. `logbook`: the yard's entries.
    `weights`: hive id -> latest clean weight, kg; a hive without one is missing. `open`: advisories that stand already;
    decisions use them only to hold on to what they said (hysteresis). `outside_celsius`: highest outside temperature
    of the last 24 hours, None when unknown.
    """

    yard: YardSettings
    hives: Sequence[HiveSettings]
    now: Millis
    events: Sequence[Event] = ()
    days: Mapping[str, Sequence[HiveDay]] = field(default_factory=dict)
    logbook: Sequence[LogEntry] = ()
    weights: Mapping[str, float] = field(default_factory=dict)
    units: UnitSettings = field(default_factory=UnitSettings)
    open: Sequence[Advisory] = ()
    outside_celsius: float | None = None
    reckoned: dict[Any, Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    """What has been reckoned of this scene: see `once`."""

    @property
    def limits(self) -> Limits:
        """The yard's thresholds of advice."""
        return self.yard.advice

    def find(self, *kinds: Kind, hive: str | None = None, since: Millis | None = None) -> list[Event]:
        """Return standing (not withdrawn) events of some kinds in the order they were said; `hive` None: of any."""
        found = [
            e
            for kind in kinds
            for e in self._standing_events.get(kind, ())
            if (hive is None or e.hive == hive) and (since is None or e.onset >= since)
        ]
        return sorted(found, key=_as_said) if len(kinds) > 1 else found

    @cached_property
    def _standing_events(self) -> dict[Kind, list[Event]]:
        """What stands of each kind, in the order it was said; sorted once for all the decisions that ask."""
        found: dict[Kind, list[Event]] = {}
        for event in sorted((e for e in self.events if e.withdrawn is None), key=_as_said):
            found.setdefault(event.kind, []).append(event)
        return found

    def last(self, *kinds: Kind, hive: str | None = None) -> Event | None:
        """Return the latest standing event of some kinds, or None."""
        found = self.find(*kinds, hive=hive)
        return found[-1] if found else None

    def flow(self) -> Event | None:
        """Return the onset of the flow that is on, or None."""
        last = self.last(Kind.FLOW_ONSET, Kind.FLOW_END)
        return last if last is not None and last.kind is Kind.FLOW_ONSET else None

    def dearth(self) -> Event | None:
        """Return the onset of the dearth that is on, or None; a flow that came after it ends it."""
        last = self.last(Kind.DEARTH_ONSET, Kind.DEARTH_END, Kind.FLOW_ONSET)
        return last if last is not None and last.kind is Kind.DEARTH_ONSET else None

    def entries(self, hive: str, *kinds: Entry, since: Millis | None = None) -> list[LogEntry]:
        """Return a hive's logbook entries up to now, oldest first; no `kinds`: all of them."""
        return [
            e
            for e in self._entries_by_hive.get(hive, ())
            if (not kinds or e.entry in kinds) and (since is None or e.time >= since)
        ]

    @cached_property
    def _entries_by_hive(self) -> dict[str, list[LogEntry]]:
        """The logbook up to now, sorted once for all the decisions that ask."""
        found: dict[str, list[LogEntry]] = {}
        for entry in sorted((e for e in self.logbook if e.time <= self.now), key=lambda e: (e.time, e.id)):
            found.setdefault(entry.hive, []).append(entry)
        return found

    def whole_days(self, hive: str, *, since: Millis | None = None) -> Sequence[HiveDay]:
        """Return a hive's finished hive days, oldest first; `since`: only those that start at or after it."""
        days = self.days.get(hive, ())
        first = 0 if since is None else bisect_left(days, since, key=lambda day: day.start)
        return days[first : bisect_right(days, self.now, key=lambda day: day.end)]

    def standing(self, condition: str) -> Advisory | None:
        """Return the open advisory about a condition (see `draft.condition`), or None."""
        return self._open_by_condition.get(condition)

    @cached_property
    def _open_by_condition(self) -> dict[str, Advisory]:
        return {condition_of(advisory.id): advisory for advisory in reversed(self.open) if advisory.closed is None}

    def local(self, time: Millis) -> datetime:
        """Return a moment on the yard's own clock."""
        return datetime.fromtimestamp(time / 1000, UTC).astimezone(self.yard.zone)


def once(reckon: Callable[[Scene, HiveSettings], _Found]) -> Callable[[Scene, HiveSettings], _Found]:
    """Have a function reckon a hive once a scene, however many decisions ask."""

    @wraps(reckon)
    def reckoned(scene: Scene, hive: HiveSettings) -> _Found:
        if (reckon, hive) not in scene.reckoned:
            scene.reckoned[reckon, hive] = reckon(scene, hive)
        found: _Found = scene.reckoned[reckon, hive]
        return found

    return reckoned


def _as_said(event: Event) -> tuple[Millis, Millis, str]:
    return event.raised, event.onset, event.id


def condition_of(advisory_id: str) -> str:
    """Return the condition an advisory id is about: what stands before its last `@`."""
    condition, mark, _ = advisory_id.rpartition("@")
    return condition if mark else advisory_id


def net_gains(days: Iterable[HiveDay]) -> list[float]:
    """Return the net gains that are known, kg, in the order of the days."""
    return [d.net_gain for d in days if d.net_gain is not None]

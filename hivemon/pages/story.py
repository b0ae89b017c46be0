"""One hive's story: what it needs, what happened to it and why that is thought, its days, and its curves on demand."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from hivemon.advice.boxes import boxes
from hivemon.advice.scene import Scene
from hivemon.errors import UsageError
from hivemon.logbook_limits import AHEAD
from hivemon.model import DAY, HIVE_QUANTITIES, Kind, Quantity, Series, Stream
from hivemon.pages.advised import advised
from hivemon.pages.answers import choices
from hivemon.pages.hives import find
from hivemon.pages.thin import thin
from hivemon.signals.sun import day_after, sun_day

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import HiveSettings, Settings, YardSettings
    from hivemon.model import Advisory, Event, HiveDay, LogEntry, Millis
    from hivemon.store import Store

SEASON: Millis = 200 * DAY
"""How far back a story goes at most: a season, spring to autumn."""
BROOD_KEPT = (32.0, 36.0)
"""Between these bees keep their brood, °C (Becher & Moritz 2009, Apidologie 40:577-584)."""
SHADE_DAYS = 45
"""Nights are shaded up to this many days; on more they would be a grey wall."""
WIDEST = 4000
"""Columns of a curve at most; a wide screen has fewer."""
_YARD_KINDS = frozenset({Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET, Kind.DEARTH_END})


def story(settings: Settings, store: Store, yard: str, hive: str, *, clock: Millis) -> dict[str, Any]:
    """Return everything about a hive but its curves; raises Refusal when there is no such hive."""
    found = find(settings, store, yard, hive)
    place = settings.find_yard(yard)
    streams = {s: v for s, v in store.latest(yard).items() if s.hive in (None, hive)}
    newest = max((time for time, _ in streams.values()), default=clock)
    since = newest - SEASON
    days = store.hive_days(yard, hive, since)
    events = _events(store, yard, hive, since)
    entries = store.entries(yard, hive, since, clock + AHEAD)
    first = min([day.start for day in days] or [newest - DAY])
    open_now = advised(settings, store, yard, clock)
    return {
        "clock": clock,
        "yard": yard,
        "hive": hive,
        "name": found.title,
        "yard_name": place.title,
        "timezone": place.timezone,
        "first": first,
        "newest": newest,
        "heard": store.newest(yard, hive),
        "supers": _supers(place, found, entries, newest),
        "advisories": [one.view() for one in open_now if one.advisory.hive == hive],
        "shared": [one.brief() for one in open_now if one.advisory.hive is None and one.asks],
        "events": [event_view(event) for event in events],
        "lasts": lasts(events, store.advisories(yard, hive), newest),
        "entries": [entry_view(yard, entry) for entry in entries],
        "days": [_day(day) for day in days],
        "latest": {
            stream.quantity.value: {"time": time, "value": value}
            for stream, (time, value) in sorted(streams.items(), key=str)
        },
        "band": BROOD_KEPT,
    }


def _events(store: Store, yard: str, hive: str, since: Millis) -> list[Event]:
    """Return what happened to the hive, and what the whole yard went through meanwhile."""
    own = store.events(yard, hive, since=since)
    shared = [e for kind in sorted(_YARD_KINDS) for e in store.events(yard, kind=kind, since=since) if e.hive is None]
    return sorted([*own, *shared], key=lambda event: (event.onset, event.id))


_ENDED_BY = {
    Kind.FLOW_ONSET: frozenset({Kind.FLOW_END, Kind.DEARTH_ONSET}),
    Kind.DEARTH_ONSET: frozenset({Kind.DEARTH_END, Kind.FLOW_ONSET}),
    **dict.fromkeys((Kind.BROOD_COLD, Kind.BROOD_HOT, Kind.BROOD_UNSTABLE), frozenset({Kind.BROOD_RECOVERED})),
}


def lasts(events: Sequence[Event], advisories: Sequence[Advisory], newest: Millis) -> dict[str, Millis]:
    """Return until when each event went on, by id, for those that are more than a moment.

    A flow ends with its end, a fault when it was over, and robbing, whose end nothing tells, when its advice was
    closed; what has not ended goes on until `newest`. `events` in order of time; what was taken back is left out.
    """
    standing = [event for event in events if event.withdrawn is None]
    found = {}
    for event in standing:
        if event.kind in _ENDED_BY:
            later = (e.onset for e in standing if e.kind in _ENDED_BY[event.kind] and e.onset > event.onset)
            found[event.id] = min(later, default=newest)
        elif event.kind is Kind.SENSOR_FAULT:
            found[event.id] = round(event.evidence.get("until_ms", newest))
        elif event.kind is Kind.ROBBING:
            ends = [newest if a.closed is None else a.closed for a in advisories if event.id in a.events]
            found[event.id] = max(ends, default=event.raised)
    return found


def _supers(yard: YardSettings, hive: HiveSettings, entries: Sequence[LogEntry], now: Millis) -> int:
    return boxes(Scene(yard=yard, hives=[hive], now=now, logbook=entries), hive).supers


def event_view(event: Event) -> dict[str, Any]:
    """Return an event as the API has it, times in ms UTC, with the answers a beekeeper may give."""
    view: dict[str, Any] = msgspec.to_builtins(event)
    view["choices"] = [choice.key for choice in choices(event)]
    return view


def entry_view(yard: str, entry: LogEntry) -> dict[str, Any]:
    """Return a logbook entry as the API has it, its time in ms UTC."""
    return {"yard": yard, **msgspec.to_builtins(entry)}


_DAY_FIELDS = (
    "date", "start", "dusk", "end", "dawn_weight", "dusk_weight", "end_weight", "net_gain", "foraging_gain",
    "overnight_change", "handled", "temperature_mean", "temperature_swing", "coverage",
)  # fmt: skip


def _day(day: HiveDay) -> dict[str, Any]:
    values = {name: getattr(day, name) for name in _DAY_FIELDS}
    return {name: round(value, 3) if isinstance(value, float) else value for name, value in values.items()}


def curve(
    settings: Settings, store: Store, where: tuple[str, str], quantity: str, span: tuple[Millis, Millis], width: int
) -> dict[str, Any]:
    """Return one quantity of a hive (or of its yard) between two moments, thinned to `width` columns.

    Where raw readings have been thinned out already, the lows and highs of their 15-minute means stand in. Raises
    UsageError for an unknown hive or quantity, or a span without length.
    """
    (yard, hive), (since, until) = where, span
    find(settings, store, yard, hive)
    if quantity not in list(Quantity):
        raise UsageError(f"there is no quantity {quantity!r}", hint=f"known: {', '.join(Quantity)}")
    if not since < until:
        raise UsageError("the span has no length", hint="`since` must come before `until`")
    kind = Quantity(quantity)
    stream = Stream(hive if kind in HIVE_QUANTITIES else None, kind)
    found = thin(_readings(store, yard, stream, since, until), since, until, min(max(width, 16), WIDEST))
    return {"quantity": quantity, "since": since, "until": until, **found._asdict()}


def _readings(store: Store, yard: str, stream: Stream, since: Millis, until: Millis) -> Series:
    """Return raw readings where they are kept, before that the lows and highs of what is left of them."""
    raw = store.series(yard, since, until, {stream}).get(stream)
    begins = int(raw.time[0]) if raw is not None else until
    if begins - since < DAY:
        return raw if raw is not None else Series(np.empty(0, np.int64), np.empty(0, np.float64))
    kept = store.means(yard, since, begins, {stream}).get(stream)
    if kept is None:
        return raw if raw is not None else Series(np.empty(0, np.int64), np.empty(0, np.float64))
    time = np.column_stack((kept.start + kept.first, np.maximum(kept.start + kept.last, kept.start + kept.first + 1)))
    value = np.column_stack((kept.low, kept.high))
    old = Series(time.ravel(), value.ravel())
    return old if raw is None else Series(np.append(old.time, raw.time), np.append(old.value, raw.value))


def nights(
    settings: Settings, yard: str, since: Millis, until: Millis, *, most_days: int = SHADE_DAYS
) -> list[list[Millis]]:
    """Return [dusk, dawn] of every night between two moments; none where there are too many to see."""
    if until - since > most_days * DAY:
        return []
    place = settings.find_yard(yard)
    day = sun_day(place, since - DAY)
    found = []
    while day.dusk < until:
        if day.end > since:
            found.append([day.dusk, day.end])
        day = day_after(place, day)
    return found

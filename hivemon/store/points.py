"""Readings, events, advisories and hive days as points in line protocol, times in milliseconds.

The same thing always gives the same measurement, tags and time, so that sending it again overwrites it:

| measurement | tags | time | fields |
|---|---|---|---|
| reading | yard, hive, quantity | the reading's | value; stamped (only when true) |
| event | yard, hive, kind, id | raised | onset, size, unit, confidence, withdrawn, reason, summary and so on |
| advisory | yard, hive, id | raised | updated, urgency, closed, title, saw, means, do and so on |
| hive_day | yard, hive | its first dawn | date, net_gain and so on |

A yard's own things have no hive tag. Moments among the fields are whole milliseconds UTC. Fields without a value are
left out. The writing is influxdb-client's (about 5 µs a line, measured in tests/bench/bench_store.py); only what no
server takes alike is taken out of texts first: line breaks, and backslashes in tags.
"""

from __future__ import annotations

import re
from typing import Any

from hivemon.model import Advisory, Event, HiveDay, Reading
from hivemon.store.client import MILLISECONDS, Point

_BREAKS = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]+")
"""Line breaks and other control characters: some servers split a batch at them even within quotes."""


def to_line(item: Reading | Event | Advisory | HiveDay) -> str:
    """Return one line of line protocol, without a line break."""
    if isinstance(item, Reading):
        point = _reading(item)
    elif isinstance(item, Event):
        point = _event(item)
    elif isinstance(item, Advisory):
        point = _advisory(item)
    else:
        point = _hive_day(item)
    line: str = point.to_line_protocol()
    return line


def alive_line(now: int) -> str:
    """Return a point that any server in working order takes; it tells a refused point from a refusing server."""
    line: str = Point("hivemon").tag("part", "sender").field("alive", 1).time(now, MILLISECONDS).to_line_protocol()
    return line


def _point(measurement: str, time: int, **tags: str | None) -> Any:
    point = Point(measurement).time(time, MILLISECONDS)
    for name, value in tags.items():
        if value:
            # A backslash before a comma, a space or the end of a tag means something else to each server.
            point.tag(name, _BREAKS.sub("_", value).replace("\\", "_"))
    return point


def _texts(point: Any, **fields: str) -> None:
    for name, text in fields.items():
        point.field(name, _BREAKS.sub(" ", text))


def _numbers(point: Any, **fields: float | bool | None) -> None:
    for name, value in fields.items():
        if value is not None:
            point.field(name, value)


def _reading(reading: Reading) -> Any:
    tags = {"yard": reading.yard, "hive": reading.hive, "quantity": reading.quantity.value}
    point = _point("reading", reading.time, **tags).field("value", float(reading.value))
    return point.field("stamped", True) if reading.stamped else point


def _event(event: Event) -> Any:
    point = _point("event", event.raised, yard=event.yard, hive=event.hive, kind=event.kind.value, id=event.id)
    _numbers(
        point,
        onset=event.onset,
        onset_first=event.onset_first,
        size=_decimal(event.size),
        confidence=float(event.confidence),
        withdrawn=event.withdrawn is not None,
        withdrawn_at=event.withdrawn,
    )
    _texts(
        point,
        unit=event.unit,
        reason=event.reason,
        summary=event.summary,
        withdrawn_because=event.withdrawn_because,
    )
    return point


def _advisory(advisory: Advisory) -> Any:
    point = _point("advisory", advisory.raised, yard=advisory.yard, hive=advisory.hive, id=advisory.id)
    _numbers(
        point,
        updated=advisory.updated,
        closed=advisory.closed is not None,
        closed_at=advisory.closed,
        do_by=advisory.do_by,
    )
    _texts(
        point,
        urgency=advisory.urgency.value,
        title=advisory.title,
        saw=advisory.saw,
        means=advisory.means,
        could_also_be="; ".join(advisory.could_also_be),
        do=" ".join(f"{number}. {step}" for number, step in enumerate(advisory.do, 1)),
        cautions=" ".join(advisory.cautions),
        events=" ".join(advisory.events),
    )
    return point


def _hive_day(day: HiveDay) -> Any:
    point = _point("hive_day", day.start, yard=day.yard, hive=day.hive)
    _numbers(
        point,
        dusk=day.dusk,
        end=day.end,
        dawn_weight=_decimal(day.dawn_weight),
        dusk_weight=_decimal(day.dusk_weight),
        end_weight=_decimal(day.end_weight),
        net_gain=_decimal(day.net_gain),
        foraging_gain=_decimal(day.foraging_gain),
        overnight_change=_decimal(day.overnight_change),
        morning_dip=_decimal(day.morning_dip),
        handled=float(day.handled),
        uncertainty=_decimal(day.uncertainty),
        temperature_mean=_decimal(day.temperature_mean),
        temperature_swing=_decimal(day.temperature_swing),
        coverage=float(day.coverage),
    )
    _texts(point, date=day.date)
    return point


def _decimal(value: float | None) -> float | None:
    """A server fixes a field's type at its first point, so a whole number must not make it an integer."""
    return None if value is None else float(value)

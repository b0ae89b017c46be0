"""A small yard for tests of the fold: made in memory, seeded, with a swarm, a flow, a visit and a chilled nest.

It is deliberately simple (the streams in sample_streams/ are the realistic ones): what is tested with it is the fold's
arithmetic of time and order, not the quality of inference.
"""

from __future__ import annotations

import itertools
from datetime import UTC, datetime

import numpy as np

from hivemon.config import HiveSettings, YardSettings
from hivemon.fold import advance, begin, cursors, is_late
from hivemon.model import DAY, HOUR, MINUTE, Entry, Event, LogEntry, Quantity, Series, Stream
from hivemon.rules import Rules

YARD = YardSettings(id="test", latitude=50.0, longitude=5.0, timezone="Europe/Brussels")
HIVES = [HiveSettings(id="a", yard="test"), HiveSettings(id="b", yard="test"), HiveSettings(id="c", yard="test")]
START = int(datetime(2024, 5, 6, 0, 10, tzinfo=UTC).timestamp() * 1000)


def recording(days: int = 9, minutes: int = 15, seed: int = 1) -> dict[Stream, Series]:
    """Return the streams of a yard with three hives and an outside thermometer."""
    rng = np.random.default_rng(seed)
    time = START + np.arange(0, days * DAY, minutes * MINUTE, dtype=np.int64)
    hour = (time % DAY) / HOUR
    day = (time - START) / DAY
    streams = {Stream(None, Quantity.OUTSIDE_TEMPERATURE): _series(time, 16 + 6 * np.sin((hour - 9) / 24 * 2 * np.pi))}
    forage = np.cumsum(np.where((hour > 7) & (hour < 18), np.where(day > 3, 1.2, -0.1), -0.2)) * minutes / 60 / 11
    for offset, hive in enumerate("abc"):
        weight = 40 + 5 * offset + forage + rng.normal(0, 0.02, len(time))
        nest = 34.8 + rng.normal(0, 0.1, len(time))
        if hive == "b":
            weight -= 2.4 * (time > START + 6 * DAY + 10.5 * HOUR)
        if hive == "c":
            weight += 6.0 * (time > START + 4 * DAY + 8 * HOUR)
            nest -= 6.0 * (time > START + 7 * DAY)
        streams[Stream(hive, Quantity.WEIGHT)] = _series(time, weight)
        streams[Stream(hive, Quantity.TEMPERATURE)] = _series(time, nest)
    return streams


LOGBOOK = [LogEntry(time=START + 4 * DAY + 9 * HOUR, hive="c", entry=Entry.SUPER_ON, amount=6.0)]


def fold_whole(streams: dict[Stream, Series], logbook=LOGBOOK):
    """Fold everything in one call; return the state and the changes."""
    return advance(begin(YARD, HIVES, Rules()), streams, logbook)


def fold_in_parts(streams: dict[Stream, Series], cuts: list[int], logbook=LOGBOOK, between=lambda state: state):
    """Fold in calls that end at the given times; `between` may exchange the state after each call."""
    state, changes = begin(YARD, HIVES, Rules()), []
    edges = [0, *sorted(cuts), 1 << 62]
    for start, end in itertools.pairwise(edges):
        part = {stream: series.between(start, end) for stream, series in streams.items()}
        state, more = advance(state, part, logbook)
        state = between(state)
        changes += more
    return state, changes


def last_versions(changes) -> dict[str, Event]:
    """Return the last version of every event."""
    return {c.id: c for c in changes if isinstance(c, Event)}


def as_readings(streams: dict[Stream, Series]) -> list[tuple[int, Stream, float]]:
    """Return every reading as (time, stream, value), in time order."""
    flat = [(int(t), s, float(v)) for s, x in streams.items() for t, v in zip(x.time, x.value, strict=True)]
    return sorted(flat, key=lambda r: (r[0], str(r[1])))


def as_streams(readings) -> dict[Stream, Series]:
    """Return readings sorted and de-duplicated, by stream; the first of two for one moment stays."""
    kept: dict[Stream, dict[int, float]] = {}
    for time, stream, value in readings:
        kept.setdefault(stream, {}).setdefault(time, value)
    return {
        stream: _series(np.array(sorted(values), np.int64), np.array([values[t] for t in sorted(values)]))
        for stream, values in kept.items()
    }


def fold_as_they_come(readings, logbook=LOGBOOK):
    """Fold readings in the order given, as the daemon does: a late one sends the fold back to its last good state.

    Returns the state and the last version of every event that still follows from the readings.
    """
    known: list[tuple[int, Stream, float]] = []
    seen: set[tuple[int, Stream]] = set()
    saved = [(begin(YARD, HIVES, Rules()), {})]
    state, events = saved[0]
    for time, stream, value in readings:
        if (time, stream) in seen:
            continue
        seen.add((time, stream))
        known.append((time, stream, value))
        if is_late(state, stream, time):
            while is_late(saved[-1][0], stream, time):
                saved.pop()
            state, events = saved[-1][0], dict(saved[-1][1])
            folded = cursors(state)
            again = as_streams(r for r in known if r[0] > folded.get(r[1], 0))
        else:
            again = as_streams([(time, stream, value)])
        state, changes = advance(state, again, logbook)
        events = events | last_versions(changes)
        if state.time > saved[-1][0].time + DAY // 2:
            saved.append((state, events))
    return state, events


def _series(time, value) -> Series:
    return Series(np.asarray(time, np.int64), np.asarray(value, np.float64))

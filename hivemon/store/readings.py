"""Readings in, readings out. A reading is kept once: the first value for a stream and a time stands.

New readings are told from old ones without asking the database for each: the last time of every stream is
remembered, and only readings at or before it are looked up. What is remembered is thrown away when another process
has written or a transaction was rolled back (`Database.generation`), so it is never wrong inside a transaction.
"""

from __future__ import annotations

import math
from itertools import repeat
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.errors import StoreError
from hivemon.model import Millis, Quantity, Reading, Series, Stream
from hivemon.store.means import WINDOW, window_start
from hivemon.store.part import Part, own

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    from hivemon.store.database import Database

_INSERT = "INSERT INTO reading (series, time, value, stamped) VALUES (?, ?, ?, ?)"
EARLIEST: Millis = -62_135_596_800_000
LATEST: Millis = 253_402_300_799_999
"""The years 1 to 9999: what RFC 3339 can write."""
_NEVER: Millis = -(2**63)
_FOREVER: Millis = 2**63 - 1


class Added(NamedTuple):
    """What became of readings: `new` in the order given, `duplicates` counted, `conflicts` not kept.

    A conflict has the stream and time of a reading that is already there with another value; the first is kept.
    """

    new: list[Reading]
    duplicates: int
    conflicts: list[Reading]


class AddedSeries(NamedTuple):
    """How many readings were new, already there, or already there with another value."""

    new: int
    duplicates: int
    conflicts: int


class Readings(Part):
    """Readings and the streams they belong to."""

    def __init__(self, database: Database, clock: Callable[[], Millis]) -> None:
        super().__init__(database, clock)
        self._generation = -1
        self._ids: dict[tuple[str, str | None, str], int] = {}
        self._last: dict[int, Millis] = {}

    def add_readings(self, readings: Sequence[Reading]) -> Added:
        """Keep readings in any order; on the disk when the outermost transaction ends.

        Raises StoreError, and keeps none of them, when a value is not a finite number.
        """
        with self._db.transaction():
            self._forget_if_stale()
            fresh, late = self._sort_out(readings)
            self._db.run_many(_INSERT, fresh)
            if not late:
                return Added(list(readings), 0, [])
            return self._add_late(readings, late)

    def add_series(self, yard: str, batch: Mapping[Stream, Series]) -> AddedSeries:
        """Keep whole series of a yard (each strictly ascending in time), all or none.

        Raises StoreError when one is not ascending or holds a value that is not a finite number.
        """
        counts = np.zeros(3, np.int64)
        with self._db.transaction():
            self._forget_if_stale()
            for stream, series in batch.items():
                _check_series(yard, stream, series)
                if len(series.time):
                    counts += self._add_one_series(self._series_id((yard, *stream)), series)
        return AddedSeries(*(int(count) for count in counts))

    def series(
        self,
        yard: str,
        since: Millis | None = None,
        until: Millis | None = None,
        streams: Collection[Stream] | None = None,
    ) -> dict[Stream, Series]:
        """Return the raw readings of a yard with since <= time < until; streams without any are left out."""
        found: dict[Stream, Series] = {}
        with self._db.view():
            for number, stream in self._numbered(yard):
                if streams is None or stream in streams:
                    series = self._raw(number, _NEVER if since is None else since, _FOREVER if until is None else until)
                    if len(series.time):
                        found[stream] = series
        return found

    def yards(self) -> list[str]:
        """Return every yard that has ever had a reading, in alphabetical order."""
        return [yard for (yard,) in self._db.rows("SELECT DISTINCT yard FROM series ORDER BY yard")]

    def streams(self, yard: str) -> list[Stream]:
        """Return every stream of a yard that has ever had a reading, ordered by hive and quantity."""
        return [stream for _, stream in self._numbered(yard)]

    def latest(self, yard: str) -> dict[Stream, tuple[Millis, float]]:
        """Return the time and value of the last raw reading of every stream."""
        sql = (
            "SELECT hive, quantity, time, value FROM series JOIN reading ON series = id"
            " AND time = (SELECT max(time) FROM reading WHERE series = id) WHERE yard = ? ORDER BY hive, quantity"
        )
        rows = self._db.rows(sql, (yard,))
        return {Stream(hive or None, Quantity(name)): (time, value) for hive, name, time, value in rows}

    def newest(self, yard: str | None = None, hive: str | None = None) -> Millis | None:
        """Return the time of the newest reading of a yard, of one of its hives, or of all; None without any.

        It may be raw or counted in a mean. One look at the end of each stream: no reading is read.
        """
        named = [(column, value) for column, value in (("yard", yard), ("hive", hive)) if value is not None]
        where = f" WHERE {' AND '.join(f'{column} = ?' for column, _ in named)}" if named else ""
        sql = (
            "SELECT max((SELECT max(time) FROM reading WHERE series = id)),"  # noqa: S608 - our own words
            f" max((SELECT start + last FROM mean WHERE series = id ORDER BY start DESC LIMIT 1)) FROM series{where}"
        )
        found = self._db.one(sql, [value for _, value in named])
        return max((int(time) for time in found if time is not None), default=None)

    def heard(self, yard: str) -> dict[str, Millis]:
        """Return the time of the newest reading of each hive of a yard that was ever heard, as `newest` does of one."""
        sql = (
            "SELECT hive, max((SELECT max(time) FROM reading WHERE series = id)),"
            " max((SELECT start + last FROM mean WHERE series = id ORDER BY start DESC LIMIT 1))"
            " FROM series WHERE yard = ? AND hive != '' GROUP BY hive"
        )
        times = {hive: max((int(t) for t in found if t is not None), default=None)
                 for hive, *found in self._db.rows(sql, (yard,))}  # fmt: skip
        return {hive: time for hive, time in times.items() if time is not None}

    def oldest(self, yard: str) -> Millis | None:
        """Return the time of a yard's first raw reading; None when there is none."""
        with self._db.view():
            sql = "SELECT min(time) FROM reading WHERE series = ?"
            firsts = [self._db.one(sql, (number,))[0] for number, _ in self._numbered(yard)]
        return min((first for first in firsts if first is not None), default=None)

    def _numbered(self, yard: str) -> list[tuple[int, Stream]]:
        """Return the streams of a yard with their numbers in the database."""
        sql = "SELECT id, hive, quantity FROM series WHERE yard = ? ORDER BY hive, quantity"
        return [(number, Stream(hive or None, Quantity(name))) for number, hive, name in self._db.rows(sql, (yard,))]

    def _raw(self, number: int, since: Millis, until: Millis) -> Series:
        """Return a series' raw readings with since <= time < until."""
        sql = "SELECT time, value FROM reading WHERE series = ? AND time >= ? AND time < ? ORDER BY time"
        rows = self._db.rows(sql, (number, since, until))
        table = np.array(rows, dtype=[("time", np.int64), ("value", np.float64)])
        return Series(np.ascontiguousarray(table["time"]), np.ascontiguousarray(table["value"]))

    def _forget_if_stale(self) -> None:
        if self._generation != self._db.generation:
            self._ids.clear()
            self._last.clear()
            self._generation = self._db.generation

    def _series_id(self, key: tuple[str, str | None, str]) -> int:
        """Return the number of a stream, given on first sight, and remember it and its last time."""
        if (known := self._ids.get(key)) is not None:
            return known
        yard, hive, quantity = key
        if hive == "":
            raise StoreError(f"a reading of yard {yard!r} has an empty hive id", hint="leave the hive out, or name it")
        row = (yard, own(hive), str(quantity))
        self._db.run("INSERT OR IGNORE INTO series (yard, hive, quantity) VALUES (?, ?, ?)", row)
        (number,) = self._db.one("SELECT id FROM series WHERE yard = ? AND hive = ? AND quantity = ?", row)
        (raw,) = self._db.one("SELECT max(time) FROM reading WHERE series = ?", (number,))
        (thinned,) = self._db.one("SELECT max(start) FROM mean WHERE series = ?", (number,))
        self._last[number] = max(
            _NEVER if raw is None else raw,
            _NEVER if thinned is None else thinned + WINDOW - 1,
        )
        self._ids[key] = number
        return int(number)

    def _sort_out(
        self,
        readings: Sequence[Reading],
    ) -> tuple[list[tuple[int, Millis, float, bool]], list[tuple[int, int]]]:
        """Return rows that are certainly new, and (place in the list, series) of those that must be looked up."""
        fresh: list[tuple[int, Millis, float, bool]] = []
        late: list[tuple[int, int]] = []
        last, ids = self._last, self._ids
        for place, (time, yard, hive, quantity, value, stamped) in enumerate(readings):
            if not (math.isfinite(value) and EARLIEST <= time <= LATEST):
                raise StoreError(
                    f"reading {place + 1} of {len(readings)} ({yard} {hive or ''} {quantity}) is {value} at {time} ms",
                    hint="only finite numbers between the years 1 and 9999 can be kept",
                )
            number = ids.get((yard, hive, quantity)) or self._series_id((yard, hive, quantity))
            if time > last[number]:
                last[number] = time
                fresh.append((number, time, value, stamped))
            else:
                late.append((place, number))
        return fresh, late

    def _add_late(self, readings: Sequence[Reading], late: list[tuple[int, int]]) -> Added:
        """Look up and add the readings at the given places; the others are in already."""
        not_new: set[int] = set()
        conflicts: list[Reading] = []
        for place, number in late:
            reading = readings[place]
            sql = "SELECT value FROM reading WHERE series = ? AND time = ?"
            row = self._db.one(sql, (number, reading.time))
            if row is None and not self._counted(number, reading.time):
                self._db.run(_INSERT, (number, reading.time, reading.value, reading.stamped))
                continue
            not_new.add(place)
            if row is not None and row[0] != reading.value:
                conflicts.append(reading)
        new = [reading for place, reading in enumerate(readings) if place not in not_new]
        return Added(new, len(not_new) - len(conflicts), conflicts)

    def _counted(self, number: int, time: Millis) -> bool:
        """Whether a reading at this time has gone into a 15-minute mean already."""
        start = window_start(time)
        row = self._db.one("SELECT first, last FROM mean WHERE series = ? AND start = ?", (number, start))
        return row is not None and row[0] <= time - start <= row[1]

    def _add_one_series(self, number: int, series: Series) -> tuple[int, int, int]:
        """Add an ascending series; return how many were new, duplicates, conflicts."""
        split = int(np.searchsorted(series.time, self._last[number], side="right"))
        head = Series(series.time[:split], series.value[:split])
        tail = Series(series.time[split:], series.value[split:])
        missing, conflicts = self._missing(number, head)
        for part in (Series(head.time[missing], head.value[missing]), tail):
            rows = zip(repeat(number), part.time.tolist(), part.value.tolist(), repeat(False))
            self._db.run_many(_INSERT, rows)
        if len(tail.time):
            self._last[number] = int(tail.time[-1])
        found = int(missing.sum())
        return found + len(tail.time), split - found - conflicts, conflicts

    def _missing(self, number: int, head: Series) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], int]:
        """Return which readings the database has neither raw nor in a mean, and how many it has with another value."""
        missing = np.ones(len(head.time), np.bool_)
        if not len(head.time):
            return missing, 0
        first, last = int(head.time[0]), int(head.time[-1])
        raw = self._raw(number, first, last + 1)
        spot, same_time = _find(raw.time, head.time)
        conflicts = int((raw.value[spot[same_time]] != head.value[same_time]).sum())
        missing &= ~same_time
        sql = "SELECT start, first, last FROM mean WHERE series = ? AND start BETWEEN ? AND ? ORDER BY start"
        rows = self._db.rows(sql, (number, window_start(first), last))
        start, begin, end = np.array(rows, np.int64).reshape(-1, 3).T
        offset = head.time % WINDOW
        spot, thinned = _find(start, head.time - offset)
        places = np.flatnonzero(thinned)
        counted = (begin[spot[places]] <= offset[places]) & (offset[places] <= end[spot[places]])
        missing[places[counted]] = False
        return missing, conflicts


def _find(
    table: np.ndarray[tuple[int], np.dtype[np.int64]],
    wanted: np.ndarray[tuple[int], np.dtype[np.int64]],
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return for each wanted time its place in an ascending table, and whether it is really there."""
    spot = np.searchsorted(table, wanted)
    there = np.zeros(len(wanted), np.bool_)
    inside = spot < len(table)
    there[inside] = table[spot[inside]] == wanted[inside]
    return spot, there


def _check_series(yard: str, stream: Stream, series: Series) -> None:
    """Raise StoreError unless a series is what `Series` promises."""
    name = f"the series {stream.quantity} of {stream.hive or 'the yard'} in {yard!r}"
    hint = "sort it, take out doubles and what is no number before storing it"
    if len(series.time) != len(series.value):
        raise StoreError(f"{name} has {len(series.time)} times and {len(series.value)} values", hint=hint)
    if (np.diff(series.time) <= 0).any():
        place = int(np.argmax(np.diff(series.time) <= 0)) + 1
        raise StoreError(f"{name} is not in ascending order at place {place}", hint=hint)
    if not np.isfinite(series.value).all():
        place = int(np.argmin(np.isfinite(series.value)))
        raise StoreError(f"{name} has {series.value[place]} at place {place}", hint=hint)
    if len(series.time) and not EARLIEST <= series.time[0] <= series.time[-1] <= LATEST:
        raise StoreError(f"{name} has times outside the years 1 to 9999", hint="check the clock of the device")

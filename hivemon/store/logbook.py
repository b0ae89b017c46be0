"""The beekeeper's logbook. Nothing entered is ever deleted: corrections and strikes go on top of what was there."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, NamedTuple

from hivemon.errors import StoreError, UsageError
from hivemon.model import Entry, LogEntry, Millis
from hivemon.store.part import Part

if TYPE_CHECKING:
    from collections.abc import Iterable

_COLUMNS = "time, hive, entry, amount, note, id"
Change = Literal["added", "corrected", "struck"]


class EntryVersion(NamedTuple):
    """An entry as it stood after a change, and when that change was recorded."""

    change: Change
    recorded: Millis
    yard: str
    entry: LogEntry


class LogbookChanges(NamedTuple):
    """What happened to the logbook since an earlier change: the last one's number, and per yard the earliest time."""

    number: int
    earliest: dict[str, Millis]


class Logbook(Part):
    """Logbook entries and their history."""

    def add_entry(self, yard: str, entry: LogEntry) -> LogEntry:
        """Keep an entry and return it with its id; raises StoreError when its amount is not a number."""
        with self._db.transaction():
            row = (yard, *_row(entry))
            sql = "INSERT INTO entry (yard, hive, time, entry, amount, note) VALUES (?, ?, ?, ?, ?, ?)"
            number = self._db.run(sql, row).lastrowid or 0
            self._remember("added", number)
        return _with_id(entry, number)

    def add_entries(self, yard: str, entries: Iterable[LogEntry]) -> tuple[list[LogEntry], int]:
        """Keep those entries that were never entered before; return them, and how many were known.

        For files that are imported more than once: an entry that was corrected or struck since does not come back.
        """
        added: list[LogEntry] = []
        known = 0
        with self._db.transaction():
            for entry in entries:
                if self._was_entered(yard, entry):
                    known += 1
                else:
                    added.append(self.add_entry(yard, entry))
        return added, known

    def correct_entry(self, number: int, entry: LogEntry) -> LogEntry:
        """Put an entry in the place of number `number`; the old one stays in its history.

        Raises UsageError when there is no such entry or it was struck.
        """
        with self._db.transaction():
            self._standing(number)
            sql = "UPDATE entry SET hive = ?, time = ?, entry = ?, amount = ?, note = ? WHERE id = ?"
            self._db.run(sql, (*_row(entry), number))
            self._remember("corrected", number)
        return _with_id(entry, number)

    def strike_entry(self, number: int) -> LogEntry:
        """Strike an entry out and return it; it stays in its history. Raises UsageError as `correct_entry` does."""
        with self._db.transaction():
            entry = self._standing(number)
            self._db.run("UPDATE entry SET struck = 1 WHERE id = ?", (number,))
            self._remember("struck", number)
        return entry

    def entries(
        self,
        yard: str | None = None,
        hive: str | None = None,
        since: Millis | None = None,
        until: Millis | None = None,
    ) -> list[LogEntry]:
        """Return the entries that stand, with since <= time < until, in order of time."""
        sql = (
            f"SELECT {_COLUMNS} FROM entry WHERE struck = 0"  # noqa: S608 - our own words
            " AND (:yard IS NULL OR yard = :yard) AND (:hive IS NULL OR hive = :hive)"
            " AND (:since IS NULL OR time >= :since) AND (:until IS NULL OR time < :until) ORDER BY time, id"
        )
        rows = self._db.rows(sql, {"yard": yard, "hive": hive, "since": since, "until": until})
        return [_entry(row) for row in rows]

    def entry_yard(self, number: int) -> str:
        """Return the yard an entry belongs to; raises UsageError when there is no such entry."""
        row = self._db.one("SELECT yard FROM entry WHERE id = ?", (number,))
        if row is None:
            raise _unknown(number)
        return str(row[0])

    def entry_history(self, number: int) -> list[EntryVersion]:
        """Return everything that was done to an entry, in order; empty when there is no such entry."""
        sql = f"SELECT change, recorded, yard, {_COLUMNS} FROM entry_history WHERE id = ? ORDER BY number"  # noqa: S608 - our own words
        return [EntryVersion(row[0], row[1], row[2], _entry(row[3:])) for row in self._db.rows(sql, (number,))]

    def logbook_changes(self, after: int = 0) -> LogbookChanges:
        """Return what was added, corrected or struck by anyone after change number `after`.

        A correction touches the time the entry had before as well as the one it has now.
        """
        with self._db.view():
            (last,) = self._db.one("SELECT ifnull(max(number), 0) FROM entry_history")
            rows = self._db.rows(
                "SELECT yard, min(time) FROM entry_history WHERE number > :after"
                " OR (id, number) IN (SELECT old.id, max(old.number) FROM entry_history AS old"
                "   JOIN entry_history AS new ON new.id = old.id AND new.number > :after"
                "   WHERE old.number <= :after GROUP BY old.id)"
                " GROUP BY yard",
                {"after": after},
            )
        return LogbookChanges(last, dict(rows))

    def _remember(self, change: Change, number: int) -> None:
        self._db.run(
            "INSERT INTO entry_history (id, change, recorded, yard, hive, time, entry, amount, note)"
            " SELECT id, ?, ?, yard, hive, time, entry, amount, note FROM entry WHERE id = ?",
            (change, self._clock(), number),
        )

    def _was_entered(self, yard: str, entry: LogEntry) -> bool:
        sql = (
            "SELECT 1 FROM entry_history WHERE yard = ? AND hive = ? AND time = ? AND entry = ?"
            " AND amount IS ? AND note = ? LIMIT 1"
        )
        return self._db.one(sql, (yard, *_row(entry))) is not None

    def _standing(self, number: int) -> LogEntry:
        row = self._db.one(f"SELECT {_COLUMNS}, struck FROM entry WHERE id = ?", (number,))  # noqa: S608 - our own words
        if row is None:
            raise _unknown(number)
        if row[-1]:
            raise UsageError(f"logbook entry {number} has been struck out already", hint="enter it anew")
        return _entry(row[:-1])


def _row(entry: LogEntry) -> tuple[str, Millis, str, float | None, str]:
    if entry.amount is not None and not math.isfinite(entry.amount):
        raise StoreError(f"the amount of a logbook entry is {entry.amount}", hint="give a number, or leave it out")
    return entry.hive, entry.time, entry.entry.value, entry.amount, entry.note


def _entry(row: tuple[Millis, str, str, float | None, str, int]) -> LogEntry:
    time, hive, entry, amount, note, number = row
    return LogEntry(time=time, hive=hive, entry=Entry(entry), amount=amount, note=note, id=number)


def _with_id(entry: LogEntry, number: int) -> LogEntry:
    return LogEntry(
        time=entry.time, hive=entry.hive, entry=entry.entry, amount=entry.amount, note=entry.note, id=number
    )


def _unknown(number: int) -> UsageError:
    return UsageError(f"there is no logbook entry {number}", hint="`hivemon log` lists them with their numbers")

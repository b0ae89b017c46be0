"""What the store knows about itself, for `hivemon health`."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import msgspec

from hivemon.model import Millis
from hivemon.store.faults import may_only_be_read
from hivemon.store.part import Part

if TYPE_CHECKING:
    from pathlib import Path


class StreamFacts(msgspec.Struct, frozen=True, kw_only=True):
    """One stream. `readings` counts raw ones; `stamped` those that came without a time. Both None unless asked for."""

    yard: str
    hive: str | None
    quantity: str
    last: Millis | None
    readings: int | None = None
    stamped: int | None = None


class StoreFacts(msgspec.Struct, frozen=True, kw_only=True):
    """The store's health. Sizes in bytes.

    `integrity` lists what is wrong: empty when all is well, None when not looked at.
    """

    path: str
    size: int
    wal_size: int
    disk_free: int
    disk_read_only: bool = False
    streams: list[StreamFacts]
    entries: int
    events: int
    advisories_open: int
    hive_days: int
    means: int | None
    quarantined: int
    outbox_points: int
    outbox_oldest: Millis | None
    adopted: int
    notes: dict[str, str]
    integrity: list[str] | None

    @property
    def last_reading(self) -> Millis | None:
        """The time of the last reading of all, or None."""
        return max((stream.last for stream in self.streams if stream.last is not None), default=None)

    @property
    def readings(self) -> int | None:
        """How many raw readings there are; None unless asked for."""
        counts = [stream.readings for stream in self.streams]
        return None if None in counts else sum(count for count in counts if count is not None)


class Facts(Part):
    """The store about itself."""

    def facts(self, *, deep: bool = True) -> StoreFacts:
        """Return the store's health. `deep` counts readings and checks every page, which takes seconds a gigabyte."""
        path = self._db.path
        wal = path.with_name(path.name + "-wal")
        with self._db.view():
            points, oldest = self._db.one("SELECT ifnull(sum(points), 0), min(created) FROM outbox")
            lost = self._db.one("SELECT seq FROM sqlite_sequence WHERE name = 'quarantine'")
            return StoreFacts(
                path=str(path),
                size=_size(path),
                wal_size=_size(wal),
                disk_free=shutil.disk_usage(path.parent).free,
                disk_read_only=may_only_be_read(path.parent),
                streams=self._stream_facts(deep=deep),
                entries=self._count("SELECT count(*) FROM entry WHERE struck = 0"),
                events=self._count("SELECT count(*) FROM event WHERE withdrawn IS NULL"),
                advisories_open=self._count("SELECT count(*) FROM advisory WHERE closed IS NULL"),
                hive_days=self._count("SELECT count(*) FROM hive_day"),
                means=self._count("SELECT count(*) FROM mean") if deep else None,
                quarantined=lost[0] if lost else 0,
                outbox_points=points,
                outbox_oldest=oldest,
                adopted=self._count("SELECT count(*) FROM adopted"),
                notes=dict(self._db.rows("SELECT name, text FROM note ORDER BY name")),
                integrity=self.check() if deep else None,
            )

    def version(self) -> int:
        """Return a number that is another one after any other connection has written; asking costs next to nothing."""
        (number,) = self._db.one("PRAGMA data_version")
        return int(number)

    def written(self) -> dict[str, int]:
        """Return how many of everything that is counted was ever written, by table; asking costs next to nothing."""
        return dict(self._db.rows("SELECT name, seq FROM sqlite_sequence ORDER BY name"))

    def check(self) -> list[str]:
        """Look at every page of the database and every reference; return what is wrong, empty when all is well."""
        found = [str(text) for (text,) in self._db.rows("PRAGMA integrity_check(20)") if text != "ok"]
        for table, _, parent, _ in self._db.rows("PRAGMA foreign_key_check"):
            found.append(f"a row of {table} refers to a row of {parent} that is not there")
        return found

    def _stream_facts(self, *, deep: bool) -> list[StreamFacts]:
        found = []
        for number, yard, hive, quantity in self._db.rows("SELECT * FROM series ORDER BY yard, hive, quantity"):
            (last,) = self._db.one("SELECT max(time) FROM reading WHERE series = ?", (number,))
            count = stamped = None
            if deep:
                sql = "SELECT count(*), ifnull(sum(stamped), 0) FROM reading WHERE series = ?"
                count, stamped = self._db.one(sql, (number,))
            found.append(
                StreamFacts(yard=yard, hive=hive or None, quantity=quantity, last=last, readings=count, stamped=stamped)
            )
        return found

    def _count(self, sql: str) -> int:
        (count,) = self._db.one(sql)
        return int(count)


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0

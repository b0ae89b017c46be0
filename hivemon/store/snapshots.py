"""State snapshots of the fold, adopted hives, and notes from one process to another."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import DAY, Millis
from hivemon.store.part import Part

if TYPE_CHECKING:
    from collections.abc import Sequence

DAILY_DAYS = 10
"""Late readings seldom come later than this, so each of these days keeps a snapshot."""
WEEKLY_DAYS = 10 + 8 * 7
"""After that a week keeps one; and after this, four weeks."""


class Snapshot(NamedTuple):
    """The state of a yard's fold after the reading at `time`."""

    time: Millis
    blob: bytes


class Adopted(NamedTuple):
    """A hive that sent readings without being in the configuration, and when it was first seen."""

    yard: str
    hive: str
    time: Millis


class Snapshots(Part):
    """What the daemon needs to go on where it stopped."""

    def put_snapshot(self, yard: str, time: Millis, blob: bytes) -> None:
        """Keep the state of a yard's fold after the reading at `time`."""
        with self._db.transaction():
            self._db.run("INSERT OR REPLACE INTO snapshot (yard, time, body) VALUES (?, ?, ?)", (yard, time, blob))

    def snapshot_before(self, yard: str, time: Millis) -> Snapshot | None:
        """Return the last snapshot strictly before `time`, or None."""
        sql = "SELECT time, body FROM snapshot WHERE yard = ? AND time < ? ORDER BY time DESC LIMIT 1"
        row = self._db.one(sql, (yard, time))
        return Snapshot(*row) if row else None

    def newest_snapshot(self, yard: str) -> Millis | None:
        """Return the time of a yard's last snapshot without reading it, or None."""
        (time,) = self._db.one("SELECT max(time) FROM snapshot WHERE yard = ?", (yard,))
        return None if time is None else int(time)

    def drop_snapshots(self, yard: str, since: Millis) -> None:
        """Forget snapshots at or after `since`: a reading or an entry from before them has made them wrong."""
        with self._db.transaction():
            self._db.run("DELETE FROM snapshot WHERE yard = ? AND time >= ?", (yard, since))

    def prune_snapshots(self, yard: str) -> int:
        """Keep a snapshot a day for the last ten days, then one a week, then one in four weeks; return how many went.

        Ages are counted back from the newest snapshot of the yard.
        """
        with self._db.transaction():
            rows = self._db.rows("SELECT time FROM snapshot WHERE yard = ? ORDER BY time", (yard,))
            useless = superfluous([time for (time,) in rows])
            self._db.run_many("DELETE FROM snapshot WHERE yard = ? AND time = ?", ((yard, time) for time in useless))
        return len(useless)

    def adopt(self, yard: str, hive: str, time: Millis) -> bool:
        """Remember a hive that is not in the configuration; True when it was not known yet."""
        with self._db.transaction():
            sql = "INSERT OR IGNORE INTO adopted (yard, hive, time) VALUES (?, ?, ?)"
            return self._db.run(sql, (yard, hive, time)).rowcount > 0

    def adopted(self) -> list[Adopted]:
        """Return the adopted hives by yard and hive."""
        return [Adopted(*row) for row in self._db.rows("SELECT yard, hive, time FROM adopted ORDER BY yard, hive")]

    def put_note(self, name: str, text: str) -> None:
        """Leave a small fact for other processes, in the place of the one of the same name."""
        with self._db.transaction():
            self._db.run("INSERT OR REPLACE INTO note (name, text) VALUES (?, ?)", (name, text))

    def note(self, name: str) -> str | None:
        """Return the note of that name, or None."""
        row = self._db.one("SELECT text FROM note WHERE name = ?", (name,))
        return str(row[0]) if row else None


def superfluous(times: Sequence[Millis]) -> list[Millis]:
    """Return which of the ascending times may go.

    Of each day, week or four weeks the newest stays. They are counted from 1970, not back from now, so that pruning
    again later does not wear away what was kept before. The very oldest stays too.
    """
    kept: dict[tuple[int, int], Millis] = {}
    for time in times:
        age = times[-1] - time
        span = 1 if age < DAILY_DAYS * DAY else 7 if age < WEEKLY_DAYS * DAY else 28
        kept[span, time // (span * DAY)] = time
    stays = {*kept.values(), *times[:1]}
    return [time for time in times if time not in stays]

"""Points on their way to a time-series server, kept until it has accepted them. First in, first out."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.store.part import Part

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.model import Millis

BATCH_POINTS = 5_000
"""Points in a stored batch at most, so that a batch is never larger than one request."""

_unpack = msgspec.msgpack.Decoder(list[str]).decode


class OutboxBatch(NamedTuple):
    """Lines of line protocol that were put in together at `created`."""

    id: int
    created: Millis
    lines: list[str]


class Backlog(NamedTuple):
    """How many points wait, and since when the oldest does (None: nothing waits)."""

    points: int
    oldest: Millis | None


class Outbox(Part):
    """What a time-series server has not accepted yet."""

    def outbox_put(self, lines: Sequence[str], created: Millis) -> None:
        """Keep lines of line protocol until they are dropped, in order."""
        with self._db.transaction():
            for first in range(0, len(lines), BATCH_POINTS):
                part = lines[first : first + BATCH_POINTS]
                body = zlib.compress(msgspec.msgpack.encode(part), 1)
                sql = "INSERT INTO outbox (created, points, body) VALUES (?, ?, ?)"
                self._db.run(sql, (created, len(part), body))

    def outbox_peek(self, limit_points: int = BATCH_POINTS) -> list[OutboxBatch]:
        """Return the oldest batches with at most `limit_points` together, but at least one if there is any."""
        found: list[OutboxBatch] = []
        cursor = self._db.run("SELECT id, created, points, body FROM outbox ORDER BY id")
        room = limit_points
        for number, created, points, body in cursor:
            if found and points > room:
                break
            found.append(OutboxBatch(number, created, _unpack(zlib.decompress(body))))
            room -= points
            if room <= 0:
                break
        cursor.close()
        return found

    def outbox_drop(self, ids: Sequence[int]) -> None:
        """Forget batches that were accepted."""
        with self._db.transaction():
            self._db.run_many("DELETE FROM outbox WHERE id = ?", ((number,) for number in ids))

    def outbox_backlog(self) -> Backlog:
        """Return how much waits and since when."""
        return Backlog(*self._db.one("SELECT ifnull(sum(points), 0), min(created) FROM outbox"))

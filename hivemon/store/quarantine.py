"""Messages that could not be used, with the reason. Bounded: the oldest go, their number stays."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.store.part import Part

if TYPE_CHECKING:
    from hivemon.model import Millis

KEPT = 1_000
"""Messages kept."""
KEPT_BYTES = 4_096
"""Bytes kept of a payload: a SenML pack of a day's readings is larger, but its beginning shows what is wrong."""


class Quarantined(NamedTuple):
    """A message that could not be used. `payload` is its beginning, `size` its full length in bytes."""

    received: Millis
    reason: str
    topic: str
    payload: bytes
    size: int


class Quarantine(Part):
    """What could not be used."""

    def quarantine(self, reason: str, topic: str, payload: bytes, received: Millis) -> None:
        """Keep a message that could not be used; the oldest makes room when there are `KEPT`."""
        # A message that could not be used may hold anything, so what is no Unicode is written as escapes.
        reason, topic = (text.encode(errors="backslashreplace").decode() for text in (reason, topic))
        with self._db.transaction():
            sql = "INSERT INTO quarantine (received, reason, topic, payload, size) VALUES (?, ?, ?, ?, ?)"
            row = (received, reason, topic, bytes(payload[:KEPT_BYTES]), len(payload))
            number = self._db.run(sql, row).lastrowid or 0
            self._db.run("DELETE FROM quarantine WHERE id <= ?", (number - KEPT,))

    def quarantined(self, limit: int = 20) -> list[Quarantined]:
        """Return the last messages that could not be used, newest first."""
        sql = "SELECT received, reason, topic, payload, size FROM quarantine ORDER BY id DESC LIMIT ?"
        return [Quarantined(*row) for row in self._db.rows(sql, (limit,))]

    def quarantine_count(self) -> int:
        """Return how many messages could not be used since the database was made, those no longer kept included."""
        row = self._db.one("SELECT seq FROM sqlite_sequence WHERE name = 'quarantine'")
        return int(row[0]) if row else 0

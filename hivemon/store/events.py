"""Events, advisories and hive days. Of the first two every version is kept: nothing said is ever unsaid in silence."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.model import Advisory, Event, HiveDay, Kind, Millis
from hivemon.store.part import Part, own

if TYPE_CHECKING:
    from collections.abc import Iterable

_pack = msgspec.msgpack.Encoder(order="deterministic").encode
_event = msgspec.msgpack.Decoder(Event).decode
_advisory = msgspec.msgpack.Decoder(Advisory).decode
_hive_day = msgspec.msgpack.Decoder(HiveDay).decode


class EventVersion(NamedTuple):
    """An event as it was told at `recorded`."""

    recorded: Millis
    event: Event


class AdvisoryVersion(NamedTuple):
    """An advisory as it was told at `recorded`."""

    recorded: Millis
    advisory: Advisory


class Events(Part):
    """What was inferred and what was advised."""

    def put_events(self, events: Iterable[Event]) -> int:
        """Keep events, each in the place of the one with its id; return how many were new or different.

        Every version that differs from the one before it goes into the history.
        """
        changed = 0
        with self._db.transaction():
            for event in events:
                body = _pack(event)
                row = (event.id, event.yard, own(event.hive), event.kind.value, event.raised, event.withdrawn,
                       event.summary, body)  # fmt: skip
                changed += self._db.run(
                    "INSERT INTO event (id, yard, hive, kind, raised, withdrawn, summary, body)"
                    " VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET yard = excluded.yard,"
                    " hive = excluded.hive, kind = excluded.kind, raised = excluded.raised,"
                    " withdrawn = excluded.withdrawn, summary = excluded.summary, body = excluded.body"
                    " WHERE body != excluded.body",
                    row,
                ).rowcount and self._keep_version("event", event.id, body)
        return changed

    def event(self, event: str) -> Event | None:
        """Return the event with this id as it stands, or None."""
        row = self._db.one("SELECT body FROM event WHERE id = ?", (event,))
        return _event(row[0]) if row else None

    def advisory(self, advisory: str) -> Advisory | None:
        """Return the advisory with this id as it stands, or None."""
        row = self._db.one("SELECT body FROM advisory WHERE id = ?", (advisory,))
        return _advisory(row[0]) if row else None

    def events(
        self,
        yard: str | None = None,
        hive: str | None = None,
        kind: Kind | None = None,
        since: Millis | None = None,
        *,
        withdrawn: bool = True,
    ) -> list[Event]:
        """Return events raised at or after `since`, in the order in which they were raised.

        `hive` asks for one hive's events; without it a yard's own come too. `withdrawn=False` leaves out those that
        were taken back.
        """
        sql = (
            "SELECT body FROM event WHERE (:yard IS NULL OR yard = :yard) AND (:hive IS NULL OR hive = :hive)"
            " AND (:kind IS NULL OR kind = :kind) AND (:since IS NULL OR raised >= :since)"
            " AND (:withdrawn OR withdrawn IS NULL) ORDER BY raised, id"
        )
        wanted = {"yard": yard, "hive": hive, "kind": kind and kind.value, "since": since, "withdrawn": withdrawn}
        return [_event(body) for (body,) in self._db.rows(sql, wanted)]

    def event_history(self, event: str) -> list[EventVersion]:
        """Return every version of an event, oldest first; empty when there is none with this id."""
        sql = "SELECT recorded, body FROM event_history WHERE id = ? ORDER BY number"
        return [EventVersion(recorded, _event(body)) for recorded, body in self._db.rows(sql, (event,))]

    def put_advisories(self, advisories: Iterable[Advisory]) -> int:
        """Keep advisories as `put_events` keeps events; return how many were new or different."""
        changed = 0
        with self._db.transaction():
            for advisory in advisories:
                body = _pack(advisory)
                row = (advisory.id, advisory.yard, own(advisory.hive), advisory.raised, advisory.closed,
                       advisory.title, body)  # fmt: skip
                changed += self._db.run(
                    "INSERT INTO advisory (id, yard, hive, raised, closed, title, body) VALUES (?, ?, ?, ?, ?, ?, ?)"
                    " ON CONFLICT (id) DO UPDATE SET yard = excluded.yard, hive = excluded.hive,"
                    " raised = excluded.raised, closed = excluded.closed, title = excluded.title,"
                    " body = excluded.body WHERE body != excluded.body",
                    row,
                ).rowcount and self._keep_version("advisory", advisory.id, body)
        return changed

    def advisories(
        self,
        yard: str | None = None,
        hive: str | None = None,
        *,
        open_only: bool = False,
    ) -> list[Advisory]:
        """Return advisories in the order in which they were raised; `open_only` leaves out those that are closed."""
        sql = (
            "SELECT body FROM advisory WHERE (:yard IS NULL OR yard = :yard) AND (:hive IS NULL OR hive = :hive)"
            " AND (NOT :open OR closed IS NULL) ORDER BY raised, id"
        )
        return [_advisory(body) for (body,) in self._db.rows(sql, {"yard": yard, "hive": hive, "open": open_only})]

    def advisory_history(self, advisory: str) -> list[AdvisoryVersion]:
        """Return every version of an advisory, oldest first; empty when there is none with this id."""
        sql = "SELECT recorded, body FROM advisory_history WHERE id = ? ORDER BY number"
        return [AdvisoryVersion(recorded, _advisory(body)) for recorded, body in self._db.rows(sql, (advisory,))]

    def put_hive_days(self, days: Iterable[HiveDay]) -> None:
        """Keep hive days, each in the place of the one of the same hive and date."""
        rows = ((day.yard, day.hive, day.date, day.start, _pack(day)) for day in days)
        with self._db.transaction():
            self._db.run_many(
                "INSERT OR REPLACE INTO hive_day (yard, hive, date, start, body) VALUES (?, ?, ?, ?, ?)", rows
            )

    def hive_days(self, yard: str, hive: str | None = None, since: Millis | None = None) -> list[HiveDay]:
        """Return hive days that start at or after `since`, by hive and date."""
        # The conditions are written out, so that one hive's days are found by the key and not by reading all.
        one = "" if hive is None else " AND hive = :hive"
        late = "" if since is None else " AND start >= :since"
        sql = f"SELECT body FROM hive_day WHERE yard = :yard{one}{late} ORDER BY hive, date"  # noqa: S608 - our own words
        return [_hive_day(body) for (body,) in self._db.rows(sql, {"yard": yard, "hive": hive, "since": since})]

    def _keep_version(self, what: str, number: str, body: bytes) -> int:
        sql = f"INSERT INTO {what}_history (id, recorded, body) VALUES (?, ?, ?)"  # noqa: S608 - our own words
        return self._db.run(sql, (number, self._clock(), body)).rowcount

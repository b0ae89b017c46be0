"""Messages to people: what was told of which advisory, what was answered, and what still waits for a channel."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.model import Advisory, Millis
from hivemon.store.part import Part

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_pack = msgspec.msgpack.Encoder(order="deterministic").encode
_advisory = msgspec.msgpack.Decoder(Advisory).decode
_ids = msgspec.json.Decoder(list[str]).decode

_COLUMNS = "id, channel, created, yard, sort, date, urgent, reason, title, body, advisories, attempts, tried, sent"


class Told(NamedTuple):
    """What people were last told of an advisory: its version then; `at_once`: a message of its own went out once."""

    time: Millis
    at_once: bool
    advisory: Advisory


class Answer(StrEnum):
    """What the beekeeper says back about an advisory."""

    SEEN = "seen"
    """Read; it need not be said again unless it changes."""
    DONE = "done"
    """Done; it need not be said again unless it becomes more urgent."""
    WRONG = "wrong"
    """Not so; it is not said again, and counts against the program."""


class Answered(NamedTuple):
    """An answer with a remark (may be empty), and the advisory as it stood when it was given."""

    time: Millis
    answer: Answer
    remark: str
    advisory: Advisory


class Sort(StrEnum):
    """What a message is."""

    NOTE = "note"
    ADVICE = "advice"
    TROUBLE = "trouble"
    """About another channel."""
    TEST = "test"


class Message(msgspec.Struct, frozen=True, kw_only=True):
    """A message, on its way over one channel or gone.

    `date` is the yard's local day of a morning note, empty for others. `reason` says why it went out. `attempts` counts
    tries that failed, `tried` is when the last of them was; `sent` is None while it waits.
    """

    id: int = 0
    channel: str = ""
    created: Millis
    yard: str
    sort: Sort
    date: str = ""
    urgent: bool = False
    reason: str = ""
    title: str
    text: str
    advisories: list[str] = []
    attempts: int = 0
    tried: Millis | None = None
    sent: Millis | None = None


class Waiting(NamedTuple):
    """How many messages wait for a channel, and since when the oldest does."""

    messages: int
    oldest: Millis


class Notices(Part):
    """What is said to people, and what they say back."""

    def put_told(self, told: Iterable[Told]) -> None:
        """Remember what people were told of advisories, each in the place of what they were told before."""
        with self._db.transaction():
            self._db.run_many(
                "INSERT INTO told (advisory, time, at_once, closed, body) VALUES (?, ?, ?, ?, ?)"
                " ON CONFLICT (advisory) DO UPDATE SET time = excluded.time, at_once = max(at_once, excluded.at_once),"
                " closed = excluded.closed, body = excluded.body",
                ((t.advisory.id, t.time, t.at_once, t.advisory.closed is not None, _pack(t.advisory)) for t in told),
            )

    def told(self, advisories: Iterable[str]) -> dict[str, Told]:
        """Return what was last told of these advisories; one that nobody was told of is missing."""
        found = {}
        for advisory in advisories:
            row = self._db.one("SELECT time, at_once, body FROM told WHERE advisory = ?", (advisory,))
            if row:
                found[advisory] = Told(row[0], bool(row[1]), _advisory(row[2]))
        return found

    def closed_unsaid(self, yard: str, since: Millis) -> list[Advisory]:
        """Return a yard's advisories closed at or after `since` that had a message of their own, but none since."""
        sql = (
            "SELECT advisory.body FROM told JOIN advisory ON advisory.id = told.advisory WHERE advisory.yard = ?"
            " AND told.at_once AND NOT told.closed AND advisory.closed >= ? ORDER BY advisory.closed, advisory.id"
        )
        return [_advisory(body) for (body,) in self._db.rows(sql, (yard, since))]

    def add_answer(self, advisory: Advisory, answer: Answer, time: Millis, remark: str = "") -> None:
        """Keep an answer to an advisory as it stands now; earlier answers stay in the history."""
        with self._db.transaction():
            sql = "INSERT INTO answer (advisory, time, answer, remark, body) VALUES (?, ?, ?, ?, ?)"
            self._db.run(sql, (advisory.id, time, answer.value, remark, _pack(advisory)))

    def answers(self) -> dict[str, Answered]:
        """Return the last answer to each advisory that has one."""
        rows = self._db.rows("SELECT advisory, time, answer, remark, body FROM answer ORDER BY number")
        return {advisory: _answered(*rest) for advisory, *rest in rows}

    def answer_history(self, advisory: str) -> list[Answered]:
        """Return every answer to an advisory, oldest first."""
        sql = "SELECT time, answer, remark, body FROM answer WHERE advisory = ? ORDER BY number"
        return [_answered(*row) for row in self._db.rows(sql, (advisory,))]

    def queue_message(self, message: Message, channels: Sequence[str]) -> None:
        """Put a message into the queue of each of these channels."""
        with self._db.transaction():
            for channel in channels:
                self._db.run(
                    "INSERT INTO message (channel, created, yard, sort, date, urgent, reason, title, body, advisories)"
                    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                    (channel, message.created, message.yard, message.sort.value, message.date, message.urgent,
                     message.reason, message.title, message.text, msgspec.json.encode(message.advisories).decode()),
                )  # fmt: skip

    def next_message(self, channel: str, leave_out: Sequence[int] = ()) -> Message | None:
        """Return what should go out next on a channel: the urgent first, then the oldest; None when nothing waits."""
        sql = (
            f"SELECT {_COLUMNS} FROM message WHERE channel = ? AND sent IS NULL"  # noqa: S608 - our own words
            f" AND id NOT IN ({', '.join('?' * len(leave_out))}) ORDER BY urgent DESC, id LIMIT 1"
        )
        row = self._db.one(sql, (channel, *leave_out))
        return _message(*row) if row else None

    def mark_sent(self, message: int, time: Millis) -> None:
        """Take a message out of the queue: its channel has accepted it."""
        with self._db.transaction():
            self._db.run("UPDATE message SET sent = ? WHERE id = ?", (time, message))

    def mark_failed(self, message: int, time: Millis) -> None:
        """Count a try that failed; the message stays in the queue."""
        with self._db.transaction():
            self._db.run("UPDATE message SET attempts = attempts + 1, tried = ? WHERE id = ?", (time, message))

    def messages_waiting(self) -> dict[str, Waiting]:
        """Return how much waits for each channel that something waits for."""
        sql = "SELECT channel, count(*), min(created) FROM message WHERE sent IS NULL GROUP BY channel"
        return {channel: Waiting(count, oldest) for channel, count, oldest in self._db.rows(sql)}

    def messages(self, limit: int = 20) -> list[Message]:
        """Return the last messages, newest first, sent or not."""
        sql = f"SELECT {_COLUMNS} FROM message ORDER BY id DESC LIMIT ?"  # noqa: S608 - our own words
        return [_message(*row) for row in self._db.rows(sql, (limit,))]

    def last_note(self, yard: str) -> str | None:
        """Return the local day (YYYY-MM-DD) of a yard's last morning note, sent or waiting; None before the first."""
        (date,) = self._db.one("SELECT max(date) FROM message WHERE yard = ? AND sort = 'note'", (yard,))
        return str(date) if date is not None else None


def _answered(time: Millis, answer: str, remark: str, body: bytes) -> Answered:
    return Answered(time, Answer(answer), remark, _advisory(body))


def _message(  # noqa: PLR0913, PLR0917 - a row as it comes
    number: int, channel: str, created: Millis, yard: str, sort: str, date: str, urgent: int, reason: str, title: str,
    body: str, advisories: str, attempts: int, tried: Millis | None, sent: Millis | None,
) -> Message:  # fmt: skip
    return Message(
        id=number,
        channel=channel,
        created=created,
        yard=yard,
        sort=Sort(sort),
        date=date,
        urgent=bool(urgent),
        reason=reason,
        title=title,
        text=body,
        advisories=_ids(advisories),
        attempts=attempts,
        tried=tried,
        sent=sent,
    )

"""Sending the outbox to an InfluxDB (2.x write API; 1.8 and 3.x take it too), one turn at a time.

The daemon runs `InfluxSender.turn` in a thread of its own with a store of its own: a server that is slow or away slows
nothing else. Points are dropped from the outbox after the server has accepted them; a crash in between costs a repeat,
which overwrites the same points. The token goes to the server and nowhere else.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Protocol
from urllib.parse import urlsplit

import msgspec

from hivemon.model import MINUTE, SECOND, Millis
from hivemon.store.outbox import BATCH_POINTS
from hivemon.store.points import alive_line
from hivemon.store.retry import Retry
from hivemon.store.sender_state import NOTE, Condition, SenderState
from hivemon.store.server import Answer, InfluxServer, Reply

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from hivemon.config import InfluxSettings
    from hivemon.store.store import Store

log = logging.getLogger(__name__)

RETRY = Retry(SECOND, 5 * MINUTE)


class Server(Protocol):
    """What the sender needs of a server."""

    def write(self, lines: Sequence[str]) -> Reply:
        """Try to write lines of line protocol, and say how it went; raises nothing."""
        ...

    def close(self) -> None:
        """Let go of its connections."""
        ...


class InfluxSender:
    """Empties the outbox into a server. Keep it, with its store, in one thread."""

    def __init__(self, settings: InfluxSettings, store: Store, server: Server | None = None) -> None:
        self._store = store
        self._server: Server = server or InfluxServer(settings)
        self._name = urlsplit(settings.url).hostname or "the server"
        self.state = SenderState()
        self._told = False  # what an earlier run left behind may not be true any more

    def close(self) -> None:
        """Let go of the server."""
        self._server.close()

    def turn(self, now: Millis, stopping: Callable[[], bool] = lambda: False) -> int:
        """Send the oldest points, at most one request's worth, unless a wait is on; return how many left the outbox.

        `stopping` is asked between requests. Raises StoreError; trouble with the server is in `state`, not raised.
        """
        if not RETRY.due(self.state.next, now):
            return 0
        batches = self._store.outbox_peek(BATCH_POINTS)
        lines = [line for batch in batches for line in batch.lines]
        if not lines:
            return 0
        search = _Search(self._server, now, stopping)
        fault = search.send(lines)
        if fault is not None:
            self._failed(fault, now)
            return 0
        if search.stopped:
            return 0
        with self._store.transaction():
            for line, reason in search.refused:
                self._store.quarantine(f"{self._name} refused this point: {reason}", NOTE.name, line.encode(), now)
            self._store.outbox_drop([batch.id for batch in batches])
        self._succeeded(now, len(lines) - len(search.refused), len(search.refused))
        return len(lines)

    def _succeeded(self, now: Millis, accepted: int, refused: int) -> None:
        before = self.state
        came_back = before.condition is not Condition.FINE
        self.state = SenderState(
            since=now if came_back else before.since,
            accepted=before.accepted + accepted,
            refused=before.refused + refused,
        )
        if came_back:
            backlog = self._store.outbox_backlog()
            log.info("%s takes points again after %d failures; %d wait", self._name, before.failures, backlog.points)
        if refused:
            log.warning("%s refused %d points for what they are; they are in quarantine", self._name, refused)
        if came_back or refused or not self._told:
            self._publish()

    def _failed(self, reply: Reply, now: Millis) -> None:
        before = self.state
        condition = _CONDITIONS[reply.answer]
        failures = before.failures + 1
        changed = condition is not before.condition
        self.state = msgspec.structs.replace(
            before,
            condition=condition,
            detail=reply.detail,
            since=now if changed else before.since,
            failures=failures,
            next=now + max(RETRY.wait(failures), min(reply.wait, RETRY.longest)),
        )
        if changed:
            log.warning("%s: %s; points are kept and sent later", self._name, reply.detail)
            self._publish()

    def _publish(self) -> None:
        NOTE.put(self._store, self.state)
        self._told = True


_CONDITIONS = {
    Answer.AWAY: Condition.UNREACHABLE,
    Answer.FORBIDDEN: Condition.NOT_ALLOWED,
    Answer.NOT_READY: Condition.NOT_READY,
    Answer.REFUSED: Condition.NOT_READY,
}


class _Search:
    """Sends lines, halving what is refused until the refused points stand alone.

    Before the first point is blamed the server is asked to take a plain point: one that refuses even that has a
    trouble of its own, and no point is to blame.
    """

    def __init__(self, server: Server, now: Millis, stopping: Callable[[], bool]) -> None:
        self.refused: list[tuple[str, str]] = []
        self.stopped = False
        self._server = server
        self._now = now
        self._stopping = stopping
        self._sound = False

    def send(self, lines: Sequence[str]) -> Reply | None:
        """Send lines; return None when each was accepted or refused for itself, or what stopped it."""
        todo = [lines]
        while todo:
            if self._stopping():
                self.stopped = True
                return None
            part = todo.pop()
            reply = self._server.write(part)
            if reply.answer is Answer.ACCEPTED:
                self._sound = True
            elif reply.answer is not Answer.REFUSED:
                return reply
            elif len(part) > 1:
                middle = len(part) // 2
                todo += [part[middle:], part[:middle]]
            elif fault := self._blame(part[0], reply):
                return fault
        return None

    def _blame(self, line: str, reply: Reply) -> Reply | None:
        if not self._sound:
            proof = self._server.write([alive_line(self._now)])
            if proof.answer is not Answer.ACCEPTED:
                return proof
            self._sound = True
        self.refused.append((line, reply.detail))
        return None

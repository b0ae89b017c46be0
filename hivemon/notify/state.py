"""How each channel fares, as the daemon tells `hivemon channels` and `hivemon health` in another process."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.model import MINUTE, SECOND, Millis
from hivemon.store.notes import Note
from hivemon.store.retry import Retry

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.store import Store

RETRY = Retry(5 * SECOND, 10 * MINUTE)
FEWEST = 3
"""Failures in a row before a channel is said to fail: a program that was off for a night has tried only once."""
HANGS: Millis = 5 * MINUTE
"""A try that lasts this long is a failure, although it has not ended: no letter takes so long. Our rule."""


class ChannelState(msgspec.Struct, frozen=True, kw_only=True):
    """A channel. `since` is the first failure of a row, None while it works; `next` when the next try is due.

    `detail` says what is wrong, with no secret in it; `last_sent` is when it last took a message; `trying` is when the
    try began that is under way.
    """

    failures: int = 0
    since: Millis | None = None
    detail: str = ""
    next: Millis = 0
    last_sent: Millis | None = None
    trying: Millis | None = None

    def due(self, now: Millis) -> bool:
        """Tell whether the next try is due."""
        return RETRY.due(self.next, now)

    def failed(self, detail: str, now: Millis) -> ChannelState:
        """Return the state after a try that failed at `now`."""
        failures = self.failures + 1
        return ChannelState(
            failures=failures,
            since=self._bad_since(now),
            detail=detail,
            next=now + RETRY.wait(failures),
            last_sent=self.last_sent,
        )

    def seen_at(self, now: Millis) -> ChannelState:
        """Return the state as it is to be told at `now`: a try that hangs says as much as several that failed."""
        if self.trying is None or now - self.trying < HANGS:
            return self
        failures, detail = self.failures + FEWEST, "it does not finish taking a message"
        return msgspec.structs.replace(self, failures=failures, since=self._bad_since(now), detail=detail)

    def _bad_since(self, now: Millis) -> Millis:
        if self.since is not None:
            return self.since
        return now if self.trying is None else self.trying


NOTE = Note("channels", dict[str, ChannelState])
"""Where the states are left in the store, by channel."""


def keep_state(store: Store, name: str, state: ChannelState) -> None:
    """Leave how one channel fares beside how the others do. Raises StoreError."""
    with store.transaction():
        NOTE.put(store, {**(NOTE.read(store) or {}), name: state})


def begin(store: Store, names: Iterable[str]) -> None:
    """Forget channels that are no more, and tries that the end of the last run cut short. Raises StoreError."""
    with store.transaction():
        kept = NOTE.read(store) or {}
        NOTE.put(store, {n: msgspec.structs.replace(kept[n], trying=None) for n in names if n in kept})

"""How each channel fares, as the daemon tells `hivemon channels` and `hivemon health` in another process."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.model import MINUTE, SECOND, Millis

if TYPE_CHECKING:
    from collections.abc import Mapping

NOTE = "channels"
"""Under this name the states are left in the store."""
FIRST_WAIT: Millis = 5 * SECOND
LONGEST_WAIT: Millis = 10 * MINUTE


class ChannelState(msgspec.Struct, frozen=True, kw_only=True):
    """A channel. `since` is the first failure of a row, None while it works; `next` when the next try is due.

    `detail` says what is wrong, with no secret in it; `last_sent` is when it last took a message.
    """

    failures: int = 0
    since: Millis | None = None
    detail: str = ""
    next: Millis = 0
    last_sent: Millis | None = None

    def due(self, now: Millis) -> bool:
        """Tell whether the next try is due; it is when `next` lies further off than any wait: the clock went back."""
        return not now < self.next <= now + LONGEST_WAIT

    def failed(self, detail: str, now: Millis) -> ChannelState:
        """Return the state after a try that failed at `now`."""
        failures = self.failures + 1
        return ChannelState(
            failures=failures,
            since=now if self.since is None else self.since,
            detail=detail,
            next=now + backoff(failures),
            last_sent=self.last_sent,
        )


def backoff(failures: int) -> Millis:
    """Return how long to wait after that many failures in a row: 5 s, doubled each time, ten minutes at most."""
    if failures <= 0:
        return 0
    return min(FIRST_WAIT << min(failures - 1, 32), LONGEST_WAIT)


def to_note(states: Mapping[str, ChannelState]) -> str:
    """Return the states as the text of a note in the store."""
    return msgspec.json.encode(states).decode()


def from_note(note: str | None) -> dict[str, ChannelState]:
    """Return the states a note holds; none when there is no note, or one of another version."""
    if note is None:
        return {}
    try:
        return msgspec.json.decode(note, type=dict[str, ChannelState])
    except msgspec.DecodeError:
        return {}

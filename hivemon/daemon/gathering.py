"""How long to wait for more messages, so that one commit keeps many.

A commit that outlasts a power cut costs the same for one message as for a hundred, so a message that comes alone is
worth a moment's wait for others. Where many come anyhow, or a broker sends the next only when the last is acknowledged,
a wait would only hold them up.
"""

from __future__ import annotations

from hivemon.model import SECOND, Millis

PAUSE: Millis = 50
"""A beekeeper cannot tell it from at once, and of 4,000 hives that speak every minute three do so meanwhile."""
MANY = 20
"""Messages of one commit from which they come faster than waiting is worth."""
REST: Millis = 5 * SECOND
"""How long nothing is waited for after that, or after two waits in vain."""


class Gathering:
    """Says how long to wait, and learns from what came of it. Times are ms of a clock that is never set."""

    def __init__(self) -> None:
        self._rests_until: Millis = 0
        self._in_vain = False

    def pause(self, now: Millis) -> Millis:
        """Return how long to wait for more, now that something has come."""
        return PAUSE if now >= self._rests_until else 0

    def learn(self, before: int, after: int, now: Millis) -> None:
        """Take note of how many messages there were before a pause and after it."""
        in_vain = after == before
        if after >= MANY or (in_vain and self._in_vain):
            self._rests_until = now + REST
        self._in_vain = in_vain

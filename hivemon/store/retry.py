"""When to try again what failed: a server or a channel that is away is not hammered, and not forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from hivemon.model import Millis


class Retry(NamedTuple):
    """The wait after a failure: `first`, doubled with each failure in a row, `longest` at most; ms."""

    first: Millis
    longest: Millis

    def wait(self, failures: int) -> Millis:
        """Return how long to wait after that many failures in a row."""
        return min(self.first << min(failures - 1, 32), self.longest) if failures > 0 else 0

    def due(self, next_try: Millis, now: Millis) -> bool:
        """Tell whether the next try is due; it is when it lies further off than any wait: the clock was set back."""
        return not now < next_try <= now + self.longest

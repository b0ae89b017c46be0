"""Nodes whose clock is behind by whole or half hours: one that keeps local time and calls it UTC, or puts itself back.

A clock that is ahead is found at once, since its readings lie in the future and are refused. One that is behind looks
like a node that sends late, but lateness varies and a time zone does not: its messages all come equally late.
"""

from __future__ import annotations

import logging
from collections import deque
from typing import TYPE_CHECKING

from hivemon.model import HOUR, MINUTE
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.intake.link import Message
    from hivemon.model import Millis, Reading
    from hivemon.store import Store

NOTE = Note("slow-clocks", dict[str, int])
"""Where the daemon leaves what it found, for `hivemon health`."""
STEP: Millis = HOUR // 2
"""Time zones differ by whole and half hours, but for three that hold few people (IANA time zone database)."""
LEAST: Millis = HOUR
NEAR: Millis = 2 * MINUTE
"""So near to a multiple of the step, and to each other. Our rule: what a radio and a clock without a radio do."""
FEWEST = 6
"""Messages in a row that it takes to judge. Our rule."""
OVER: Millis = HOUR // 2
"""They come over at least this time: what was held up together arrives together. Our rule."""
MOST = 1_000
"""Places that are watched at once."""

log = logging.getLogger("hivemon.daemon")


class SlowClocks:
    """Watches how late each place's messages are; places are "yard/hive", or "yard" for the yard's own."""

    def __init__(self) -> None:
        self._late: dict[str, deque[tuple[Millis, Millis]]] = {}
        """Place -> (receipt, how late) of its last messages; those in time are not in it."""

    def heard(self, message: Message, readings: Sequence[Reading]) -> None:
        """Take note of a message with readings; one that was kept, or without a time of its own, says nothing."""
        if not self._late and message.received - readings[-1].time < LEAST - NEAR:
            return  # as nearly always
        if message.retained or readings[-1].stamped:
            return
        place = place_of(readings[-1])
        late = message.received - max(reading.time for reading in readings)
        if late < LEAST - NEAR:
            self._late.pop(place, None)
        elif place in self._late or len(self._late) < MOST:
            self._late.setdefault(place, deque(maxlen=FEWEST)).append((message.received, late))

    def behind(self) -> dict[str, int]:
        """Return the places whose clock is behind, with the minutes."""
        found = {}
        for place, heard in self._late.items():
            lates = [late for _, late in heard]
            by = round(sum(lates) / len(lates) / STEP) * STEP
            steady = all(abs(late - by) <= NEAR for late in lates)
            if steady and len(heard) == FEWEST and heard[-1][0] - heard[0][0] >= OVER:
                found[place] = by // MINUTE
        return found

    def tell(self, store: Store) -> None:
        """Say what is new in the log, and leave it in the store. Raises StoreError."""
        before, found = NOTE.read(store) or {}, self.behind()
        for place in found.keys() - before.keys():
            log.warning(describe(place, found[place]))
        if found != before:
            NOTE.put(store, found)


def place_of(reading: Reading) -> str:
    """Return where a reading is from."""
    return f"{reading.yard}/{reading.hive}" if reading.hive else reading.yard


def describe(place: str, minutes: int) -> str:
    """Say it in words."""
    hours = f"{minutes / 60:g} hour" + ("s" if minutes != 60 else "")  # noqa: PLR2004 - an hour
    return f"the clock of the node of {place} seems to be {hours} behind: its readings all come that late"

"""A tiny file beside the store that knows how far it had come, so that a disk which lost what it kept is found out.

SQLite goes on from the last whole commit it finds and cannot know that there were later ones. The daemon beats every
few seconds: a number in the store, then the same number, flushed, in a file beside it. After a power cut the store's
number may be ahead of the file's; behind it, commits are missing.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

import msgspec

from hivemon.files import write_whole
from hivemon.model import Millis, rfc3339
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from pathlib import Path

    from hivemon.store.store import Store

LOST = "lost"
"""Under this name it is noted what a disk has lost, for `hivemon health`."""


class _Beat(msgspec.Struct, frozen=True):
    """The `number` of a beat, when it was, and how many of everything countable had been written by then."""

    number: int
    time: Millis
    written: dict[str, int]


_BEAT = Note("beat", _Beat)
"""Where the store keeps its side."""


class Witness:
    """The file beside the store at `path`."""

    def __init__(self, path: Path) -> None:
        self.path = path.with_name(f"{path.name}.witness")

    def beat(self, store: Store, now: Millis) -> None:
        """Count one on in the store, then in the file. Raises StoreError for the store; a file that fails is left out.

        A crash between the two costs nothing: the store is ahead then.
        """
        before = _BEAT.read(store)
        beat = _Beat((before.number if before else 0) + 1, now, store.written())
        _BEAT.put(store, beat)
        with contextlib.suppress(OSError):  # the disk is full: the older number stands, and promises less
            write_whole(self.path, msgspec.json.encode(beat))

    def lost(self, store: Store) -> str:
        """Say what the store must have had and has not, or nothing."""
        try:
            seen = msgspec.json.decode(self.path.read_bytes(), type=_Beat)
        except (OSError, msgspec.DecodeError):
            return ""
        stands = _BEAT.read(store)
        if stands is not None and stands.number >= seen.number:
            return ""
        since = rfc3339(stands.time) if stands is not None else "its beginning"
        have = store.written()
        missing = {what: seen.written.get(name, 0) - have.get(name, 0) for name, what in _NAMES.items()}
        counted = "".join(f", {n:,} {what}" for what, n in missing.items() if n > 0)
        return (
            f"the disk has lost what was written between {since} and {rfc3339(seen.time)}: "
            f"the readings that came in then{counted}"
        )

    def forget(self) -> None:
        """Another store stands here now: nothing is known of it."""
        self.path.unlink(missing_ok=True)


_NAMES = {
    "entry_history": "changes to the logbook",
    "event_history": "versions of events",
    "advisory_history": "versions of advisories",
    "answer": "answers",
    "message": "messages to people",
    "quarantine": "messages set aside",
    "outbox": "parcels for InfluxDB",
}

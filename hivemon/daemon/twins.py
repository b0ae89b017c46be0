"""Two devices under one name, looked for every hour: the log and `hivemon health` tell of them at once.

The fold finds them too, once a day, as a fault of the scale, which people are told of.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import msgspec

from hivemon.model import Quantity
from hivemon.signals.twins import LOOK_BACK, Levels, two_levels

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.store import Store

NOTE = "twins"
"""Under this name the daemon leaves what it found, for `hivemon health`."""

log = logging.getLogger("hivemon.daemon")


def look(store: Store, yards: Iterable[str]) -> dict[str, Levels]:
    """Look at the newest weights of every hive, say what is new in the log, and leave it in the store.

    Returns it by "yard/hive". Raises StoreError.
    """
    before = found_in(store.note(NOTE))
    found: dict[str, Levels] = {}
    for yard in yards:
        newest = {s: time for s, (time, _) in store.latest(yard).items() if s.quantity is Quantity.WEIGHT}
        if not newest:
            continue
        recent = store.series(yard, max(newest.values()) - LOOK_BACK, None, list(newest))
        for stream, series in recent.items():
            if levels := two_levels(series.value):
                found[f"{yard}/{stream.hive}"] = levels
    for place in found.keys() - before.keys():
        log.warning(describe(place, found[place]))
    if found.keys() != before.keys():
        store.put_note(NOTE, msgspec.json.encode(found).decode())
    return found


def found_in(note: str | None) -> dict[str, Levels]:
    """Return what was found, from the note in the store (None: none was left)."""
    return {} if note is None else msgspec.json.decode(note, type=dict[str, Levels])


def describe(place: str, levels: Levels) -> str:
    """Say it in words."""
    return (
        f"two devices seem to publish as {place}: its weight jumps between {levels.low:.1f} and {levels.high:.1f} kg "
        "all the time"
    )

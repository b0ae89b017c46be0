"""Two devices under one name, looked for every hour: the log and `hivemon health` tell of them at once.

The fold finds them too, once a day, as a fault of the scale, which people are told of.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from hivemon.model import Quantity
from hivemon.signals.twins import LOOK_BACK, Levels, two_levels
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.store import Store

NOTE = Note("twins", dict[str, Levels])
"""Where the daemon leaves what it found, for `hivemon health`."""

log = logging.getLogger("hivemon.daemon")


def look(store: Store, yards: Iterable[str]) -> dict[str, Levels]:
    """Look at the newest weights of every hive, say what is new in the log, and leave it in the store.

    Returns it by "yard/hive". Raises StoreError.
    """
    before = NOTE.read(store) or {}
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
        NOTE.put(store, found)
    return found


def describe(place: str, levels: Levels) -> str:
    """Say it in words."""
    return (
        f"two devices seem to publish as {place}: its weight jumps between {levels.low:.1f} and {levels.high:.1f} kg "
        "all the time"
    )

"""Two devices that publish under one name: their readings lie at two levels, and jump between these all the time.

One weight cannot tell it: a swarm, a super or a cat is a jump too, but bees do not go back and forth by kilograms with
every reading. A scale with a loose contact looks the same, and is worth the same look.
"""

from __future__ import annotations

import logging
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.model import HOUR, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from hivemon.model import Millis
    from hivemon.store import Store

NOTE = "twins"
"""Under this name the daemon leaves what it found, for `hivemon health`."""
LOOK_BACK: Millis = 12 * HOUR
FEWEST = 12
"""Readings that it takes to judge. Our rule."""
APART_KG = 1.0
"""Two levels nearer than this are noise or wind. Our rule."""
SPREAD = 0.25
"""Within a level readings lie this close, as a share of the distance between the levels. Our rule."""
SWITCHES = 0.25
"""So often, per reading, it goes from one level to the other: two devices of which one speaks a quarter as often still
do, and a hive that is worked on does not. Our rule."""

log = logging.getLogger("hivemon.daemon")


class Levels(NamedTuple):
    """The two weights that readings jump between, kg."""

    low: float
    high: float


def two_levels(weight: NDArray[np.float64]) -> Levels | None:
    """Return the levels when these weights, in order of time and in kg, jump between two of them all the time."""
    if len(weight) < FEWEST:
        return None
    ordered = np.sort(weight)
    gaps = np.diff(ordered)
    cut = int(gaps.argmax())
    low, high = ordered[: cut + 1], ordered[cut + 1 :]
    apart = float(np.median(high) - np.median(low))
    upper = (weight > ordered[cut]).tolist()
    switches = sum(before is not after for before, after in pairwise(upper))
    if apart < APART_KG or switches < SWITCHES * (len(weight) - 1):
        return None
    if max(float(np.ptp(low)), float(np.ptp(high))) > SPREAD * apart:
        return None
    return Levels(float(np.median(low)), float(np.median(high)))


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

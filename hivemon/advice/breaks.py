"""What breaks the brood of a hive for weeks: a swarm, a split, a new queen. One list for all that ask."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import DAY, Entry, Kind, Millis

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene

_LOGGED = (Entry.SPLIT, Entry.REQUEEN, Entry.COMBINE, Entry.SWARM_SEEN)
_SAME: Millis = 2 * DAY
"""A swarm written down within this time of one the scale told of is the same one. Our rule."""


class Break(NamedTuple):
    """When, and what it was. A swarm that only the beekeeper saw is an entry; one the scale told of is an event."""

    time: Millis
    by: Kind | Entry


def brood_breaks(scene: Scene, hive: str) -> list[Break]:
    """Return what breaks a hive's brood still (`break_days`), the latest one last."""
    since = scene.now - round(scene.limits.brood.break_days * DAY)
    swarms = scene.find(Kind.SWARM, hive=hive, since=since)
    logged = [
        entry
        for entry in scene.entries(hive, *_LOGGED, since=since)
        if entry.entry is not Entry.SWARM_SEEN or all(abs(entry.time - swarm.onset) > _SAME for swarm in swarms)
    ]
    return sorted([*(Break(s.onset, s.kind) for s in swarms), *(Break(e.time, e.entry) for e in logged)])

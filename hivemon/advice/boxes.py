"""The supers on a hive now: the configuration's boxes, changed by the logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import Entry, Millis

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings

_BOX_ENTRIES = (Entry.SUPER_ON, Entry.SUPER_OFF, Entry.HARVEST)


class Boxes(NamedTuple):
    """Supers on a hive. `since` is when they were last all empty (None: not known), `wood_kg` their empty weight.

    `taken` counts supers taken off since then, each of them full.
    """

    supers: int
    since: Millis | None
    wood_kg: float
    taken: int


def boxes(scene: Scene, hive: HiveSettings) -> Boxes:
    """Return the supers now.

    One `super-on` is one box, its amount its weight where given. A `harvest` empties the boxes; they stay on unless
    `super-off` says otherwise, which is the safe reading: a hive that may carry a super is never fed.
    """
    wood = [scene.limits.food.super_wood_kg] * hive.supers
    since: Millis | None = None
    taken = 0
    for entry in scene.entries(hive.id, *_BOX_ENTRIES):
        if entry.entry is Entry.SUPER_ON:
            if not wood:
                since, taken = entry.time, 0
            wood.append(entry.amount if entry.amount and entry.amount > 0 else scene.limits.food.super_wood_kg)
        elif entry.entry is Entry.SUPER_OFF:
            taken += bool(wood)
            wood = wood[:-1]
        else:
            since, taken = entry.time, 0
    return Boxes(len(wood), since, sum(wood), taken)

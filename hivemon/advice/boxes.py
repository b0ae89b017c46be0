"""The supers on a hive now: the configuration's boxes, changed by the logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.scene import once
from hivemon.model import Entry, Millis

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings

_BOX_ENTRIES = (Entry.SUPER_ON, Entry.SUPER_OFF, Entry.HARVEST)


class Boxes(NamedTuple):
    """Supers on a hive. `since` is when they were last all empty (None: not known), `wood_kg` their empty weight.

    `taken` counts supers taken off since then, each of them full. `unsure` is how many may have stayed on at a harvest.
    """

    supers: int
    since: Millis | None
    wood_kg: float
    taken: int
    unsure: int


@once
def boxes(scene: Scene, hive: HiveSettings) -> Boxes:
    """Return the supers now.

    One `super-on` is one box, its amount its weight where given. A `harvest` takes all of them off with their honey;
    those put back are a new `super-on`. Since some beekeepers take the frames only, `unsure` remembers how many may
    still be there until the next `super-on` or `super-off`: a hive that may carry a super is not fed.
    """
    wood = [scene.limits.food.super_wood_kg] * hive.supers
    since: Millis | None = None
    taken = unsure = 0
    for entry in scene.entries(hive.id, *_BOX_ENTRIES):
        if entry.entry is Entry.SUPER_ON:
            if not wood:
                since, taken = entry.time, 0
            unsure = 0
            wood.append(entry.amount if entry.amount and entry.amount > 0 else scene.limits.food.super_wood_kg)
        elif entry.entry is Entry.SUPER_OFF:
            taken, unsure = taken + bool(wood), 0
            wood = wood[:-1]
        else:
            since, taken, unsure, wood = entry.time, 0, len(wood) or unsure, []
    return Boxes(len(wood), since, sum(wood), taken, unsure)

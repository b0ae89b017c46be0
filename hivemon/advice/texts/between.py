"""Words about supers that are nearly full while no flow is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft, held
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import after, counted, hive_name, likely, say, start
from hivemon.model import Urgency

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.advice.supers import Room
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event

_NEXT_VISIT = 7.0
"""Days: most people come by once a week. Our rule."""


def nearly_full(
    scene: Scene, name: str, hive: HiveSettings, supers: int, found: Room, last: Event | None, confidence: float
) -> Advisory:
    """Tell that a flow would find little room: a word for the next visit, no visit of its own."""
    voice = Voice(scene)
    do_by = held(scene, name, voice.visit(after(scene.now, _NEXT_VISIT)))
    values = {"hive": hive_name(hive), "by": voice.day(do_by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: the supers are nearly full, though no flow is on", **values)),
        saw=start(
            say(
                "{hive} has {supers}, room for {capacity} of honey, and gained {gained} since {since}.",
                supers=counted(supers, say("super"), say("supers")),
                capacity=voice.weight(found.shown),
                gained=voice.weight(found.gained),
                since=voice.day(found.since or scene.now),
                **values,
            )
        ),
        means=say(
            "There is {sure} little room left. The first good days of a flow would use it up before I can tell of one.",
            sure=likely(confidence),
        ),
        could_also_be=[
            say("More of it may be in the brood boxes, or in more bees, than I think; then there is more room."),
            say("If you put a box on or took one off and did not write it down, this is wrong."),
        ],
        do=[
            say(
                "It is not urgent. When you come by anyway, best by {by}, lift the lid and look into the supers.",
                **values,
            ),
            say("Take off what is capped. Or put one empty super on, if more is going to flower."),
            say("Write it in the logbook as harvest, super-off or super-on, so that the next date is right."),
        ],
        do_by=do_by,
        cautions=[cautions.lifting(), cautions.stings()],
        events=[last] if last else [],
    )

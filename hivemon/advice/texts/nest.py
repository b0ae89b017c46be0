"""Words about room in the brood nest before swarming."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft, held
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, number, say, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event


def room(scene: Scene, name: str, hive: HiveSettings, flow: Event, gain: float) -> Advisory:
    """Ask for one look at the room in the brood nest of a strong hive."""
    voice, limits = Voice(scene), scene.limits
    by = held(scene, name, voice.visit(scene.now + 4 * DAY))
    values = {
        "hive": hive_name(hive),
        "by": voice.day(by),
        "warm": voice.temperature(limits.brood.opening_celsius),
        "frames": number(limits.nest.empty_frames),
        "gain": voice.weight(gain),
    }
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive} is strong: see that the queen has room by {by}", **values)),
        saw=start(say("{hive} gains about {gain} a day, more than most, and it is the season of swarms.", **values)),
        means=say("A strong colony whose brood nest fills with nectar gets ready to swarm."),
        could_also_be=[
            say("It has room enough. No scale can see into the nest."),
            say("Queen cells may be there already. Then room alone no longer stops a swarm."),
        ],
        do=[
            say("On a warm day of {warm} or more by {by}, look into the brood nest of {hive} once.", **values),
            say(
                "Give the queen {frames} or three empty drawn frames, and put frames full of honey aside or above.",
                **values,
            ),
            say("Queen cells with eggs or larvae: split the colony, or take the old queen out with some frames."),
            say("Write inspect or split in the logbook; I then stop asking."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
        events=[flow],
    )

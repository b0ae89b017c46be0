"""Words about robbing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, likely, say, start
from hivemon.model import Urgency

if TYPE_CHECKING:
    from hivemon.advice.decision import Decision
    from hivemon.advice.heat import Entrance, EntranceReason
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event

_WATCH_DAYS = 3
"""To see what is left of a robbed hive. Our rule; no visiting day is waited for."""


def robbing(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    event: Event,
    entrance: Decision[Entrance, EntranceReason],
    *,
    act: bool,
) -> Advisory:
    """Say what to do while a hive is robbed (`act`), or how to keep watch afterwards."""
    voice = Voice(scene)
    watched = voice.evening(event.raised, plus=_WATCH_DAYS)
    values = {"hive": hive_name(hive)}
    title = say("{hive} is {sure} being robbed", sure=likely(event.confidence), **values)
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.NOW if act else Urgency.FOR_INFORMATION,
        title=start(title if act else say("{hive} was robbed: keep an eye on its entrance", **values)),
        saw=_saw(voice, hive, event),
        means=say(
            "Honey leaves the hive faster than its own bees eat it: {sure} robbers. A weak or queenless colony is "
            "robbed first.",
            sure=likely(event.confidence),
        ),
        could_also_be=[
            say("Someone took honey or a frame out."),
            say("Wet wood or fresh nectar drying: then no bees fight at the entrance."),
            say(
                "A spray that killed foragers: bees tremble before the hives, and none fight. Freeze a few, report it."
            ),
        ],
        do=_act(hive, entrance) if act else _watch(hive),
        do_by=voice.evening(scene.now) if act else voice.visit(watched, latest=watched),
        cautions=_dangers(entrance) if act else [],
        events=[event],
    )


def _dangers(entrance: Decision[Entrance, EntranceReason]) -> list[str]:
    hot = entrance.reason.value in ("heat-before-robbing", "floor-screened")
    return [*([cautions.heat_illness()] if hot else []), cautions.stings()]


def _saw(voice: Voice, hive: HiveSettings, event: Event) -> str:
    values = {"hive": hive_name(hive), "clock": voice.clock(event.onset), "day": voice.day(event.onset)}
    if event.size is None:
        return start(say("{hive} has been losing weight fast in flying hours since about {clock} on {day}.", **values))
    return start(
        say(
            "{hive} lost about {loss} an hour in flying hours from about {clock} on {day}.",
            loss=voice.weight(abs(event.size)),
            **values,
        ),
    )


def _act(hive: HiveSettings, entrance: Decision[Entrance, EntranceReason]) -> list[str]:
    values = {"hive": hive_name(hive)}
    if entrance.reason.value == "heat-before-robbing":
        first = [
            say(
                "It is hot and the floor of {hive} is closed: do not shrink the entrance now, or "
                "the bees overheat. Give air "
                "first, with a mesh the bees cannot pass over an upper vent.",
                **values,
            ),
            say(
                "Shrink the entrance to one or two bees' width at dusk, when it is cooler. Open it "
                "again before the heat of "
                "the day.",
                **values,
            ),
        ]
    elif entrance.reason.value == "floor-screened":
        first = [
            say(
                "Shrink the entrance of {hive} to one or two bees' width. The screened floor gives "
                "enough air; keep it free.",
                **values,
            ),
            say("Close upper entrances with mesh."),
        ]
    else:
        first = [
            say("Shrink the entrance of {hive} to one or two bees' width and close upper entrances.", **values),
        ]
    return [
        *first,
        say("Open no hive in the yard today. Clear away comb, honey, syrup and sticky tools."),
        say("Give no syrup while robbers are about."),
        say("When it is quiet again, lift the back of {hive} a little: does it still feel heavy?", **values),
    ]


def _watch(hive: HiveSettings) -> list[str]:
    values = {"hive": hive_name(hive)}
    return [
        say(
            "Keep the entrance of {hive} small for some days, and glance at it around midday: is there fighting?",
            **values,
        ),
        say(
            "On a cool evening see whether it still has food. When no robbers come, find out whether "
            "it is weak or without "
            "a queen.",
            **values,
        ),
    ]

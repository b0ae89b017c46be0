"""Words about robbing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, likely, say, start
from hivemon.model import HOUR, MINUTE, Millis, Urgency
from hivemon.signals.sun import sun_day

if TYPE_CHECKING:
    from hivemon.advice.decision import Decision
    from hivemon.advice.heat import Entrance, EntranceReason
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event

_FLIGHT: Millis = 2 * HOUR
"""After dawn (sun 6° below the horizon) robbers need so long to be on their way in any number. Our rule."""
_SAID: Millis = 10 * MINUTE
"""A time of day is said so roughly."""
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
    early = scene.now < _first_flight(scene)
    when = say("This morning, before they fly") if early else say("At once")
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
        do=_act(hive, entrance, when) if act else _watch(hive),
        do_by=_at_once(scene, entrance, early=early) if act else voice.visit(watched, latest=watched),
        cautions=_dangers(entrance) if act else [],
        events=[event],
    )


def _first_flight(scene: Scene) -> Millis:
    return sun_day(scene.yard, scene.now).dawn + _FLIGHT


def _at_once(scene: Scene, entrance: Decision[Entrance, EntranceReason], *, early: bool) -> Millis:
    """Return by when an entrance is made small: before robbers fly, or at once; over a hot closed floor at dusk."""
    if entrance.reason.value == "heat-before-robbing":
        return Voice(scene).evening(scene.now)
    by = _first_flight(scene) if early else scene.now + HOUR
    return by - by % _SAID


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


def _act(hive: HiveSettings, entrance: Decision[Entrance, EntranceReason], when: str) -> list[str]:
    """Say what to do at once; `when`: "At once", or before the bees fly."""
    values = {"hive": hive_name(hive), "when": when}
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
                "{when}, shrink the entrance of {hive} to one or two bees' width. The screened floor gives "
                "enough air; keep it free.",
                **values,
            ),
            say("Close upper entrances with mesh."),
        ]
    else:
        first = [
            say("{when}, shrink the entrance of {hive} to one or two bees' width and close upper entrances.", **values),
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

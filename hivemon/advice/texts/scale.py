"""Words about a hive off its scale and steps that nobody logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, say, start
from hivemon.model import Urgency

if TYPE_CHECKING:
    from hivemon.advice.decision import Decision
    from hivemon.advice.scene import Scene
    from hivemon.advice.sensors import StepReason
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event


def gone(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    """Say that a hive no longer stands on its scale."""
    voice = Voice(scene)
    values = {"hive": hive_name(hive), "clock": voice.clock(event.onset), "day": voice.day(event.onset)}
    size = say("almost nothing") if event.size is None else voice.weight(max(event.size, 0.0))
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.NOW,
        title=start(say("{hive} is no longer on its scale", **values)),
        saw=say("Since {clock} on {day} the scale of {hive} shows {size}.", size=size, **values),
        means=say("The hive was knocked over, lifted off or stolen."),
        could_also_be=[
            say("You are working on it at this moment; then all is well."),
            say("The scale has failed or lost its plug."),
        ],
        do=[
            say("If you are not at the hive yourself, go and look now, or ask someone near.", **values),
            say(
                "If it lies on its side: veil and gloves first, then set it upright, box by box if "
                "need be. Put the lid on and "
                "leave it alone for a day."
            ),
            say("If it is gone, tell the police and other beekeepers nearby."),
            say("If it was you, write it in the logbook, for example as moved or inspect."),
        ],
        do_by=voice.evening(event.raised),
        cautions=[
            say("A fallen colony is angry. Keep people and animals away."),
            cautions.stings(),
            cautions.lifting(),
        ],
        events=[event],
    )


def back(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    """Close with relief: the hive is on its scale again."""
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive} is back on its scale", hive=hive_name(hive))),
        saw=say("The scale carries a hive again."),
        means=say("Nothing more needs you. If it was you, write it in the logbook."),
        events=[event],
        closed=True,
    )


def step(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    event: Event,
    decision: Decision[bool, StepReason],
    *,
    visited: bool,
) -> Advisory:
    """Ask what a step was; `visited`: a visit is in the logbook, but not what it put on or took off."""
    voice = Voice(scene)
    values = {"hive": hive_name(hive), "clock": voice.clock(event.onset), "day": voice.day(event.onset)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: {question}", question=_question(decision.reason), **values)),
        saw=_step_saw(voice, event, values),
        means=_step_means(visited=visited),
        could_also_be=[
            *([say("A swarm, if many bees were flying then.")] if decision.reason.value == "little-off" else []),
            say("Something fell on the hive or was leaned against it, or was taken away."),
            say("The scale was knocked."),
        ],
        do=[
            say(
                "If it was you, add it to the logbook with about the right time, as {entries}.",
                entries=_entries(decision.reason),
            ),
            say("If not, look at the hive from outside the next time you pass."),
        ],
        events=[event],
    )


def _step_means(*, visited: bool) -> str:
    if visited:
        return say(
            "The logbook has a visit then, but not what was put on or taken off. "
            "Room and food in the hive are reckoned from that."
        )
    return say("That is faster than bees can do it. Probably you worked on the hive and have not written it down yet.")


def _step_saw(voice: Voice, event: Event, values: dict[str, str]) -> str:
    if event.size is None:
        return say("At about {clock} on {day} the weight of {hive} changed all at once.", **values)
    size = voice.weight(abs(event.size))
    if event.size < 0:
        return say("At about {clock} on {day} {hive} became {size} lighter all at once.", size=size, **values)
    return say("At about {clock} on {day} {hive} became {size} heavier all at once.", size=size, **values)


def _question(reason: StepReason) -> str:
    return {
        "fed": say("did you feed it?"),
        "box-on": say("did you put a super on?"),
        "big-on": say("did you put boxes on or unite it with another hive?"),
        "little-off": say("did you take something off?"),
        "box-off": say("did you take honey off?"),
    }.get(reason.value, say("did you work on it?"))


def _entries(reason: StepReason) -> str:
    return {
        "fed": say("feed, super-on or note"),
        "box-on": say("super-on or feed"),
        "big-on": say("super-on or combine"),
        "little-off": say("harvest, super-off, split or swarm-seen"),
        "box-off": say("harvest, super-off or split"),
    }.get(reason.value, say("whatever fits best, or as a note"))

"""Words about sensors, empty scales and steps nobody logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, say, start
from hivemon.model import Quantity, Urgency

if TYPE_CHECKING:
    from hivemon.advice.decision import Decision
    from hivemon.advice.scene import Scene
    from hivemon.advice.sensors import FaultReason, StepReason
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event


def _sensor(quantity: Quantity | None) -> str:
    names = {
        Quantity.WEIGHT: say("scale"),
        Quantity.TEMPERATURE: say("brood thermometer"),
        Quantity.HUMIDITY: say("humidity sensor"),
        Quantity.BATTERY: say("battery"),
        Quantity.OUTSIDE_TEMPERATURE: say("outside thermometer"),
        Quantity.OUTSIDE_HUMIDITY: say("outside humidity sensor"),
        Quantity.RAIN: say("rain gauge"),
    }
    return names[quantity] if quantity else say("sensor")


def _problem(problem: str) -> str:
    """Return what is wrong; one that is not listed here keeps its own name."""
    known = {
        "stuck": say("has shown the same number for a day or more"),
        "silent": say("has sent nothing for a day or more"),
        "low": say("is nearly empty"),
        "power-on-value": say("sends the value it starts up with, not a measured one"),
        "impossible": say("sends numbers that cannot be"),
        "noisy": say("jumps about"),
    }
    return known.get(problem) or say(
        "does not read right ({problem})", problem=problem.replace("-", " ") or say("no detail")
    )


def _lost(quantity: Quantity | None) -> str:
    names = {
        Quantity.WEIGHT: say(
            "Until it works, I cannot see swarms, food or the need for a super on this hive. The brood nest "
            "is still watched."
        ),
        Quantity.TEMPERATURE: say(
            "Until it works, I cannot watch the brood nest of this hive. Weight is still watched."
        ),
        Quantity.HUMIDITY: say("Little is lost: no advice rests on humidity alone."),
        Quantity.BATTERY: say("When it is empty, nothing of this hive is watched."),
        Quantity.OUTSIDE_TEMPERATURE: say("Flow and dearth are judged with less certainty until it works."),
        Quantity.RAIN: say("A wet hive may look like a gain of nectar until it works."),
    }
    return (
        names.get(quantity, say("Advice may be less certain until it works."))
        if quantity
        else say(
            "Advice may be less certain until it works.",
        )
    )


def fault(
    scene: Scene,
    name: str,
    hive: HiveSettings | None,
    event: Event,
    quantity: Quantity | None,
    problem: str,
    decision: Decision[Urgency, FaultReason],
) -> Advisory:
    """Say which sensor lies, what that means for the advice and what still works."""
    voice = Voice(scene)
    where = hive_name(hive) if hive else scene.yard.title
    sensor = _sensor(quantity)
    visit = decision.verdict is Urgency.THIS_WEEK
    do_by = voice.evening(event.raised, plus=7) if visit else None
    return draft(
        scene,
        name,
        event.hive,
        urgency=decision.verdict,
        title=start(say("{where}: the {sensor} needs a look", where=where, sensor=sensor)),
        saw=say(
            "Since {day} the {sensor} of {where} {problem}.",
            day=voice.day(event.onset),
            sensor=sensor,
            where=where,
            problem=_problem(problem),
        ),
        means=_lost(quantity),
        could_also_be=_causes(quantity),
        do=_mend(quantity, voice.day(do_by) if do_by else ""),
        do_by=do_by,
        cautions=_dangers(quantity),
        events=[event],
    )


def _causes(quantity: Quantity | None) -> list[str]:
    if quantity is Quantity.BATTERY:
        return [say("A cold night: batteries read low in the cold and recover.")]
    if quantity is Quantity.WEIGHT:
        return [say("Something leans on the hive or is wedged under it: grass, a stone, a strap.")]
    return [say("A loose plug, a wet or bitten cable, or a flat battery.")]


def _mend(quantity: Quantity | None, by: str) -> list[str]:
    if quantity is Quantity.BATTERY:
        return [say("Change or charge the battery by {by}. The hive stays closed.", by=by)]
    if quantity is Quantity.WEIGHT:
        return [
            say(
                "By {by}, look from outside: is the scale free on all sides, level and plugged in? "
                "The hive stays closed.",
                by=by,
            ),
            say("After mending it, write scale-reset in the logbook."),
        ]
    if quantity in (Quantity.TEMPERATURE, Quantity.HUMIDITY):
        return [
            say(
                "Check plug and cable from outside when you pass. Do not open the hive for it; see "
                "to the sensor at your "
                "next inspection."
            )
        ]
    return [say("Check plug, cable and battery when you pass.")]


def _dangers(quantity: Quantity | None) -> list[str]:
    if quantity is Quantity.BATTERY:
        return [say("Never charge a lithium cell below {low} or one that is swollen.", low="0 °C (32 °F)")]
    return []


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
) -> Advisory:
    """Ask what a step was."""
    voice = Voice(scene)
    values = {"hive": hive_name(hive), "clock": voice.clock(event.onset), "day": voice.day(event.onset)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: {question}", question=_question(decision.reason), **values)),
        saw=_step_saw(voice, event, values),
        means=say(
            "That is faster than bees can do it. Probably you worked on the hive and have not written it down yet."
        ),
        could_also_be=[
            say("Something fell on the hive or was leaned against it, or was taken away."),
            say("The scale was knocked."),
        ],
        do=[
            say(
                "If it was you, add the entry to the logbook with about the right time: {entries}.",
                entries=_entries(decision.reason),
            ),
            say("If not, look at the hive from outside the next time you pass."),
        ],
        events=[event],
    )


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
        "little-off": say("harvest, super-off, split or note"),
        "box-off": say("harvest, super-off or split"),
    }.get(reason.value, say("whatever fits, or note"))

"""Words about sensors that lie."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, say, start
from hivemon.model import Quantity, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.decision import Decision
    from hivemon.advice.scene import Scene
    from hivemon.advice.sensors import FaultReason
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event, Millis


TWO_DEVICES, NO_HIVE = "two-devices", "no-hive"


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
        "stuck": say("has shown the same number"),
        "silent": say("has sent nothing"),
        "low": say("has been nearly empty"),
        "power-on-value": say("has sent the value it starts up with, not a measured one"),
        "impossible": say("has sent numbers that cannot be"),
        "noisy": say("has jumped about"),
        "wanders": say("has gone up and down by itself"),
        NO_HIVE: say("has shown less than any hive weighs"),
        TWO_DEVICES: say("has shown two weights in turn, back and forth"),
    }
    return known.get(problem) or say(
        "has not read right ({problem})", problem=problem.replace("-", " ") or say("no detail")
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
    events: Sequence[Event],
    quantity: Quantity | None,
    problem: str,
    decision: Decision[Urgency, FaultReason],
) -> Advisory:
    """Say which sensor lies, what that means for the advice and what still works.

    `events`: its fault, and after it those of the hive's other sensors that fell silent with it.
    """
    voice = Voice(scene)
    event = events[0]
    where = hive_name(hive) if hive else scene.yard.title
    sensor = _sensor(quantity)
    visit = decision.verdict is Urgency.THIS_WEEK
    do_by = voice.visit(voice.evening(event.raised, plus=7)) if visit else None
    by = voice.day(do_by) if do_by else ""
    if quantity is Quantity.WEIGHT and len(events) > 1:
        return _nothing_heard(scene, name, where, events, do_by)
    twins = problem == TWO_DEVICES
    return draft(
        scene,
        name,
        event.hive,
        urgency=decision.verdict,
        title=start(_title(where, sensor, twins=twins)),
        saw=say(
            "Since {day} the {sensor} of {where} {problem}.",
            day=voice.day(event.onset),
            sensor=sensor,
            where=where,
            problem=_problem(problem),
        ),
        means=_mixed() if twins else _lost(quantity),
        could_also_be=[_loose()] if twins else _causes(quantity, problem),
        do=_part(where, by) if twins else _set_up(by) if problem == NO_HIVE else _mend(quantity, by),
        do_by=do_by,
        cautions=_dangers(quantity),
        events=events,
    )


def _nothing_heard(scene: Scene, name: str, where: str, events: Sequence[Event], do_by: Millis | None) -> Advisory:
    """Say that a hive is not heard at all: what to look at, and what to see without sensors until then."""
    voice = Voice(scene)
    return draft(
        scene,
        name,
        events[0].hive,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{where}: nothing is heard from its sensors", where=where)),
        saw=say(
            "Since {day} nothing has come from the sensors of {where}.", day=voice.day(events[0].onset), where=where
        ),
        means=say("Until they are heard again I see nothing of this hive: no swarm, no food, no brood, no room."),
        could_also_be=[_no_power(), say("The hive is not in its place: moved, stolen or thrown over.")],
        do=[
            say(
                "By {by}, look from outside: does {where} stand as it should, are battery, plug and cable sound? "
                "The hive stays closed.",
                by=voice.day(do_by) if do_by else "",
                where=where,
            ),
            say("Do bees fly as at the other hives, and does it feel as heavy when you lift its back a little?"),
        ],
        do_by=do_by,
        cautions=_dangers(Quantity.BATTERY),
        events=events,
    )


def _title(where: str, sensor: str, *, twins: bool) -> str:
    if twins:
        return say("{where}: two devices seem to send under its name", where=where)
    return say("{where}: the {sensor} needs a look", where=where, sensor=sensor)


def _mixed() -> str:
    return say(
        "That is what two scales look like that send under one name, as after a device was copied, swapped or lent. I "
        "cannot tell which weight is this hive's. Until I can, I see no swarms, no food and no need for a super of "
        "either hive."
    )


def _loose() -> str:
    return say("One scale with a loose plug or a bad contact, if you know of no second device.")


def _part(where: str, by: str) -> list[str]:
    return [
        say(
            "By {by}, give the second device the name of its own hive. Only one may send as {where}. All hives stay "
            "closed.",
            by=by,
            where=where,
        ),
        say("If there is only one device, look at its plug and cable from outside."),
    ]


def _no_power() -> str:
    return say("A loose plug, a wet or bitten cable, or a flat battery.")


def _causes(quantity: Quantity | None, problem: str) -> list[str]:
    if quantity is Quantity.BATTERY:
        return [say("A cold night: batteries read low in the cold and recover.")]
    if problem == NO_HIVE:
        return [say("No hive stands on it yet, or the scale was never set.")]
    if problem == "wanders":
        return [say("Water in a plug or a cable, or a load cell that is giving out.")]
    if quantity is Quantity.WEIGHT and problem != "silent":
        return [say("Something leans on the hive or is wedged under it: grass, a stone, a strap.")]
    return [_no_power()]


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


def _set_up(by: str) -> list[str]:
    return [
        say(
            "If a hive stands on it, set the scale by {by}: empty it shows nothing, and a known weight as what it is. "
            "hivemon calibrate helps with that. The hive stays closed.",
            by=by,
        ),
        say("If none does, there is nothing to do: it is watched from the day it stands there."),
    ]


def _dangers(quantity: Quantity | None) -> list[str]:
    if quantity is Quantity.BATTERY:
        return [say("Never charge a lithium cell below {low} or one that is swollen.", low="0 °C (32 °F)")]
    return []

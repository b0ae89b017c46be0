"""Words about heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, listed, say, start
from hivemon.model import Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.decision import Decision
    from hivemon.advice.heat import HeatReason
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event


def ventilation(hives: Sequence[HiveSettings], *, robbers: bool) -> str:
    """Say how to let air through; with `robbers` about, no gap that a bee can pass."""
    names = listed([hive_name(h) for h in hives])
    if robbers:
        return say(
            "Give {hives} air: leave the entrance open, and open an upper vent under mesh that no bee can pass.",
            hives=names,
        )
    return say(
        "Give {hives} air: open the entrance fully, lift the lid by a finger's width, and open any upper vent.",
        hives=names,
    )


def _help(scene: Scene, hives: Sequence[HiveSettings]) -> list[str]:
    far = Voice(scene).distance(200)
    return [
        say(
            "Check that there is water within {far} and that it has not run dry. Without water they cannot cool.",
            far=far,
        ),
        say("Shade the hives in the afternoon: a board on the lid that stands out on the sunny side."),
        ventilation(hives, robbers=scene.dearth() is not None),
        say("Do not open, move or harvest them in this heat."),
        say("Plan shade and water for early next spring, before the first flights."),
    ]


def hive_hot(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    event: Event,
    decision: Decision[bool, HeatReason],
) -> Advisory:
    """Say that one nest is too hot."""
    voice = Voice(scene)
    outside = decision.reason.value == "heat-outside"
    values = {"hive": hive_name(hive)}
    others = [say("Moisture or sun on the sensor."), say("The colony is crowded or its way out is blocked.")]
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.NOW,
        title=start(say("{hive}: the brood nest is too hot", **values)),
        saw=_saw(voice, hive, event),
        means=say("It is hot outside and the bees no longer keep up with cooling; capped brood suffers.")
        if outside
        else say("The bees do not keep up with cooling, and no other hive here shows it; capped brood suffers."),
        could_also_be=others if not outside else others[:1],
        do=([] if outside else [say("First see that the entrance of {hive} is free and bees fly.", **values)])
        + _help(scene, [hive]),
        do_by=voice.evening(scene.now),
        cautions=[cautions.heat_illness()],
        events=[event],
    )


def _saw(voice: Voice, hive: HiveSettings, event: Event) -> str:
    values = {"hive": hive_name(hive), "clock": voice.clock(event.onset), "day": voice.day(event.onset)}
    if event.size is None:
        return start(say("{hive} has been too warm between the brood frames since {clock} on {day}.", **values))
    return start(
        say(
            "{hive} has had {heat} between the brood frames since {clock} on {day}. About {right} is right.",
            heat=voice.temperature(event.size),
            right=voice.temperature(35.0),
            **values,
        ),
    )


def yard_hot(scene: Scene, name: str, hives: Sequence[HiveSettings], events: Sequence[Event]) -> Advisory:
    """Say that heat overcomes several hives of a yard."""
    voice = Voice(scene)
    names = listed([hive_name(h) for h in hives])
    hottest = max((e.size for e in events if e.size is not None), default=None)
    values = {"yard": scene.yard.title, "hives": names}
    saw = (
        say("Between the brood frames of {hives} it is too hot.", **values)
        if hottest is None
        else say(
            "Between the brood frames of {hives} it is up to {heat}. About {right} is right.",
            heat=voice.temperature(hottest),
            right=voice.temperature(35.0),
            **values,
        )
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.NOW,
        title=say("Heat at {yard}: the bees need water, shade and air", **values),
        saw=saw,
        means=say(
            "It is the weather, not one colony. Clusters at the entrance and fanning are normal in such heat; "
            "brood nests this hot are not."
        ),
        could_also_be=[say("Sensors in the sun or wet from rain.")],
        do=_help(scene, hives),
        do_by=voice.evening(scene.now),
        cautions=[cautions.heat_illness()],
        events=events,
    )

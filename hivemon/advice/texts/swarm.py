"""Words about swarms and the weeks after."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions, logbook
from hivemon.advice.voice import Voice
from hivemon.advice.words import bees, evening, hive_name, likely, say, spoken, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.advice.swarm import SwarmReason
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event, Millis

_GRAMS = 1000.0


def look(scene: Scene, name: str, hive: HiveSettings, event: Event, *, late: bool) -> Advisory:
    """Say that a swarm left: where to look, how many bees, what is dangerous; `late`: the day after."""
    voice = Voice(scene)
    values = {"hive": hive_name(hive), "far": voice.distance(100)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.TODAY if late else Urgency.NOW,
        title=start(say("A swarm has {sure} left {hive}", sure=likely(event.confidence), **values)),
        saw=_saw(voice, hive, event),
        means=_means(scene, event),
        could_also_be=[
            say("Someone took a frame, a box or bees away and did not write it down."),
            say("The hive was lifted or knocked."),
        ],
        do=[
            say("It may still hang nearby. Look once more, within about {far} of {hive}.", **values)
            if late
            else say(
                "Look now within about {far} of {hive}: branches, hedges, fence posts, also low down. "
                "A cluster mostly hangs there for some hours before it flies on.",
                **values,
            ),
            say(
                "If it hangs low and within easy reach, take it into an empty box. Leave the box in "
                "the shade until dusk."
            ),
            say("Leave {hive} closed today. Nothing in there needs you.", **values),
            logbook.write_found(hive.id),
        ],
        do_by=voice.evening(scene.now if late else event.onset),
        cautions=[cautions.climbing(), cautions.stings(), cautions.permission()],
        events=[event],
    )


def _saw(voice: Voice, hive: HiveSettings, event: Event) -> str:
    minutes = event.evidence.get("minutes")
    values = {
        "clock": voice.clock(event.onset),
        "day": voice.day(event.onset),
        "hive": hive_name(hive),
        "lost": say("weight") if event.size is None else voice.weight(abs(event.size)),
    }
    if minutes is None:
        return say("At about {clock} on {day} {hive} lost {lost} at once and did not get it back.", **values)
    return say(
        "At about {clock} on {day} {hive} lost {lost} within {minutes} minutes and did not get it back.",
        minutes=f"{max(round(minutes), 1)}",
        **values,
    )


def _means(scene: Scene, event: Event) -> str:
    limits = scene.limits.swarm
    sure = likely(event.confidence)
    low, high = event.evidence.get("bees_low"), event.evidence.get("bees_high")
    if (low is None or high is None) and event.size is not None:
        low = abs(event.size) * _GRAMS / limits.bee_high_g
        high = abs(event.size) * _GRAMS / limits.bee_low_g
    if low is None or high is None:
        return say("This was {sure} a swarm, with the old queen or a young one.", sure=sure)
    return say(
        "This was {sure} a swarm of {bees} bees, with the old queen or a young one. More than half "
        "the bees may be gone; "
        "that is how colonies multiply, and the rest can do well.",
        sure=sure,
        bees=bees(low, high),
    )


class Story(NamedTuple):
    """Where a hive stands after its swarm, and when the beekeeper last looked or gave a queen."""

    reason: SwarmReason
    acted: Millis | None


def queen(scene: Scene, name: str, hive: HiveSettings, event: Event, story: Story) -> Advisory:
    """Say what is due in the hive that swarmed: wait, look for eggs, or see to a failed queen."""
    reason = story.reason.value
    if reason == "queen-failed":
        return _failed(scene, name, hive, event)
    if reason == "eggs-due":
        return _eggs(scene, name, hive, event)
    if reason == "queen-given" and story.acted is not None:
        return _given(scene, name, hive, event, story.acted)
    if reason == "no-eggs" and story.acted is not None:
        return _look_again(scene, name, hive, event, story.acted)
    return _wait(scene, name, hive, event)


def _given(scene: Scene, name: str, hive: HiveSettings, event: Event, given: Millis) -> Advisory:
    voice, limits = Voice(scene), scene.limits.swarm
    do_by = voice.visit(given + limits.given_last * DAY)
    values = {
        "hive": hive_name(hive),
        "day": voice.day(given),
        "from": voice.day(given, plus=limits.given_first),
        "by": voice.day(do_by),
    }
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: leave the new queen alone until {from}", **values)),
        saw=say("By the logbook {hive} got a queen, or was united, on {day}.", **values),
        means=say("The bees need about a week to take to a queen. Opened sooner, they may kill her."),
        could_also_be=[say("If she came in a cage, see only that she is out, and close the hive.")],
        do=[
            say("Between {from} and {by}, on a warm day, look once for eggs in {hive}.", **values),
            logbook.write_eggs(hive.id),
        ],
        do_by=do_by,
        cautions=[cautions.stings()],
        events=[event],
    )


def _look_again(scene: Scene, name: str, hive: HiveSettings, event: Event, looked: Millis) -> Advisory:
    voice, limits = Voice(scene), scene.limits.swarm
    do_by = voice.visit(looked + limits.again_days * DAY)
    values = {"hive": hive_name(hive), "day": voice.day(looked), "by": voice.day(do_by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: no eggs yet; look again by {by}", **values)),
        saw=say("On {day} you saw no eggs in {hive}.", **values),
        means=say("That is no failure yet. Cold or wet days hold up mating."),
        could_also_be=[say("Eggs are hard to see in old, pale comb: hold the frame so that the sun falls in.")],
        do=[
            say("Leave {hive} closed for a week, then look once more by {by}.", **values),
            logbook.write_eggs(hive.id),
        ],
        do_by=do_by,
        cautions=[cautions.stings()],
        events=[event],
    )


def _wait(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    voice, limits = Voice(scene), scene.limits.swarm
    do_by = voice.visit(voice.evening(event.onset, plus=limits.eggs_last))
    values = _days(voice, hive, event) | {
        "first": voice.day(event.onset, plus=limits.afterswarm_first),
        "last": voice.day(event.onset, plus=limits.afterswarm_last),
        "from": voice.day(event.onset, plus=limits.eggs_first),
        "by": voice.day(do_by),
    }
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(
            say(
                "{hive} has swarmed: leave the brood nest closed until {from}, then look once for eggs by {by}",
                **values,
            )
        ),
        saw=say("A swarm left {hive} on {day}.", **values),
        means=say(
            "A young queen hatches about a week after a swarm and flies out to mate. Disturbed now, she may be lost. "
            "The brood nest may cool and swing for a few weeks; that is expected."
        ),
        could_also_be=[say("If it was you who took bees away, write it in the logbook as split.")],
        do=[
            say("Do not open the brood nest before {from}. A super on top is no harm.", **values),
            *_second(scene, event, values),
            say("Eggs are due between {from} and {by}. Look once, on a warm day, by {by}.", **values),
        ],
        do_by=do_by,
        events=[event],
    )


def _second(scene: Scene, event: Event, values: dict[str, str]) -> list[str]:
    """Tell of a second swarm until its days are past."""
    if scene.now > evening(event.onset, scene.yard.zone, plus_days=scene.limits.swarm.afterswarm_last):
        return []
    return [
        say("Between {first} and {last} a smaller second swarm may leave. Glance at {hive} around midday.", **values)
    ]


def _eggs(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    voice, limits = Voice(scene), scene.limits.swarm
    values = _days(voice, hive, event)
    late = scene.now - event.onset > limits.eggs_last * DAY
    do_by = voice.visit(voice.evening(event.onset, plus=limits.failed_after if late else limits.eggs_last))
    values["by"] = voice.day(do_by)
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive}: look once for eggs by {by}", **values)),
        saw=say("A swarm left {hive} on {day}.", **values),
        means=say("By now the young queen should be mated and laying."),
        could_also_be=[say("Cold or wet days hold up mating; she may need a week more.")],
        do=[
            say(
                "On a warm, calm day by {by}, open {hive} briefly and look for eggs. One frame with eggs is enough.",
                **values,
            ),
            say("No eggs yet: close it, wait a week, look once more."),
            logbook.write_eggs(hive.id),
        ],
        do_by=do_by,
        cautions=[cautions.stings()],
        events=[event],
    )


def _failed(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    voice, limits = Voice(scene), scene.limits.swarm
    do_by = voice.visit(voice.evening(event.onset, plus=limits.failed_after + 5))
    values = _days(voice, hive, event) | {"by": voice.day(do_by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive}: the young queen may have failed; look by {by}", **values)),
        saw=say(
            "A swarm left {hive} on {day}. The nest is still not held as warm and steady as brood needs.", **values
        ),
        means=say("Eggs were due long ago. Without brood by now the young queen was probably lost or is not mated."),
        could_also_be=[
            say("There is brood, but not near the sensor."),
            say("She began late, after a spell of bad weather."),
        ],
        do=[
            say("By {by}, on a warm day, look in {hive} for eggs and young larvae.", **values),
            say(
                "If there are none, give a frame with eggs from a healthy hive. Queen cells on it "
                "after four days mean there "
                "is no queen."
            ),
            say("Without a queen: give a mated queen, or unite the bees with another hive."),
        ],
        do_by=do_by,
        cautions=[cautions.disease(), cautions.stings()],
        events=[event],
    )


def _days(voice: Voice, hive: HiveSettings, event: Event) -> dict[str, str]:
    return {
        "hive": hive_name(hive),
        "day": voice.day(event.onset),
    }


def brood_back(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    """Close with good news: the nest is warm again."""
    voice = Voice(scene)
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive} is rearing brood again", hive=hive_name(hive))),
        saw=say("A swarm left on {day}. The nest is warm and steady again.", day=voice.day(event.onset)),
        means=say("The young queen is probably laying. Nothing needs you."),
        events=[event],
        closed=True,
    )


def taken_back(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    """Close with an apology: it was no swarm after all."""
    voice = Voice(scene)
    told = event.withdrawn_because.rstrip(".") if spoken() == "en" else ""
    why = told or say("later readings do not bear it out")
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: no swarm after all", hive=hive_name(hive))),
        saw=say("On {day} I reported a swarm. I take it back: {why}.", day=voice.day(event.onset), why=why),
        means=say("The colony has not swarmed, as far as the scale can tell. Sorry for the alarm."),
        do=[say("Nothing. Leave {hive} as it is.", hive=hive_name(hive))],
        events=[event],
        closed=True,
    )

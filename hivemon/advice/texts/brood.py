"""Words about a cold or unsteady brood nest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import hive_name, say, start
from hivemon.model import Kind, Urgency

if TYPE_CHECKING:
    from hivemon.advice.brood import BroodReason, BroodVerdict
    from hivemon.advice.decision import Decision
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event, Millis

_COLD_DAYS, _COLD_FOR_ALL_DAYS, _UNSTEADY_DAYS = 3, 7, 7
"""To look from outside at a nest that is cool alone, or as all are; to look for eggs. Our rule: brood chilled for days
dies (Wang et al. 2016), so the first waits for no visiting day; the others may."""
_DESERTED_DAYS = 2
"""To look at a hive that may be empty: robbers find it within days (common practice)."""
_RIGHT = 35.0
"""Brood nest set point, °C (common practice: 95 °F)."""


def trouble(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    event: Event,
    decision: Decision[BroodVerdict, BroodReason],
    *,
    since: Millis | None,
) -> Advisory:
    """Say what a cold or unsteady nest means and what to check; `since`: when what explains it happened."""
    if decision.verdict.value == "explain":
        return _explained(scene, name, hive, event, decision.reason, since or event.onset)
    if event.kind is Kind.BROOD_UNSTABLE:
        return _unsteady(scene, name, hive, event)
    if decision.reason.value == "deserted":
        return _deserted(scene, name, hive, event)
    return _cold(scene, name, hive, event, for_all=decision.reason.value == "cold-for-all")


def _saw(voice: Voice, hive: HiveSettings, event: Event) -> str:
    values = {"hive": hive_name(hive), "day": voice.day(event.onset), "right": voice.temperature(_RIGHT)}
    if event.kind is Kind.BROOD_UNSTABLE:
        return start(
            say(
                "Since {day} the warmth between the brood frames of {hive} goes up and down with the weather. Brood is "
                "kept steady, near {right}.",
                **values,
            )
        )
    if event.size is None:
        return say("Since {day} it has been too cool between the brood frames of {hive}.", **values)
    return say(
        "Since {day} it has been down to {cold} between the brood frames of {hive}. About {right} is right.",
        cold=voice.temperature(event.size),
        **values,
    )


def _cold(scene: Scene, name: str, hive: HiveSettings, event: Event, *, for_all: bool) -> Advisory:
    voice, limits = Voice(scene), scene.limits.brood
    wanted = voice.evening(event.raised, plus=_COLD_FOR_ALL_DAYS if for_all else _COLD_DAYS)
    by = voice.visit(wanted, latest=wanted)
    values = {"hive": hive_name(hive), "by": voice.day(by), "warm": voice.temperature(limits.opening_celsius)}
    means = (
        say(
            "Other hives are cool too, so the weather has most to do with it. Small colonies give up "
            "the outer brood first."
        )
        if for_all
        else say("Only this hive is cool: too few bees to warm the brood, hunger, or less brood than before.")
    )
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive}: the brood nest is cool; check from outside by {by}", **values)),
        saw=_saw(voice, hive, event),
        means=means,
        could_also_be=[
            say("The brood has moved away from the sensor."),
            say("The queen has stopped laying or is gone."),
        ],
        do=[
            say(
                "First, without opening, by {by}: are bees flying on mild days, and does the back of "
                "{hive} feel heavy when "
                "lifted a little? Light means hunger; that comes first.",
                **values,
            ),
            say("Make the entrance small and see that the lid is tight."),
            say("Open it only at {warm} or more and without wind. Look for eggs and brood, then close it.", **values),
            say("If it stays colder than that, wait. Opening now costs more brood than waiting."),
            say("Write inspect in the logbook."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
        events=[event],
    )


def _deserted(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    voice = Voice(scene)
    wanted = voice.evening(event.raised, plus=_DESERTED_DAYS)
    by = voice.visit(wanted, latest=wanted)
    values = {"hive": hive_name(hive), "by": voice.day(by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive} may be empty; look from outside by {by}", **values)),
        saw=_saw(voice, hive, event),
        means=say("Bees left it lately, and those that stay have brood to warm. So cold, hardly any can have stayed."),
        could_also_be=[
            say("The sensor was pulled out, or hangs where no frame is any more."),
            say("The frames with brood were taken out."),
        ],
        do=[
            say("By {by}, watch the entrance of {hive}. Pollen goes in: leave it alone for a week.", **values),
            say("No bees, or only robbers: close the entrance after dark. Wax moths come next."),
            say("Find out why before its combs go to other bees: mites, hunger, disease."),
            say("Write inspect in the logbook."),
        ],
        do_by=by,
        cautions=[cautions.disease(), cautions.stings()],
        events=[event],
    )


def _unsteady(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    voice, limits = Voice(scene), scene.limits.brood
    by = voice.visit(voice.evening(event.raised, plus=_UNSTEADY_DAYS))
    values = {"hive": hive_name(hive), "by": voice.day(by), "warm": voice.temperature(limits.opening_celsius)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive}: no sign of brood at the sensor; look for eggs by {by}", **values)),
        saw=_saw(voice, hive, event),
        means=say("There is probably no brood near the sensor. The colony may be without a laying queen."),
        could_also_be=[
            say("It swarmed unnoticed or is changing its queen; then eggs come back within a few weeks."),
            say("The brood has moved to other frames, or the sensor was moved."),
        ],
        do=[
            say("By {by}, on a calm day of {warm} or more, look in {hive} for eggs.", **values),
            say("Eggs or young larvae: all is well. Close it."),
            say("Queen cells or a young queen: close it and wait three weeks."),
            say(
                "Neither: give a frame with eggs from a healthy hive. Queen cells on it after four "
                "days mean there is no queen."
            ),
            say("Write inspect in the logbook, or requeen if you gave a queen."),
        ],
        do_by=by,
        cautions=[cautions.disease(), cautions.stings()],
        events=[event],
    )


def _explained(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    event: Event,
    reason: BroodReason,
    since: Millis,
) -> Advisory:
    voice = Voice(scene)
    by = voice.evening(since, plus=30)
    values = {"hive": hive_name(hive), "since": voice.day(since), "by": voice.day(by)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: a gap in the brood, as expected; leave it closed until {by}", **values)),
        saw=_saw(voice, hive, event),
        means=_explanation(reason, voice.day(since)),
        could_also_be=[say("The queen was not accepted or was lost; then there would be no warmth on {by}.", **values)],
        do=[say("Leave {hive} closed. If the nest is not warm and steady on {by}, look for eggs.", **values)],
        do_by=by,
        events=[event],
    )


def _explanation(reason: BroodReason, since: str) -> str:
    if reason.value == "swarm-seen":
        return say("You saw it swarm on {since}. Until a young queen lays, it has no brood to keep warm.", since=since)
    if reason.value == "split":
        return say("You split it on {since}. Until a young queen lays, there is no brood to keep warm.", since=since)
    return say("It got a new queen or was united on {since}. A gap in the brood follows.", since=since)


def recovered(scene: Scene, name: str, hive: HiveSettings, event: Event) -> Advisory:
    """Close with good news."""
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: the brood nest is at the right warmth again", hive=hive_name(hive))),
        saw=say("The temperature between the brood frames is as it should be."),
        means=say("The colony has the brood in hand again. Nothing needs you."),
        events=[event],
        closed=True,
    )

"""Words about mites. Active ingredients only; what the label in hand and local law say always counts for more."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.draft import draft, held
from hivemon.advice.texts import cautions
from hivemon.advice.voice import Voice
from hivemon.advice.words import counted, decimal, hive_name, listed, number, say, start
from hivemon.model import DAY, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.counting import Rate
    from hivemon.advice.decision import Decision
    from hivemon.advice.mites import CountReason, CountVerdict
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, LogEntry, Millis

_TOO_HOT_CELSIUS = 29.5
"""Formic acid: daytime highs of 10 to 29.5 °C (US label, from memory)."""


class Count(NamedTuple):
    """A count: its logbook entry, the bees in it, its rate, and the threshold it is held against (per 100 bees)."""

    entry: LogEntry
    bees: int
    rate: Rate
    threshold: float


def count(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    found: Count,
    decision: Decision[CountVerdict, CountReason],
    *,
    supers: int,
) -> Advisory:
    """Say what a count means: treat, count again, or nothing for now."""
    if decision.verdict.value == "treat":
        return _treat(scene, name, hive, found, supers=supers, high=decision.reason.value == "high")
    if decision.verdict.value == "count-again":
        return _again(scene, name, hive, found)
    return _fine(scene, name, hive, found)


def _saw(voice: Voice, hive: HiveSettings, found: Count) -> str:
    return say(
        "On {day} you counted {mites} on {bees} bees of {hive}. That is {rate} per 100 bees. By the luck of the draw "
        "the true number may be anywhere from {low} to {high}.",
        day=voice.day(found.entry.time),
        mites=counted(round(found.entry.amount or 0), say("mite"), say("mites")),
        bees=f"{found.bees}",
        hive=hive_name(hive),
        rate=decimal(found.rate.percent),
        low=decimal(found.rate.low),
        high=decimal(found.rate.high),
    )


def _doubts(found: Count) -> list[str]:
    return [
        say("Half a cup of bees is called 300 by some and 400 by others: a counted sample tells more."),
        say(
            "Sources disagree on the limit: 1 in spring, 2 to 3 later, 5 in older books. Yours is set to {limit}.",
            limit=decimal(found.threshold),
        ),
    ]


def _treat(scene: Scene, name: str, hive: HiveSettings, found: Count, *, supers: int, high: bool) -> Advisory:
    voice = Voice(scene)
    by = held(scene, name, voice.visit(found.entry.time + (3 if high else 7) * DAY))
    values = {"hive": hive_name(hive), "by": voice.day(by), "limit": decimal(found.threshold)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hive} has too many mites: choose a treatment by {by}", **values)),
        saw=_saw(voice, hive, found),
        means=say(
            "With more than {limit} per 100 bees, mites and their viruses wear a colony down. As many again may sit in "
            "the brood.",
            **values,
        ),
        could_also_be=_doubts(found),
        do=[
            say("Choose what is allowed where you live, and follow its label. If in doubt, ask the bee inspector."),
            *_with_supers(hive, supers),
            *_heat(scene, voice),
            say("Count some other hives too. If they have many, treat the whole yard at once."),
            say("Write treat in the logbook, with days=42 in the note if it lasts so long. I then ask for a count."),
        ],
        do_by=by,
        cautions=[
            say("Acids burn. Wear acid-proof gloves, goggles and the mask the label names."),
            cautions.stings(),
        ],
    )


def _with_supers(hive: HiveSettings, supers: int) -> list[str]:
    if not supers:
        return []
    return [
        say(
            "{hive} carries honey supers. That rules out thymol and amitraz. Formic, hop and oxalic acids may be "
            "allowed with supers on: only if the label in your hand says so.",
            hive=start(hive_name(hive)),
        ),
    ]


def _heat(scene: Scene, voice: Voice) -> list[str]:
    if scene.outside_celsius is None or scene.outside_celsius < _TOO_HOT_CELSIUS:
        return []
    return [
        say("It is too hot for formic acid now: above {heat} it harms brood and queen.", heat=voice.temperature(29.5))
    ]


def _again(scene: Scene, name: str, hive: HiveSettings, found: Count) -> Advisory:
    voice = Voice(scene)
    by = held(scene, name, voice.visit(found.entry.time + 14 * DAY))
    values = {"hive": hive_name(hive), "by": voice.day(by), "limit": decimal(found.threshold)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: not many mites, but count again by {by}", **values)),
        saw=_saw(voice, hive, found),
        means=say("That is below your limit of {limit}, yet the true number may be above it.", **values),
        could_also_be=_doubts(found),
        do=[say("Treat nothing yet. Count {hive} again by {by}, with 300 bees or more.", **values)],
        do_by=by,
    )


def _fine(scene: Scene, name: str, hive: HiveSettings, found: Count) -> Advisory:
    voice = Voice(scene)
    values = {"hive": hive_name(hive), "limit": decimal(found.threshold)}
    return draft(
        scene,
        name,
        hive.id,
        urgency=Urgency.FOR_INFORMATION,
        title=start(say("{hive}: few mites, no treatment now", **values)),
        saw=_saw(voice, hive, found),
        means=say("That is below your limit of {limit}. Well done for counting.", **values),
        could_also_be=_doubts(found),
        do=[say("Nothing now. Count again in a month.")],
    )


def remind(scene: Scene, name: str, last: Millis | None) -> Advisory:
    """Remind a yard that its monthly count is due."""
    voice = Voice(scene)
    by = held(scene, name, voice.visit(scene.now + 9 * DAY))
    values = {"yard": scene.yard.title, "by": voice.day(by)}
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.THIS_WEEK,
        title=say("{yard}: count the mites by {by}", **values),
        saw=say("There is no mite count from {yard} in the logbook.", **values)
        if last is None
        else say("The last mite count at {yard} was on {day}.", day=voice.day(last), **values),
        means=say("Mites multiply as long as there is brood. No sensor sees them; only a count does."),
        could_also_be=[say("If you counted and did not write it down, write it now and this note goes away.")],
        do=[
            say(
                "On a mild day by {by}, take half a cup of bees (about 300) off a brood frame, but not the queen.",
                **values,
            ),
            say("Shake them with sugar or alcohol and count the mites. Two or three hives will do."),
            say("Write mite-wash in the logbook: the mites as amount, bees=300 in the note."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )


def recheck(scene: Scene, name: str, due: Sequence[tuple[HiveSettings, Millis]]) -> Advisory:
    """Ask to count again after a treatment."""
    voice, limits = Voice(scene), scene.limits.mites
    first = min(end for _, end in due)
    by = held(scene, name, voice.visit(first + limits.recheck_last * DAY))
    values = {"hives": listed([hive_name(h) for h, _ in due]), "by": voice.day(by), "day": voice.day(first)}
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.THIS_WEEK,
        title=say("{yard}: did the treatment work? Count again by {by}", yard=scene.yard.title, **values),
        saw=say("By the logbook the treatment of {hives} was over on {day}.", **values),
        means=say(
            "{first} to {last} days after a treatment a count tells whether it worked. It does not always.",
            first=start(number(limits.recheck_first)),
            last=number(limits.recheck_last),
        ),
        could_also_be=[say("If the strips are still in, wait. Write treat again, with days=42 in the note.")],
        do=[
            say("By {by}, count the mites of {hives}.", **values),
            say("Write mite-wash in the logbook: the mites as amount, bees=300 in the note."),
            say("Many mites still? Ask the bee inspector: mites can resist an ingredient."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )

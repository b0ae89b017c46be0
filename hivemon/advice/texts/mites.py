"""Words about mites. Active ingredients only; what the label in hand and local law say always counts for more."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.draft import draft, held
from hivemon.advice.texts import cautions, logbook
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

_TOO_HOT_CELSIUS = 29.0
"""Formic acid: daytime highs of 10 to 29.5 °C (US label, from memory), said in whole degrees."""
_SOON_DAYS, _WEEK_DAYS, _AGAIN_DAYS = 3, 7, 14
"""To choose a treatment for very many, for many; to count again when not sure. Our rule."""


class Count(NamedTuple):
    """A count: hive, logbook entry, bees in it, its rate per 100 bees, what it asks for, and the hive's supers.

    `bare`: little brood was capped then.
    """

    hive: HiveSettings
    entry: LogEntry
    bees: int
    rate: Rate
    decision: Decision[CountVerdict, CountReason]
    supers: int
    bare: bool = False


def _names(found: Sequence[Count]) -> str:
    return listed([hive_name(c.hive) for c in found])


def _one(found: Sequence[Count]) -> str | None:
    """Return the hive a note is about; None when it is about several."""
    return found[0].hive.id if len(found) == 1 else None


def _saw(voice: Voice, found: Sequence[Count]) -> str:
    if len(found) > 1:
        each = [
            say(
                "{hive} {rate} ({low} to {high})",
                hive=hive_name(c.hive),
                rate=decimal(c.rate.percent),
                low=decimal(c.rate.low),
                high=decimal(c.rate.high),
            )
            for c in found
        ]
        day = voice.day(max(c.entry.time for c in found))
        return say(
            "Mites per 100 bees by the counts up to {day}, and in brackets what luck allows: {counts}.",
            day=day,
            counts=listed(each),
        )
    count = found[0]
    return say(
        "On {day} you counted {mites} on {bees} bees of {hive}. That is {rate} per 100 bees. By the luck of the draw "
        "the true number may be anywhere from {low} to {high}.",
        day=voice.day(count.entry.time),
        mites=counted(round(count.entry.amount or 0), say("mite"), say("mites")),
        bees=f"{count.bees}",
        hive=hive_name(count.hive),
        rate=decimal(count.rate.percent),
        low=decimal(count.rate.low),
        high=decimal(count.rate.high),
    )


def _without_brood(hives: Sequence[str]) -> str:
    return say(
        "Little brood was capped in {hives}, so that nearly all mites were on the bees. "
        "With brood the same colony would have shown half as many or fewer.",
        hives=listed(hives),
    )


def _doubts(found: Sequence[Count], limit: float) -> list[str]:
    """Say what a count may hide; half to four fifths of the mites sit in capped brood (Rosenkranz et al. 2010)."""
    bare = [hive_name(c.hive) for c in found if c.bare]
    return [
        *([_without_brood(bare)] if bare else []),
        say("Half a cup of bees is called 300 by some and 400 by others: a counted sample tells more."),
        say(
            "Sources disagree on the limit: 1 in spring, 2 to 3 later, 5 in older books. Yours is set to {limit}.",
            limit=decimal(limit),
        ),
    ]


def treat(scene: Scene, name: str, found: Sequence[Count], limit: float) -> Advisory:
    """Say that hives have too many mites, and what to mind in choosing a treatment."""
    voice = Voice(scene)
    soon = any(c.decision.reason.value == "high" for c in found)
    first = min(c.entry.time for c in found)
    by = held(scene, name, voice.visit(first + (_SOON_DAYS if soon else _WEEK_DAYS) * DAY))
    values = {"hives": _names(found), "by": voice.day(by), "limit": decimal(limit)}
    return draft(
        scene,
        name,
        _one(found),
        urgency=Urgency.THIS_WEEK,
        title=start(say("{hives}: too many mites; choose a treatment by {by}", **values)),
        saw=_saw(voice, found),
        means=say(
            "With more than {limit} per 100 bees, mites and their viruses wear a colony down.",
            **values,
        ),
        could_also_be=_doubts(found, limit),
        do=[
            say("Choose what is allowed where you live, and follow its label. If in doubt, ask the bee inspector."),
            *_with_supers([c for c in found if c.supers]),
            say(
                "Mind the temperatures on the label: formic acid harms brood and queen above {heat}.",
                heat=voice.temperature(_TOO_HOT_CELSIUS),
            ),
            *(
                [say("Count some other hives too. If they have many, treat the whole yard at once.")]
                if len(found) == 1
                else []
            ),
            logbook.write_treatment(found[0].hive.id),
        ],
        do_by=by,
        cautions=[
            say("Acids burn. Wear acid-proof gloves, goggles and the mask the label names."),
            cautions.stings(),
        ],
    )


def _with_supers(carrying: Sequence[Count]) -> list[str]:
    if not carrying:
        return []
    return [
        say(
            "There are honey supers on {hives}. That rules out thymol and amitraz. Formic, hop and oxalic acids may be "
            "allowed with supers on: only if the label in your hand says so.",
            hives=_names(carrying),
        ),
    ]


def wait(scene: Scene, name: str, found: Sequence[Count], limit: float) -> Advisory:
    """Answer counts that ask for no treatment now; some may ask for another count."""
    voice = Voice(scene)
    again = [c for c in found if c.decision.verdict.value == "count-again"]
    first = min((c.entry.time for c in again), default=scene.now)
    by = held(scene, name, voice.visit(first + _AGAIN_DAYS * DAY)) if again else None
    values = {"hives": _names(found), "again": _names(again), "limit": decimal(limit)}
    values["by"] = voice.day(by) if by is not None else ""
    return draft(
        scene,
        name,
        _one(found),
        urgency=Urgency.FOR_INFORMATION,
        title=start(
            say("{again}: not many mites, but count again by {by}", **values)
            if again
            else say("{hives}: few mites, no treatment now", **values)
        ),
        saw=_saw(voice, found),
        means=say("That is below your limit of {limit}, yet by luck of the draw the truth may be above it.", **values)
        if again
        else say("That is below your limit of {limit}. Well done for counting.", **values),
        could_also_be=_doubts(found, limit),
        do=[
            say("Treat nothing yet. Count {again} again by {by}, with 300 bees or more.", **values)
            if again
            else say("Nothing now. Count again in a month."),
        ],
        do_by=by,
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
            logbook.write_mites(scene.hives[0].id),
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
        could_also_be=[say("If the strips are still in, wait. Write treat down again, with the days it lasts.")],
        do=[
            say("By {by}, count the mites of {hives}.", **values),
            logbook.write_mites(due[0][0].id),
            say("Many mites still? Ask the bee inspector: mites can resist an ingredient."),
        ],
        do_by=by,
        cautions=[cautions.stings()],
    )

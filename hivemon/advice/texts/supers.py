"""Words about supers and the flow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.draft import draft
from hivemon.advice.texts import cautions, logbook
from hivemon.advice.voice import Voice
from hivemon.advice.words import after, counted, hive_name, likely, listed, say, start, typical
from hivemon.model import DAY, Entry, Kind, Millis, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.decision import Decision
    from hivemon.advice.scene import Scene
    from hivemon.advice.supers import FlowReason, SuperEvidence, SuperReason, SuperVerdict
    from hivemon.config import HiveSettings
    from hivemon.model import Advisory, Event

_FAR = 60.0
"""Days: a date farther off than this is no date. Our rule."""
_VAGUE: Millis = 21 * DAY
"""A span wider than this is no date. Our rule."""
_SWAY = 0.6
"""How far a date given before follows the newest estimate: single days must not throw it about. Our rule."""
_NEAR = 1.5
"""Days: a likely date nearer than this is for today. Our rule."""


def add_super(
    scene: Scene,
    name: str,
    hive: HiveSettings,
    flow: Event,
    evidence: SuperEvidence,
    decision: Decision[SuperVerdict, SuperReason],
) -> Advisory:
    """Ask for a super, by the date at which the room is likely used up."""
    voice = Voice(scene)
    do_by = _do_by(scene, voice, name, evidence)
    values = {"hive": hive_name(hive), "by": voice.day(do_by)}
    which = say("first") if evidence.supers == 0 else say("next")
    return draft(
        scene,
        name,
        hive.id,
        urgency=_urgency(scene, name, evidence, decision),
        title=start(say("{hive} needs its {which} super by {by}", which=which, **values)),
        saw=_saw(voice, hive, evidence),
        means=_means(scene, voice, evidence, decision),
        could_also_be=_doubts(evidence),
        do=[
            say("Put one empty super on {hive} by {by}.", **values),
            *_sooner(scene, voice, do_by, evidence),
            say("There is no need to go through the brood frames for this."),
            logbook.write(hive.id, "super-on"),
        ],
        do_by=do_by,
        cautions=[*_after_swarm(scene, hive), cautions.lifting(), cautions.stings()],
        events=[flow],
    )


def _do_by(
    scene: Scene,
    voice: Voice,
    name: str,
    evidence: SuperEvidence,
) -> Millis:
    """Return the evening of the likely need, or of the last visiting day before it; not today unless it is full.

    A visiting day after it will do while the room may still last until then. Later than that, the need itself is told.
    A date given before gives way to an earlier one at once. A later one draws it only so far while it is ahead: single
    days must not throw it about. On the day itself it is put off to the newest estimate, unless the room is used up.
    """
    limits = scene.limits.supers
    full = evidence.left.likely <= limits.today_days
    need = after(scene.now, evidence.left.likely if full else max(evidence.left.likely, limits.today_days))
    latest = after(scene.now, min(evidence.left.latest, _FAR))
    newest = voice.visit(need, latest=latest)
    standing = scene.standing(name)
    if standing is None or standing.do_by is None:
        return newest
    if full or need <= standing.do_by or scene.now >= standing.do_by:
        return min(standing.do_by, newest)
    if standing.do_by - scene.now < DAY:
        return newest
    return voice.visit(standing.do_by + round(_SWAY * (need - standing.do_by)), latest=latest)


def _sooner(scene: Scene, voice: Voice, do_by: Millis, evidence: SuperEvidence) -> list[str]:
    """Say so where the visiting day comes after the day on which the room is likely used up."""
    likely_by = voice.evening(after(scene.now, evidence.left.likely)) if evidence.left.likely <= _FAR else do_by
    if not scene.yard.visit_days or do_by <= likely_by:
        return []
    return [say("Come sooner if you can: the room may be used up before your visiting day.")]


def _urgency(
    scene: Scene, name: str, evidence: SuperEvidence, decision: Decision[SuperVerdict, SuperReason]
) -> Urgency:
    """Return today when it is full or nearly so; it stays today once said."""
    standing = scene.standing(name)
    near = evidence.left.likely <= _NEAR
    said = standing is not None and standing.urgency is Urgency.TODAY
    return Urgency.TODAY if near or said or decision.reason.value == "full-now" else Urgency.THIS_WEEK


def _saw(voice: Voice, hive: HiveSettings, evidence: SuperEvidence) -> str:
    values = {
        "hive": hive_name(hive),
        "rate": voice.weight(evidence.rate or 0.0),
        "supers": counted(evidence.supers, say("super"), say("supers")),
        "capacity": voice.weight(evidence.capacity),
        "gained": voice.weight(evidence.gained),
    }
    if evidence.supers == 0:
        return start(say("{hive} gains about {rate} a day and, as far as I know, has no super on.", **values))
    if evidence.since is None:
        return start(say("{hive} gains about {rate} a day. It has {supers}, room for {capacity} of honey.", **values))
    return start(
        say(
            "{hive} gains about {rate} a day. It has {supers}, room for {capacity} of honey, and gained {gained} "
            "since {since}.",
            since=voice.day(evidence.since),
            **values,
        ),
    )


def _means(
    scene: Scene,
    voice: Voice,
    evidence: SuperEvidence,
    decision: Decision[SuperVerdict, SuperReason],
) -> str:
    fresh = say("Fresh nectar takes two to three times the room of the honey it becomes.")
    values = {"fresh": fresh, "sure": likely(decision.confidence)}
    if decision.reason.value == "first-super":
        return say("{fresh} The first of it goes into the brood nest, where the queen needs the room.", **values)
    if decision.reason.value == "full-now":
        return say("{fresh} The room is {sure} used up.", **values)
    first = after(scene.now, max(evidence.left.earliest, 0.0))
    last = after(scene.now, min(evidence.left.latest, _FAR))
    if last - first <= DAY or evidence.left.latest > _FAR:
        return say("{fresh} The room may be used up from {first} on.", first=voice.day(first), **values)
    if last - first > _VAGUE:
        return say(
            "{fresh} The room may be used up from {first} on, or last for weeks.", first=voice.day(first), **values
        )
    return say(
        "{fresh} The room is {sure} used up between {first} and {last}.",
        first=voice.day(first),
        last=voice.day(last),
        **values,
    )


def _doubts(evidence: SuperEvidence) -> list[str]:
    boxes = (
        say("If there is a super on that is not in the logbook, the need is later than this.")
        if evidence.supers == 0
        else say("If you put a box on or took one off and did not write it down, this date is wrong.")
    )
    return [say("The bees may still find empty comb in the brood boxes; then there is more time."), boxes]


def _after_swarm(scene: Scene, hive: HiveSettings) -> list[str]:
    lately = scene.find(Kind.SWARM, hive=hive.id, since=scene.now - scene.limits.swarm.eggs_last * DAY)
    if not lately or scene.entries(hive.id, Entry.REQUEEN, since=lately[-1].onset):
        return []
    return [say("A young queen may be in there: lift the lid only and leave the brood frames alone.")]


def flow_on(scene: Scene, name: str, flow: Event) -> Advisory:
    """Tell that nectar is coming in."""
    voice = Voice(scene)
    rate = flow.evidence.get("rate", flow.size)
    values = {"yard": scene.yard.title, "since": voice.day(flow.onset)}
    saw = (
        say("Since about {since} the hives at {yard} keep gaining weight.", **values)
        if rate is None
        else say(
            "Since about {since} {who} at {yard} gains weight: at first {rate} a day.",
            who=typical(scene.hives),
            rate=voice.weight(rate),
            **values,
        )
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.FOR_INFORMATION,
        title=say("Nectar is coming in at {yard}", **values),
        saw=saw,
        means=say("A flow has {sure} begun.", sure=likely(flow.confidence)),
        could_also_be=[say("Rain or dew on the hives weighs too, but it dries off within a day.")],
        do=[
            say("Have empty supers ready. I say for each hive when it needs one."),
            say("Stop any feeding: syrup would end up in the honey."),
        ],
        events=[flow],
    )


def flow_over(
    scene: Scene,
    name: str,
    end: Event,
    carrying: Sequence[HiveSettings],
    decision: Decision[bool, FlowReason],
) -> Advisory:
    """Tell that the flow is over: no more supers, when to look for capped honey, when it is dry enough."""
    voice = Voice(scene)
    do_by = voice.visit_from(voice.evening(end.onset, plus=scene.limits.supers.look_after_days))
    values = {
        "yard": scene.yard.title,
        "day": voice.day(end.onset),
        "by": voice.day(do_by),
        "hives": listed([hive_name(h) for h in carrying]),
    }
    dearth = decision.reason.value == "dearth-after"
    look = (
        say("Leave the honey on for now: taking it off while nothing comes in starts robbing.")
        if dearth
        else say("Around {by}, look into the supers of {hives}: is three quarters of each frame capped?", **values)
    )
    return draft(
        scene,
        name,
        None,
        urgency=Urgency.FOR_INFORMATION,
        title=say("The flow at {yard} is over: no more supers", **values),
        saw=say("Since about {day} the hives at {yard} no longer gain weight in flying weather.", **values),
        means=say(
            "The flow is {sure} over. The bees now dry and cap what they have.", sure=likely(decision.confidence)
        ),
        could_also_be=[say("A break of a few days; if nectar comes in again, I say so.")],
        do=[
            say("Put no more supers on."),
            look,
            say(
                "Extract when the honey holds 18 % water or less. Above 20 % it ferments and may not be sold as honey "
                "in most places (heather honey: 23 %)."
            ),
        ],
        do_by=None if dearth else do_by,
        cautions=[] if dearth else [cautions.lifting(), cautions.infants()],
        events=[end],
    )

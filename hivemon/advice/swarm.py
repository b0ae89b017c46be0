"""A swarm: where to look now, and what is due on which day in the hive it left."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.eggs import Eggs, eggs_in
from hivemon.advice.faults import is_faulty
from hivemon.advice.texts import swarm as texts
from hivemon.advice.warmth import nest_is_warm
from hivemon.model import DAY, HOUR, Entry, Event, Kind, Millis, Quantity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import SwarmLimits
    from hivemon.model import Advisory

_SAME_STORY_DAYS = 20
"""A second departure within this many days is an afterswarm: 7 to 14 days after the prime, later ones 1 to 4 days apart
(Winston 1987, from memory)."""


class SwarmVerdict(StrEnum):
    """What to say of a swarm."""

    LOOK = "look"
    CALENDAR = "calendar"
    CHECK = "check"
    QUIET = "quiet"


class SwarmReason(StrEnum):
    """Why."""

    JUST_LEFT = "just-left"
    MAY_HANG = "may-hang"
    FOUND = "found"
    SEARCH_OVER = "search-over"
    QUEEN_DUE = "queen-due"
    EGGS_DUE = "eggs-due"
    QUEEN_FAILED = "queen-failed"
    BROOD_BACK = "brood-back"
    LOOKED = "looked"
    EGGS_SEEN = "eggs-seen"
    NO_EGGS = "no-eggs"
    REQUEENED = "requeened"
    QUEEN_GIVEN = "queen-given"
    AFTERSWARM = "afterswarm"
    LONG_AGO = "long-ago"


_SAID = {
    SwarmReason.QUEEN_DUE: SwarmVerdict.CALENDAR,
    SwarmReason.EGGS_DUE: SwarmVerdict.CALENDAR,
    SwarmReason.QUEEN_FAILED: SwarmVerdict.CHECK,
    SwarmReason.QUEEN_GIVEN: SwarmVerdict.CALENDAR,
    SwarmReason.NO_EGGS: SwarmVerdict.CALENDAR,
}


def judge_search(*, hours: float, found: bool, limits: SwarmLimits) -> Decision[SwarmVerdict, SwarmReason]:
    """Return whether a search for the swarm is worth while, `hours` after it left."""
    if found:
        return Decision(SwarmVerdict.QUIET, SwarmReason.FOUND, 0.9)
    if hours > limits.look_hours:
        return Decision(SwarmVerdict.QUIET, SwarmReason.SEARCH_OVER, 0.7)
    if hours > limits.fetch_hours:
        return Decision(SwarmVerdict.LOOK, SwarmReason.MAY_HANG, 0.6)
    return Decision(SwarmVerdict.LOOK, SwarmReason.JUST_LEFT, 0.9)


class QueenEvidence(NamedTuple):
    """What is known of the hive a swarm left. `days` since the prime swarm."""

    days: float
    afterswarm: bool
    """Whether this departure belongs to an earlier swarm's story."""
    requeened: float | None
    """Days since a queen was given or the hive united; None when neither was."""
    seen: Eggs
    """What the last look since the swarm, or since that queen, said about eggs."""
    looked: bool
    """Whether the hive was inspected after eggs were due."""
    warm: bool | None
    """Whether the nest was lately held as warm and steady as brood needs; None when no sensor tells."""


def judge_queen(evidence: QueenEvidence, limits: SwarmLimits) -> Decision[SwarmVerdict, SwarmReason]:
    """Return what to say about the young queen, and why. What the beekeeper saw and did comes before the calendar."""
    given = -1.0 if evidence.requeened is None else evidence.requeened
    reason, confidence = first_that_holds(
        (
            (evidence.afterswarm, SwarmReason.AFTERSWARM, 0.8),
            (evidence.seen is Eggs.SEEN, SwarmReason.EGGS_SEEN, 0.9),
            (given >= 0 and (evidence.looked or given > limits.given_last), SwarmReason.REQUEENED, 0.9),
            (given >= 0, SwarmReason.QUEEN_GIVEN, 0.8),
            (evidence.seen is Eggs.NONE and evidence.days <= limits.failed_after, SwarmReason.NO_EGGS, 0.8),
            (evidence.looked and evidence.seen is not Eggs.NONE, SwarmReason.LOOKED, 0.8),
            (evidence.days > limits.forget_after, SwarmReason.LONG_AGO, 0.9),
            (evidence.days < limits.eggs_first, SwarmReason.QUEEN_DUE, 0.8),
            (bool(evidence.warm) and evidence.days > limits.eggs_last, SwarmReason.BROOD_BACK, 0.7),
            (
                (evidence.warm is False or evidence.seen is Eggs.NONE) and evidence.days > limits.failed_after,
                SwarmReason.QUEEN_FAILED,
                0.7,
            ),
            (True, SwarmReason.EGGS_DUE, 0.8),
        ),
    )
    return Decision(_SAID.get(reason, SwarmVerdict.QUIET), reason, confidence)


def swarms(scene: Scene) -> Iterator[Advisory]:
    """Say what each swarm of the last weeks asks for; take back kindly what was taken back."""
    withdrawn = [event for event in scene.events if event.kind is Kind.SWARM and event.withdrawn is not None]
    for hive in scene.hives:
        for event in scene.find(Kind.SWARM, hive=hive.id):
            yield from _one(scene, hive, event)
        for event in withdrawn:
            if event.hive == hive.id:
                yield texts.taken_back(scene, _search_name(scene, event), hive, event)
                yield texts.taken_back(scene, _queen_name(scene, event), hive, event)


def _search_name(scene: Scene, event: Event) -> str:
    return draft.condition("swarm", scene.yard.id, event.hive, event.id)


def _queen_name(scene: Scene, event: Event) -> str:
    return draft.condition("after-swarm", scene.yard.id, event.hive, event.id)


def _one(scene: Scene, hive: HiveSettings, event: Event) -> Iterator[Advisory]:
    limits = scene.limits.swarm
    found = bool(scene.entries(hive.id, Entry.SWARM_SEEN, since=event.onset - HOUR))
    search = judge_search(hours=(scene.now - event.onset) / HOUR, found=found, limits=limits)
    if search.verdict is SwarmVerdict.LOOK:
        late = search.reason is SwarmReason.MAY_HANG
        yield texts.look(scene, _search_name(scene, event), hive, event, late=late)
        return
    queen = judge_queen(queen_evidence(scene, hive, event), limits)
    if queen.verdict is not SwarmVerdict.QUIET:
        story = texts.Story(queen.reason, _acted(scene, hive, event))
        yield texts.queen(scene, _queen_name(scene, event), hive, event, story)
    elif queen.reason is SwarmReason.BROOD_BACK:
        yield texts.brood_back(scene, _queen_name(scene, event), hive, event)


def _acted(scene: Scene, hive: HiveSettings, event: Event) -> Millis | None:
    """Return when the beekeeper last looked or gave a queen since a swarm; None when he did neither."""
    entries = scene.entries(hive.id, Entry.INSPECT, Entry.REQUEEN, Entry.COMBINE, since=event.onset)
    return entries[-1].time if entries else None


def queen_evidence(scene: Scene, hive: HiveSettings, event: Event) -> QueenEvidence:
    """Gather what is known of the hive since the swarm left."""
    limits = scene.limits.swarm
    given = scene.entries(hive.id, Entry.REQUEEN, Entry.COMBINE, since=event.onset)
    earlier = scene.find(Kind.SWARM, hive=hive.id, since=event.onset - _SAME_STORY_DAYS * DAY)
    due = given[-1].time + limits.given_first * DAY if given else event.onset + limits.eggs_first * DAY
    # Eggs hatch in three days: those seen later than that after a swarm are a young queen's.
    laid = given[-1].time if given else event.onset + limits.old_eggs_days * DAY
    looks = scene.entries(hive.id, Entry.INSPECT, since=laid)
    return QueenEvidence(
        days=(scene.now - event.onset) / DAY,
        afterswarm=any(e.onset < event.onset for e in earlier),
        requeened=(scene.now - given[-1].time) / DAY if given else None,
        seen=next((said for e in reversed(looks) if (said := eggs_in(e.note)) is not Eggs.NOT_SAID), Eggs.NOT_SAID),
        looked=bool(scene.entries(hive.id, Entry.INSPECT, since=due)),
        warm=None
        if is_faulty(scene, hive.id, Quantity.TEMPERATURE)
        else nest_is_warm(scene.whole_days(hive.id, since=due), scene.limits.brood),
    )

"""Mites: count them once a month, what a count means, and count again after a treatment.

Scale and thermometer cannot count mites: everything here follows from the logbook and the calendar.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.boxes import boxes
from hivemon.advice.counting import Rate, bees_in, mite_rate
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.robbing import under_way
from hivemon.advice.season import broodless, northern_month
from hivemon.advice.texts import mites as texts
from hivemon.model import DAY, Entry, Kind, LogEntry, Millis

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import MiteLimits
    from hivemon.model import Advisory

_SETTLED_DAYS = 14
"""Hive days known before a yard is reminded: nobody wants to be told on the first morning. Our rule."""
_LASTS = re.compile(r"\bdays\s*=\s*(\d+)", re.IGNORECASE)
_BROOD_BREAK = (15, 35)
"""Days after a swarm or split in which little brood is capped: the old queen's last hatches on day 21, most of it by
day 15; the young queen's, laid from day 16 to 25, is capped nine days later (derived)."""
_FINE_DAYS = 4.0
"""A count that asks for nothing stands this long as the answer to it. Our rule."""


class CountVerdict(StrEnum):
    """What a count asks for."""

    TREAT = "treat"
    COUNT_AGAIN = "count-again"
    FINE = "fine"
    QUIET = "quiet"


class CountReason(StrEnum):
    """Why."""

    LONG_AGO = "long-ago"
    TREATED = "treated"
    HIGH = "high"
    ABOVE = "above"
    MAY_BE_ABOVE = "may-be-above"
    BELOW = "below"


class CountEvidence(NamedTuple):
    """A count: `rate` per 100 bees, the threshold that holds in this season, `days` since, whether treated since."""

    rate: Rate
    threshold: float
    days: float
    treated: bool


def judge_count(evidence: CountEvidence, limits: MiteLimits) -> Decision[CountVerdict, CountReason]:
    """Return what a count asks for, and why."""
    rate = evidence.rate
    reason, confidence = first_that_holds(
        (
            (evidence.treated, CountReason.TREATED, 0.9),
            (evidence.days > limits.told_days, CountReason.LONG_AGO, 0.9),
            (rate.percent >= limits.high_percent, CountReason.HIGH, 0.9),
            (rate.percent >= evidence.threshold, CountReason.ABOVE, 0.8 if rate.low >= evidence.threshold else 0.6),
            (rate.percent >= evidence.threshold / 2 and rate.high >= evidence.threshold, CountReason.MAY_BE_ABOVE, 0.6),
            (evidence.days > _FINE_DAYS, CountReason.LONG_AGO, 0.9),
            (True, CountReason.BELOW, 0.7),
        ),
    )
    return Decision(_FOR_COUNT.get(reason, CountVerdict.QUIET), reason, confidence)


_FOR_COUNT = {
    CountReason.HIGH: CountVerdict.TREAT,
    CountReason.ABOVE: CountVerdict.TREAT,
    CountReason.MAY_BE_ABOVE: CountVerdict.COUNT_AGAIN,
    CountReason.BELOW: CountVerdict.FINE,
}


def threshold(scene: Scene) -> float:
    """Return the mites per 100 bees that call for treatment in this season."""
    limits = scene.limits.mites
    early = northern_month(scene) <= limits.early_until_month
    return limits.early_threshold_percent if early else limits.threshold_percent


def counts(scene: Scene) -> Iterator[Advisory]:
    """Say what the last counts ask for: one note a yard for hives to treat, one for those that can wait."""
    treat: list[texts.Count] = []
    wait: list[texts.Count] = []
    for hive in scene.hives:
        washed = [e for e in scene.entries(hive.id, Entry.MITE_WASH) if e.amount is not None and e.amount >= 0]
        if not washed:
            continue
        last, bees = washed[-1], bees_in(washed[-1].note, scene.limits.mites.sample_bees)
        evidence = CountEvidence(
            rate=mite_rate(last.amount or 0.0, bees),
            threshold=threshold(scene),
            days=(scene.now - last.time) / DAY,
            treated=bool(scene.entries(hive.id, Entry.TREAT, since=last.time)),
        )
        decision = judge_count(evidence, scene.limits.mites)
        bare = _little_capped_brood(scene, hive.id, last.time)
        count = texts.Count(hive, last, bees, evidence.rate, decision, boxes(scene, hive).supers, bare)
        if decision.verdict is CountVerdict.TREAT:
            treat.append(count)
        elif decision.verdict is not CountVerdict.QUIET:
            wait.append(count)
    if treat:
        yield texts.treat(scene, draft.condition("mites", scene.yard.id, None), treat, threshold(scene))
    if wait:
        yield texts.wait(scene, draft.condition("few-mites", scene.yard.id, None), wait, threshold(scene))


def _little_capped_brood(scene: Scene, hive: str, counted: Millis) -> bool:
    """Whether mites had little capped brood to hide in when they were counted: after a swarm, a split, in winter."""
    if broodless(scene):
        return True
    first, last = (counted - days * DAY for days in reversed(_BROOD_BREAK))
    left = [e.onset for e in scene.find(Kind.SWARM, hive=hive)]
    left += [e.time for e in scene.entries(hive, Entry.SPLIT, Entry.SWARM_SEEN)]
    return any(first <= when <= last for when in left)


class RemindReason(StrEnum):
    """Why a yard is or is not reminded to count."""

    OUT_OF_SEASON = "out-of-season"
    JUST_STARTED = "just-started"
    COUNTED = "counted"
    TREATED = "treated"
    ROBBING = "robbing"
    TOO_COLD = "too-cold"
    DUE = "due"


class RemindEvidence(NamedTuple):
    """What is known of a yard: season, days since its last count and treatment (None: none known)."""

    in_season: bool
    known_days: int
    counted: float | None
    treated: float | None
    robbing: bool
    outside: float | None


def judge_reminder(evidence: RemindEvidence, limits: MiteLimits) -> Decision[bool, RemindReason]:
    """Return whether to remind a yard to count its mites, and why."""
    reason, confidence = first_that_holds(
        (
            (not evidence.in_season, RemindReason.OUT_OF_SEASON, 0.9),
            (evidence.known_days < _SETTLED_DAYS, RemindReason.JUST_STARTED, 0.9),
            (evidence.counted is not None and evidence.counted < limits.every_days, RemindReason.COUNTED, 0.9),
            (evidence.treated is not None and evidence.treated < limits.every_days, RemindReason.TREATED, 0.8),
            (evidence.robbing, RemindReason.ROBBING, 0.8),
            (evidence.outside is not None and evidence.outside < limits.least_celsius, RemindReason.TOO_COLD, 0.8),
            (True, RemindReason.DUE, 0.8),
        ),
    )
    return Decision(reason is RemindReason.DUE, reason, confidence)


def reminder(scene: Scene) -> Iterator[Advisory]:
    """Remind a yard once a month in season."""
    limits = scene.limits.mites
    counted, treated = _latest(scene, Entry.MITE_WASH), _latest(scene, Entry.TREAT)
    evidence = RemindEvidence(
        in_season=limits.first_month <= northern_month(scene) <= limits.last_month,
        known_days=max((len(scene.whole_days(h.id)) for h in scene.hives), default=0),
        counted=(scene.now - counted) / DAY if counted else None,
        treated=(scene.now - treated) / DAY if treated else None,
        robbing=any(under_way(scene, h.id) for h in scene.hives),
        outside=scene.outside_celsius,
    )
    name = draft.condition("count-mites", scene.yard.id, None)
    decision = judge_reminder(evidence, limits)
    waits = decision.reason in (RemindReason.ROBBING, RemindReason.TOO_COLD)
    if decision.verdict or (waits and scene.standing(name)):
        yield texts.remind(scene, name, counted)


def _latest(scene: Scene, kind: Entry) -> Millis | None:
    times = [e.time for h in scene.hives for e in scene.entries(h.id, kind)]
    return max(times, default=None)


class RecheckReason(StrEnum):
    """Why a hive is or is not to be counted again after a treatment."""

    NOT_TREATED = "not-treated"
    COUNTED_SINCE = "counted-since"
    TOO_EARLY = "too-early"
    LONG_AGO = "long-ago"
    OUT_OF_SEASON = "out-of-season"
    DUE = "due"


def judge_recheck(
    *,
    days: float | None,
    counted: bool,
    in_season: bool,
    limits: MiteLimits,
) -> Decision[bool, RecheckReason]:
    """Return whether to count again `days` after a treatment's end (None: no treatment known), and why."""
    after = -1.0 if days is None else days
    reason, confidence = first_that_holds(
        (
            (days is None, RecheckReason.NOT_TREATED, 0.9),
            (counted, RecheckReason.COUNTED_SINCE, 0.9),
            (after < limits.recheck_first - 1, RecheckReason.TOO_EARLY, 0.9),
            (after > limits.recheck_last + limits.told_days, RecheckReason.LONG_AGO, 0.8),
            (not in_season, RecheckReason.OUT_OF_SEASON, 0.8),
            (True, RecheckReason.DUE, 0.8),
        ),
    )
    return Decision(reason is RecheckReason.DUE, reason, confidence)


def rechecks(scene: Scene) -> Iterator[Advisory]:
    """Ask to count again after a treatment: one note a yard, for all hives it is due in."""
    limits = scene.limits.mites
    in_season = limits.first_month <= northern_month(scene) <= limits.last_month + 1
    due: list[tuple[HiveSettings, Millis]] = []
    for hive in scene.hives:
        treated = scene.entries(hive.id, Entry.TREAT)
        end = _end_of(treated[-1]) if treated else None
        decision = judge_recheck(
            days=None if end is None else (scene.now - end) / DAY,
            counted=end is not None and bool(scene.entries(hive.id, Entry.MITE_WASH, since=end)),
            in_season=in_season,
            limits=limits,
        )
        if decision.verdict and end is not None:
            due.append((hive, end))
    if due:
        yield texts.recheck(scene, draft.condition("recheck-mites", scene.yard.id, None), due)


def _end_of(treatment: LogEntry) -> Millis:
    """Return when a treatment ended: when it was logged, or `days=42` later where the note says so."""
    lasts = _LASTS.search(treatment.note)
    return treatment.time + int(lasts.group(1)) * DAY if lasts else treatment.time

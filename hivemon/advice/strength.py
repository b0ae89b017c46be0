"""Strong and weak: hives of a yard compared by gain, brood steadiness and bees in flight, with doubt."""

from __future__ import annotations

import math
import statistics
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.breaks import brood_breaks
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import is_faulty
from hivemon.advice.season import northern_week, season_name
from hivemon.advice.spread import error_of_mean, mean
from hivemon.advice.texts import strength as texts
from hivemon.model import DAY, Entry, Quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from hivemon.advice.scene import Scene
    from hivemon.limits import StrengthLimits
    from hivemon.model import Advisory, HiveDay

_LEAST_HIVES = 3
"""With fewer hives there is no telling which is the odd one. Our rule."""


class Rank(NamedTuple):
    """A hive among its neighbours. `score`: standard deviations above the yard's median, `sd` its doubt.

    `gain` kg a day, `swing` of the brood nest °C, `dip` kg of bees out in the morning: means of the days compared,
    None where the hive's sensors do not tell.
    """

    hive: str
    score: float
    sd: float
    gain: float | None
    swing: float | None
    dip: float | None

    def chance_below(self, limit: float) -> float:
        """Return the chance that the true score is below a limit (normal distribution)."""
        return 0.5 * (1 + math.erf((limit - self.score) / (max(self.sd, 1e-6) * math.sqrt(2))))


class _Measure(NamedTuple):
    """One thing hives are compared by.

    `of` returns its value of a day, which the sensor of `quantity` tells; `spread` is the standard deviation among
    hives; `sign` is 1 where more is better, else -1.
    """

    of: Callable[[HiveDay], float | None]
    quantity: Quantity
    spread: float
    sign: float


class _Mean(NamedTuple):
    value: float
    error: float


def ranking(scene: Scene) -> list[Rank]:
    """Return the yard's hives, the strongest first; none when fewer than three have days enough to compare."""
    limits = scene.limits.strength
    measures = (
        _Measure(lambda d: d.net_gain, Quantity.WEIGHT, limits.gain_sd, 1.0),
        _Measure(lambda d: d.temperature_swing, Quantity.TEMPERATURE, limits.swing_sd, -1.0),
        _Measure(lambda d: d.morning_dip, Quantity.WEIGHT, limits.dip_sd, 1.0),
    )
    means = {hive.id: [_mean(scene, hive.id, measure) for measure in measures] for hive in scene.hives}
    known = {hive: row for hive, row in means.items() if any(m is not None for m in row)}
    if len(known) < _LEAST_HIVES:
        return []
    medians = [_median(column) for column in zip(*known.values(), strict=True)]
    ranks = [_rank(hive, row, medians, measures) for hive, row in known.items()]
    return sorted(ranks, key=lambda r: (-r.score, r.hive))


def _mean(scene: Scene, hive: str, measure: _Measure) -> _Mean | None:
    """Return a hive's mean of one measure over the days compared and its error; None when too few days tell."""
    limits = scene.limits.strength
    if is_faulty(scene, hive, measure.quantity):
        return None
    days = scene.whole_days(hive, since=scene.now - (limits.days + 1) * DAY)
    values = [v for d in days if (v := measure.of(d)) is not None]
    if len(values) < limits.least_days:
        return None
    return _Mean(mean(values), error_of_mean(values))


def _median(found: Sequence[_Mean | None]) -> float:
    values = [m.value for m in found if m is not None]
    return statistics.median(values) if values else 0.0


def _rank(hive: str, row: Sequence[_Mean | None], medians: Sequence[float], measures: Sequence[_Measure]) -> Rank:
    parts = [
        (measure.sign * (own.value - median) / measure.spread, own.error / measure.spread)
        for own, median, measure in zip(row, medians, measures, strict=True)
        if own is not None
    ]
    score = mean([part for part, _ in parts])
    sd = math.sqrt(sum(error**2 for _, error in parts)) / len(parts)
    gain, swing, dip = (own.value if own else None for own in row)
    return Rank(hive, score, sd, gain, swing, dip)


class WeakReason(StrEnum):
    """Why a hive is or is not called weak; once looked at, it is no more than kept in mind."""

    OUT_OF_SEASON = "out-of-season"
    NOT_RANKED = "not-ranked"
    EXPLAINED = "explained"
    LOOKED = "looked"
    NOT_WEAK = "not-weak"
    UNSURE = "unsure"
    WEAK = "weak"


class WeakEvidence(NamedTuple):
    """A hive's rank (None: not ranked), the week as in the north, and what the logbook and events tell of it."""

    rank: Rank | None
    week: int
    explained: bool
    """Whether a swarm, a split or a new queen of the last weeks explains that it is small."""
    said: bool
    """Whether it is called weak already: then it must rise well above the limit before that is taken back."""
    looked: bool
    """Whether the beekeeper has looked into it since it was called weak."""


def judge_weak(evidence: WeakEvidence, limits: StrengthLimits) -> Decision[bool, WeakReason]:
    """Return whether to say that a hive is weak, and why."""
    rank = evidence.rank
    score = rank.score if rank else 0.0
    sure = rank.chance_below(limits.weak_score / 2) if rank else 0.0
    reason, confidence = first_that_holds(
        (
            (not limits.midsummer_week <= evidence.week <= limits.until_week, WeakReason.OUT_OF_SEASON, 0.9),
            (rank is None, WeakReason.NOT_RANKED, 0.5),
            (evidence.explained, WeakReason.EXPLAINED, 0.8),
            (score > (limits.weak_score / 2 if evidence.said else limits.weak_score), WeakReason.NOT_WEAK, 0.8),
            (sure < limits.sure and not evidence.said, WeakReason.UNSURE, 0.5),
            (evidence.looked, WeakReason.LOOKED, 0.6),
            (True, WeakReason.WEAK, min(sure, 0.8)),
        ),
    )
    return Decision(reason in (WeakReason.WEAK, WeakReason.LOOKED), reason, confidence)


def weak_hives(scene: Scene) -> Iterator[Advisory]:
    """Say once a year, from midsummer on, which hives fall behind and what can be done."""
    if not scene.limits.strength.midsummer_week <= northern_week(scene) <= scene.limits.strength.until_week:
        return  # spare the comparison
    ranks = ranking(scene)
    for rank in ranks:
        name = draft.condition("weak", scene.yard.id, rank.hive, season_name(scene))
        standing = scene.standing(name)
        evidence = WeakEvidence(
            rank=rank,
            week=northern_week(scene),
            explained=bool(brood_breaks(scene, rank.hive)),
            said=standing is not None,
            looked=standing is not None and bool(scene.entries(rank.hive, Entry.INSPECT, since=standing.raised)),
        )
        decision = judge_weak(evidence, scene.limits.strength)
        if decision.verdict:
            hive = next(h for h in scene.hives if h.id == rank.hive)
            yield texts.weak(scene, name, hive, rank, ranks, looked=decision.reason is WeakReason.LOOKED)

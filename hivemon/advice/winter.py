"""Winter: stores held against a target while there is time to feed, and through the winter the date they run out."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft, overwinter
from hivemon.advice.climate import winter_target
from hivemon.advice.dearth import FeedVerdict, feed_evidence, judge_feed
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.faults import scale_ok
from hivemon.advice.larder import larder
from hivemon.advice.season import broodless, last_feeding, northern_week, season_name, spring, tropical
from hivemon.advice.texts import winter as texts
from hivemon.model import DAY, Entry, Millis

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.larder import Larder
    from hivemon.advice.scene import Scene
    from hivemon.config import HiveSettings
    from hivemon.limits import WinterLimits
    from hivemon.model import Advisory

_WEEK = 7
_LOOKED: Millis = 14 * DAY
"""Whoever looked in or fed this lately in winter knows about the food. Our rule."""


class StoresReason(StrEnum):
    """Why a hive is or is not to be fed for winter."""

    NO_WINTER = "no-winter"
    NOT_NOW = "not-now"
    IN_FLOW = "in-flow"
    SCALE_FAULTY = "scale-faulty"
    NO_WEIGHT = "no-weight"
    SUPERS_ON = "supers-on"
    JUST_FED = "just-fed"
    URGENT = "urgent"
    ENOUGH = "enough"
    TARE_UNKNOWN = "tare-unknown"
    SHORT = "short"


class StoresEvidence(NamedTuple):
    """What the decision looks at; `short` kg to the target, None without a weight to judge by."""

    winter: bool
    weeks_in: int
    """Weeks since stores are first looked at; negative before."""
    days_left: float
    """Until the last sensible day of feeding."""
    in_flow: bool
    scale_ok: bool
    supers: int
    fed_lately: bool
    urgent: bool
    """Whether the hive is short of food at this moment, which has its own note."""
    tare_known: bool
    short: float | None
    asked: bool


def judge_stores(evidence: StoresEvidence, limits: WinterLimits) -> Decision[bool, StoresReason]:
    """Return whether a hive needs feeding for winter, and why. Flow and supers come first, as in any feeding."""
    short = evidence.short or 0.0
    margin = limits.margin_kg * (0.5 if evidence.asked else 1.0)
    reason, confidence = first_that_holds(
        (
            (not evidence.winter, StoresReason.NO_WINTER, 0.9),
            (evidence.weeks_in < 0 or evidence.days_left < 0, StoresReason.NOT_NOW, 0.9),
            (evidence.in_flow, StoresReason.IN_FLOW, 0.9),
            (not evidence.scale_ok, StoresReason.SCALE_FAULTY, 0.5),
            (evidence.short is None, StoresReason.NO_WEIGHT, 0.5),
            (evidence.supers > 0, StoresReason.SUPERS_ON, 0.8),
            (evidence.fed_lately, StoresReason.JUST_FED, 0.7),
            (evidence.urgent, StoresReason.URGENT, 0.8),
            (not evidence.tare_known, StoresReason.TARE_UNKNOWN, 0.5),
            (short <= margin, StoresReason.ENOUGH, 0.8),
            (True, StoresReason.SHORT, 0.8),
        ),
    )
    return Decision(reason is StoresReason.SHORT, reason, confidence)


def winter_stores(scene: Scene) -> Iterator[Advisory]:
    """Say in one note a yard which hives lack food for winter, how much to give them and until when."""
    if northern_week(scene) < scene.limits.winter.ready_week or scene.now > last_feeding(scene):
        return  # spare the reckoning
    target = winter_target(scene)
    name = draft.condition("winter-stores", scene.yard.id, None, season_name(scene))
    asked = scene.standing(name) is not None
    short: list[tuple[HiveSettings, Larder]] = []
    unsure: list[HiveSettings] = []
    carrying: list[HiveSettings] = []
    for hive in scene.hives:
        found = larder(scene, hive)
        decision = judge_stores(_stores_evidence(scene, hive, found, target.kg, asked=asked), scene.limits.winter)
        if decision.verdict and found is not None:
            short.append((hive, found))
        elif decision.reason is StoresReason.TARE_UNKNOWN:
            unsure.append(hive)
        elif decision.reason is StoresReason.SUPERS_ON:
            carrying.append(hive)
    if short or unsure:
        yield texts.stores(scene, name, target, short, unsure, carrying)


def _stores_evidence(
    scene: Scene,
    hive: HiveSettings,
    found: Larder | None,
    target: float,
    *,
    asked: bool,
) -> StoresEvidence:
    food, limits = feed_evidence(scene, hive), scene.limits
    return StoresEvidence(
        winter=not tropical(scene),
        weeks_in=northern_week(scene) - limits.winter.ready_week,
        days_left=(last_feeding(scene) - scene.now) / DAY,
        in_flow=food.in_flow,
        scale_ok=food.scale_ok,
        supers=found.supers + found.unsure if found else 0,
        fed_lately=food.fed_lately,
        urgent=judge_feed(food, limits.food).verdict is FeedVerdict.FEED,
        tare_known=hive.tare_kg is not None,
        short=None if found is None else target - found.food.mean,
        asked=asked,
    )


class RunsOutReason(StrEnum):
    """Why a date on which food runs out in winter is or is not told."""

    NOT_WINTER = "not-winter"
    SCALE_FAULTY = "scale-faulty"
    NO_WEIGHT = "no-weight"
    TARE_UNKNOWN = "tare-unknown"
    TOO_FEW_DAYS = "too-few-days"
    URGENT = "urgent"
    LOOKED = "looked"
    FAR_OFF = "far-off"
    LASTS = "lasts"
    RUNS_OUT = "runs-out"


class RunsOutEvidence(NamedTuple):
    """What the decision looks at: days the food lasts at what the hive uses, and days until spring."""

    winter: bool
    scale_ok: bool
    tare_known: bool
    lasts: float | None
    """None without a weight to judge by."""
    days_known: int
    until_spring: float
    urgent: bool
    looked: bool
    asked: bool


def judge_runs_out(evidence: RunsOutEvidence, limits: WinterLimits) -> Decision[bool, RunsOutReason]:
    """Return whether to tell that a hive's food ends before spring, and why."""
    lasts = math.inf if evidence.lasts is None else evidence.lasts
    slack = _WEEK if evidence.asked else 0.0
    reason, confidence = first_that_holds(
        (
            (not evidence.winter, RunsOutReason.NOT_WINTER, 0.9),
            (not evidence.scale_ok, RunsOutReason.SCALE_FAULTY, 0.5),
            (evidence.lasts is None, RunsOutReason.NO_WEIGHT, 0.5),
            (not evidence.tare_known, RunsOutReason.TARE_UNKNOWN, 0.5),
            (evidence.days_known < limits.least_weeks * _WEEK, RunsOutReason.TOO_FEW_DAYS, 0.5),
            (evidence.urgent, RunsOutReason.URGENT, 0.8),
            (evidence.looked, RunsOutReason.LOOKED, 0.7),
            (lasts > evidence.until_spring + slack, RunsOutReason.LASTS, 0.7),
            (lasts > limits.heft_days + slack, RunsOutReason.FAR_OFF, 0.6),
            (True, RunsOutReason.RUNS_OUT, 0.7),
        ),
    )
    return Decision(reason is RunsOutReason.RUNS_OUT, reason, confidence)


def winter_food(scene: Scene) -> Iterator[Advisory]:
    """Tell in winter, hive by hive, when food ends before spring comes."""
    if not broodless(scene):
        return  # spare the reckoning
    for hive in scene.hives:
        found = larder(scene, hive)
        ends = overwinter.lasts(scene, found.food.mean, found.use.mean) if found else None
        name = draft.condition("winter-food", scene.yard.id, hive.id, season_name(scene))
        evidence = RunsOutEvidence(
            winter=broodless(scene),
            scale_ok=scale_ok(scene, hive.id),
            tare_known=hive.tare_kg is not None,
            lasts=ends,
            days_known=len(scene.whole_days(hive.id)),
            until_spring=(spring(scene) - scene.now) / DAY,
            urgent=judge_feed(feed_evidence(scene, hive), scene.limits.food).verdict is FeedVerdict.FEED,
            looked=bool(scene.entries(hive.id, Entry.INSPECT, Entry.FEED, since=scene.now - _LOOKED)),
            asked=scene.standing(name) is not None,
        )
        if found is not None and ends is not None and judge_runs_out(evidence, scene.limits.winter).verdict:
            yield texts.runs_out(scene, name, hive, found, ends)

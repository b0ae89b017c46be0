"""How many colonies to take into winter so that the number wanted comes out."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice import draft
from hivemon.advice.counting import chance_of, colonies_for
from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.season import northern_week, season_name, tropical
from hivemon.advice.texts import strength as texts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.advice.scene import Scene
    from hivemon.limits import WinterLimits
    from hivemon.model import Advisory

_WEEKS = 2
"""The sum is shown for so many weeks: long enough to act on. Our rule."""


class Plan(NamedTuple):
    """Colonies now and wanted in spring, the share expected to be lost, and the chance that enough are left.

    `target` is the chance wanted, `needed` the fewest colonies that give it (None: more than any yard holds).
    """

    have: int
    wanted: int
    loss: float
    chance: float
    target: float
    needed: int | None


class PlanReason(StrEnum):
    """Why the sum is or is not shown."""

    NOT_NOW = "not-now"
    NO_WINTER = "no-winter"
    NO_HIVES = "no-hives"
    ENOUGH = "enough"
    TOO_FEW = "too-few"


def plan(have: int, limits: WinterLimits) -> Plan:
    """Return the arithmetic for a yard of `have` hives."""
    wanted = have if limits.spring_colonies is None else limits.spring_colonies
    return Plan(
        have=have,
        wanted=wanted,
        loss=limits.expected_loss,
        chance=chance_of(wanted, have, limits.expected_loss),
        target=limits.wanted_chance,
        needed=colonies_for(wanted, limits.expected_loss, limits.wanted_chance),
    )


def judge_plan(found: Plan, *, weeks_in: int, winter: bool) -> Decision[bool, PlanReason]:
    """Return whether to show the sum; `weeks_in`: weeks since the week in which colonies are planned."""
    reason, confidence = first_that_holds(
        (
            (not winter, PlanReason.NO_WINTER, 0.9),
            (not 0 <= weeks_in < _WEEKS, PlanReason.NOT_NOW, 0.9),
            (found.have == 0, PlanReason.NO_HIVES, 0.9),
            (found.chance >= found.target, PlanReason.ENOUGH, 0.7),
            (True, PlanReason.TOO_FEW, 0.7),
        ),
    )
    return Decision(reason is PlanReason.TOO_FEW, reason, confidence)


def winter_colonies(scene: Scene) -> Iterator[Advisory]:
    """Show the sum once a year, in time for splits."""
    found = plan(len(scene.hives), scene.limits.winter)
    weeks_in = northern_week(scene) - scene.limits.strength.plan_week
    if judge_plan(found, weeks_in=weeks_in, winter=not tropical(scene)).verdict:
        yield texts.colonies(scene, draft.condition("colonies", scene.yard.id, None, season_name(scene)), found)

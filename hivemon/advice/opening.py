"""What asks for a hive to be opened waits while robbers are about: open honey draws them on."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

import msgspec

from hivemon.advice.decision import Decision, first_that_holds
from hivemon.advice.robbing import under_way
from hivemon.advice.texts import opening as texts
from hivemon.advice.words import hive_name
from hivemon.model import Kind, Urgency

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from hivemon.advice.scene import Scene
    from hivemon.model import Advisory


class OpeningReason(StrEnum):
    """Why something asked goes out as it is, or waits."""

    NO_ROBBERS = "no-robbers"
    OPENS_NOTHING = "opens-nothing"
    CANNOT_WAIT = "cannot-wait"
    ROBBERS_ABOUT = "robbers-about"


def judge_opening(*, robbers: bool, opens: bool, urgency: Urgency) -> Decision[bool, OpeningReason]:
    """Return whether something asked may go out, and why; `opens`: whether hives are opened for it."""
    reason, confidence = first_that_holds(
        (
            (not robbers, OpeningReason.NO_ROBBERS, 0.9),
            (not opens, OpeningReason.OPENS_NOTHING, 0.9),
            (urgency is Urgency.NOW, OpeningReason.CANNOT_WAIT, 0.8),
            (True, OpeningReason.ROBBERS_ABOUT, 0.8),
        ),
    )
    return Decision(reason is not OpeningReason.ROBBERS_ABOUT, reason, confidence)


def held_back(scene: Scene, wanted: Iterable[Advisory]) -> Iterator[Advisory]:
    """Pass on what is wanted; while a hive of the yard is robbed, what would open one waits.

    What was asked before says so; what is new is not asked until the robbers are gone. Either then gets a new day.
    """
    robbers = any(under_way(scene, hive.id) for hive in scene.hives)
    for advisory in wanted:
        decision = judge_opening(robbers=robbers, opens=_opens(scene, advisory), urgency=advisory.urgency)
        if decision.verdict or advisory.closed is not None:
            yield advisory
        elif scene.standing(advisory.id) is not None:
            yield msgspec.structs.replace(
                advisory,
                urgency=Urgency.FOR_INFORMATION,
                title=texts.WAITING[_topic(advisory)](_place(scene, advisory)),
                do=[texts.wait()],
                do_by=None,
            )


def _opens(scene: Scene, advisory: Advisory) -> bool:
    """Whether something asks for a hive to be opened; a cold brood nest is first looked at from outside."""
    if _topic(advisory) not in texts.WAITING or advisory.do_by is None:
        return False
    if _topic(advisory) == "brood":
        last = scene.last(Kind.BROOD_COLD, Kind.BROOD_UNSTABLE, hive=advisory.hive)
        return last is not None and last.kind is Kind.BROOD_UNSTABLE
    return advisory.urgency is not Urgency.FOR_INFORMATION


def _topic(advisory: Advisory) -> str:
    return advisory.id.partition(":")[0]


def _place(scene: Scene, advisory: Advisory) -> str:
    hive = next((h for h in scene.hives if h.id == advisory.hive), None)
    return scene.yard.title if hive is None else hive_name(hive)

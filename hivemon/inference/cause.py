"""Who or what made a step of the weight, and which steps are to be left out where the bees' own days are looked at."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from hivemon.signals.days import Jump

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.inference.steps import Step


class Cause(StrEnum):
    """Who or what made a step."""

    SWARM = "swarm"
    LOGGED = "logged"
    UNLOGGED = "unlogged"
    WEATHER = "weather"
    OFF_SCALE = "off-scale"
    FAULT = "fault"


def unnatural(steps: Iterable[Step]) -> list[Step]:
    """Return the steps that hands, swarms or faults made: those that are not the weather's."""
    return [step for step in steps if step.cause is not Cause.WEATHER]


def jumps(steps: Iterable[Step]) -> list[Jump]:
    """Return these steps as jumps, to be taken out of gains and habits."""
    return [Jump(step.before, step.after, step.size) for step in unnatural(steps)]

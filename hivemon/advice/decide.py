"""The registry of decisions, and all that is wanted of one yard at one moment.

A new decision is a function from a scene to advisories, added to `DECISIONS`; nothing else is touched.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from hivemon.advice import (
    between,
    brood,
    colonies,
    dearth,
    heat,
    mites,
    nest,
    opening,
    overdue,
    robbing,
    sensors,
    strength,
    supers,
    swarm,
    winter,
)
from hivemon.advice.words import speaking

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.model import Advisory

Decide = Callable[["Scene"], Iterable["Advisory"]]

DECISIONS: tuple[Decide, ...] = (
    sensors.off_scale,
    swarm.swarms,
    robbing.robbed,
    heat.hot_nests,
    dearth.feeding,
    supers.next_supers,
    nest.brood_nests,
    brood.brood,
    winter.winter_food,
    mites.counts,
    mites.rechecks,
    mites.reminder,
    winter.winter_stores,
    strength.weak_hives,
    colonies.winter_colonies,
    dearth.yard_dearth,
    supers.yard_flow,
    between.full_supers,
    sensors.faults,
    sensors.unlogged_steps,
)
"""In the order in which a beekeeper would want to hear them."""


def advise(scene: Scene) -> list[Advisory]:
    """Return what is wanted now: one advisory a condition, its id the condition's name.

    One that carries `closed` only gives the words to close with, if that condition is open. Feed the result to
    `lifecycle.reconcile`. Pure: the same scene gives the same list.
    """
    with speaking(scene.yard.language or "en"):
        wanted = opening.held_back(scene, (advisory for decide in DECISIONS for advisory in decide(scene)))
        return [overdue.as_of(advisory, scene) for advisory in wanted]

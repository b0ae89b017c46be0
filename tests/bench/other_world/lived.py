"""Lets the hives of a yard live through a season: bees first, then people and other beasts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from . import colony, forage, keeper, leaving, lid, nest, trouble
from .tracks import Tracks

if TYPE_CHECKING:
    from .clock import Array, Clock
    from .plan import HivePlan, YardPlan
    from .sky import Sky


@dataclass
class Lived:
    """A hive's season before any sensor.

    `robbed` is kg lost to robbers by then (below zero: robbed from others), slow grid; `kg` the true gross weight by
    the minute.
    """

    plan: HivePlan
    track: Tracks
    fare: forage.Fare
    nest: nest.Nest
    robbed: Array
    kg: Array = field(default_factory=lambda: np.zeros(0))


def live(plan: YardPlan, clock: Clock, sky: Sky, rng: np.random.Generator) -> list[Lived]:
    """Let all hives of a yard live through the season."""
    gain = forage.land(clock.days, plan.base, plan.blooms, rng)
    visits = keeper.rounds(plan, clock, sky, rng)
    laying = np.interp(np.linspace(0, 1, clock.days), np.linspace(0, 1, len(plan.laying)), plan.laying)
    hives = [_hive(plan, n, clock, sky, (gain, laying), visits, rng) for n in range(len(plan.hives))]
    _share_loot(hives, rng)
    water = lid.wet(clock, sky, rng)
    for n, hive in enumerate(hives):
        slow = hive.fare.stores - hive.fare.out - hive.robbed + water * rng.uniform(0.7, 1.4) - lid.strap(clock, rng)
        hive.kg = hive.plan.kg + clock.fast(slow)
        for visit in (v for v in visits if v.hive == n):
            keeper.handle(hive.track, visit, now(hive, visit.start), plan.keeper.rough, rng)
        lid.visitors(hive.track, sky, plan.lid_loads, rng)
    _carry(plan, clock, hives, rng)
    for hive in hives:
        hive.kg = np.maximum(hive.kg + hive.track.mass, rng.uniform(-0.2, 0.3))
    return hives


def now(hive: Lived, minute: int) -> float:
    """Return the gross kg of a hive at a minute, with what has befallen it so far."""
    return float(hive.kg[minute] + hive.track.mass[minute])


def _hive(
    plan: YardPlan,
    number: int,
    clock: Clock,
    sky: Sky,
    seasons: tuple[Array, Array],
    visits: list[keeper.Visit],
    rng: np.random.Generator,
) -> Lived:
    """Let one colony live: its swarms are fixed first, then its days, then its minutes. `seasons`: gain and laying."""
    mine = plan.hives[number]
    gain, laying = seasons
    track = Tracks.fresh(mine.name, clock)
    fly = forage.flight(sky, rng, plan.brave + rng.normal(0, 0.7))
    happens = trouble.changes(mine, clock.days, rng) + keeper.changes(visits, number, rng)
    seed = int(rng.integers(2**32))
    for wish in mine.swarms:
        there = colony.live(clock.days, mine.bees, laying, happens, np.random.default_rng(seed)).bees
        for order, (at, kg, change) in enumerate(leaving.plan_days(clock, sky, fly, wish, there, rng)):
            leaving.leave(track, at, kg, prime=order == 0, returns=wish.returns, rng=rng)
            happens.append(change)
    bees = colony.live(clock.days, mine.bees, laying, happens, np.random.default_rng(seed))
    fare = forage.forage(clock, sky, bees, gain * rng.uniform(0.85, 1.15), fly, rng)
    home = nest.keep(clock, sky, bees, trouble.hold(mine, clock, sky, rng), mine.clumsy, rng)
    trouble.poison(track, mine, bees.bees, rng)
    trouble.dwindle(track, mine, bees.bees, rng)
    return Lived(mine, track, fare, home, trouble.rob(track, mine, fly, rng))


def _share_loot(hives: list[Lived], rng: np.random.Generator) -> None:
    """Give the strong hives of a yard part of what was robbed from one of them, unless strangers took it."""
    for victim in hives:
        others = [h for h in hives if h is not victim and not h.plan.weak]
        if victim.robbed.max() <= 0 or not others or rng.random() < 0.3:
            continue
        shares = rng.dirichlet(np.ones(len(others))) * rng.uniform(0.2, 0.7)
        for other, share in zip(others, shares, strict=True):
            other.robbed = other.robbed - share * victim.robbed


def _carry(plan: YardPlan, clock: Clock, hives: list[Lived], rng: np.random.Generator) -> None:
    """Move the whole yard by night, swap hives between scales, tip some over."""
    for day in plan.keeper.moves:
        start, away = day * 1440 + int(rng.uniform(20, 23) * 60), int(rng.uniform(3, 11) * 60)
        for hive in hives:
            at = start + int(rng.integers(60))
            keeper.lift_off(hive.track, at, away + int(rng.integers(40)), now(hive, at), rng.normal(0, 0.7), rng)
    for _ in range(plan.keeper.swaps):
        a, b = rng.choice(len(hives), 2, replace=False)
        at = int(rng.uniform(0.15, 0.9) * clock.days) * 1440 + int(rng.uniform(8, 17) * 60)
        apart = now(hives[b], at) - now(hives[a], at)
        for hive, change in ((hives[a], apart), (hives[b], -apart)):
            keeper.lift_off(hive.track, at, int(rng.integers(6, 35)), now(hive, at), change, rng)
    for hive in hives:
        for fall in (t for t in hive.plan.troubles if t.kind == "tipped"):
            _tip(hive, fall.day * 1440 + int(rng.uniform(0, 24) * 60), rng)


def _tip(hive: Lived, at: int, rng: np.random.Generator) -> None:
    """Tip a hive off its scale until somebody comes by."""
    gross, away = now(hive, at), int(rng.uniform(3, 20) * 60)
    keeper.lift_off(hive.track, at, away, gross * rng.uniform(0.7, 1.0), rng.normal(0, 0.8), rng)
    hive.track.handling.pop()  # nobody did it
    hive.track.event("off-scale", at, at + away, gross, "kg", clear=True, note="tipped over")
    hive.track.event("brood-cold", at, at + away + 2880, 0, "Cel", clear=False, note="tipped over")

"""Families with rough scales and rough keepers: thermal drift, weekly feeding, carelessness.

Each family is a function of (seed, days or None, minutes between readings or None).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from .draw import (
    Wish,
    between,
    cheap_scale,
    last_flow_end,
    north,
    robbed,
    season,
    start,
    swarming,
    temperate,
    with_,
    yard_of,
)
from .forage import Land
from .plan import (
    ActPlan,
    FaultPlan,
    HivePlan,
    Keeper,
    Place,
    Probe,
    Sampling,
    Scenario,
)
from .weather import Climate

if TYPE_CHECKING:
    from .grid import Rng


def cheap_scales(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Five hives, strong and weak, on cheap scales: drift with warmth up to a kilogram a day, creep, spikes."""
    rng = start("cheap-scales", seed)
    days = days or 90
    place = Place("basin", "Basin", round(between(rng, (35, 43)), 2), round(between(rng, (-5, 24)), 2), "Europe/Athens")
    climate = Climate(
        mean=between(rng, (15, 17)),
        season=8.0,
        swing=between(rng, (12, 15)),
        cloud=0.25,
        showers=1.2,
        shower_mm=5.0,
        dryness=7.5,
        wind=3.2,
    )
    land = season(rng, days, Wish(2, lead=(9, 18), kg=(1.2, 2.8)))
    hives = [
        with_(
            h,
            scale=cheap_scale(rng),
            probe=Probe(power_on=0.0008, disconnected=0.0005, offset=float(rng.normal(0, 0.5))),
        )
        for h in swarming(rng, yard_of(rng, "b", 5, weak=2), 6, 30, 0.3)
    ]
    hives[0] = with_(hives[0], faults=(FaultPlan("spikes", 5, days - 5, "weight", 0.003),))
    hives[1] = with_(
        hives[1],
        faults=(
            FaultPlan("stuck", between(rng, (20, 60)), 2.5, "temperature"),
            FaultPlan("noisy", between(rng, (20, 60)), 4, "weight", 350),
        ),
    )
    if land.lean:
        hives = robbed(rng, hives, land.lean[0][0] + 5, 0.5)
    return Scenario(
        "cheap-scales",
        place,
        date(2024, 4, 26),
        days,
        climate,
        land,
        tuple(hives),
        Keeper(inspect_every=12, missing=0.15, late=0.8, rough=0.15, blank=0.4),
        Sampling(interval or 10, gaps=0.03, gap_hours=3, jitter=20, battery=True),
    )


def _desert_hives(rng: Rng, days: int) -> list[HivePlan]:
    """Eight hives on cheap scales; some are moved, split, loaded or re-levelled without a word in the logbook."""
    hives = [
        with_(h, scale=cheap_scale(rng), stores=between(rng, (5, 9)), busy=between(rng, (1.0, 1.8)))
        for h in yard_of(rng, "r", 8, weak=2, bees=(14000, 30000))
    ]
    # Two stand on metal in the full sun: the scale falls while foragers leave, kilograms by noon and back at night.
    for i in (0, 3):
        scale = replace(
            hives[i].scale, thermal=-between(rng, (24, 30)), sun_on_cell=between(rng, (0.022, 0.03)), paint=0.1
        )
        hives[i] = with_(hives[i], scale=scale, bees=between(rng, (26000, 34000)), busy=between(rng, (1.4, 1.9)))
    hives[2] = with_(
        hives[2],
        acts=(
            ActPlan("moved", int(days * 0.3), 8.0, logged=False),
            ActPlan("split", int(days * 0.5), 11.5, 3, logged=False),
        ),
    )
    hives[4] = with_(
        hives[4],
        acts=(
            ActPlan("lid-load", int(days * 0.2), 9.0, 5.0, hours=60.0),
            ActPlan("relevel", int(days * 0.6), 12.2, -1.4),
        ),
    )
    return hives


def desert_fed(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Eight hives in a hot desert: fed every week, handled, cloudbursts, swings of kilograms a day, no swarm."""
    rng = start("desert-fed", seed)
    days = days or 120
    place = Place(
        "mesa", "Mesa", round(between(rng, (30, 34)), 2), -round(between(rng, (105, 113)), 2), "America/Phoenix"
    )
    climate = Climate(
        mean=between(rng, (20, 22)),
        season=between(rng, (8.5, 10)),
        swing=between(rng, (14, 17)),
        cloud=0.22,
        showers=1.3,
        shower_mm=9.0,
        dryness=11.0,
        wind=2.8,
        fronts=1.6,
    )
    hives = _desert_hives(rng, days)
    keeper = Keeper(
        inspect_every=7,
        supers=False,
        feed_every=7,
        feed_kg=between(rng, (1.5, 3.5)),
        syrup_sugar=0.5,
        missing=0.3,
        surprises=0.008,
    )
    return Scenario(
        "desert-fed",
        place,
        date(2024, 6, 1),
        days,
        climate,
        Land(background=between(rng, (0.1, 0.35)), spread=0.3),
        tuple(hives),
        keeper,
        Sampling(interval or 5, gaps=0.02, gap_hours=5),
    )


def careless(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Six hives and a careless keeper: unlogged work, gaps, wrong clocks, re-zeroed scales, shuffled hives."""
    rng = start("careless", seed)
    days = days or 90
    land = season(rng, days, Wish(1, lead=(9, 25)))
    hives = swarming(rng, yard_of(rng, "c", 6, weak=1), 8, 40, 0.35)
    hives[0] = with_(
        hives[0],
        faults=(FaultPlan("clock", between(rng, (10, 40)), 2.0, "all", float(rng.choice([-1.0, 1.0, 5.0, -7.0]))),),
        acts=(ActPlan("scale-reset", int(days * 0.4), 16.0, between(rng, (-9, 9)), logged=False),),
    )
    hives[1] = with_(
        hives[1], faults=(FaultPlan("off-scale", between(rng, (30, 60)), between(rng, (0.2, 2.0)), "weight", 0.4),)
    )
    hives[2] = with_(
        hives[2],
        acts=(
            ActPlan("split", int(days * 0.3), 12.0, 4, logged=False),
            ActPlan("moved", int(days * 0.55), 10.0, logged=False),
        ),
    )
    hives[3] = with_(
        hives[3],
        faults=(FaultPlan("low-battery", between(rng, (50, 70)), 6, "all"),),
        acts=(ActPlan("feed", int(days * 0.7), 17.0, 4.0, logged=False),),
    )
    hives[4] = with_(
        hives[4],
        acts=(
            ActPlan("super-off", int(days * 0.6), 11.0, logged=False),
            ActPlan("lid-load", int(days * 0.45), 18.0, 6.0, hours=200.0),
        ),
    )
    swap = (round(days * between(rng, (0.5, 0.75))) + 0.45, "c1", "c5")
    return Scenario(
        "careless",
        north(rng, "corner"),
        date(2024, 5, 1),
        days,
        temperate(rng),
        land,
        tuple(hives),
        Keeper(
            inspect_every=10,
            missing=0.55,
            late=2.0,
            rough=0.3,
            blank=0.6,
            surprises=0.01,
            harvest_day=last_flow_end(land) + 6,
        ),
        Sampling(
            interval or 10, duplicates=0.01, late=0.02, gaps=0.05, gap_hours=6, jitter=45, battery=True, offset_hours=2
        ),
        swaps=(swap,),
    )

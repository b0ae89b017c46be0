"""Families on ordinary scales: swarms, flows, heat, quiet, and a long season with everything.

Each family is a function of (seed, days or None, minutes between readings or None).
"""

from __future__ import annotations

from datetime import date

from .draw import (
    Wish,
    between,
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
    Keeper,
    NestPlan,
    Place,
    Sampling,
    Scenario,
)
from .weather import Climate, HeatWave


def spring_swarms(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Six hives in spring; most swarm, some swarms come back, some are followed by afterswarms."""
    rng = start("spring-swarms", seed)
    days = days or 60
    hives = swarming(rng, yard_of(rng, "w", 6, bees=(17000, 27000)), 8, max(days - 25, 10), 0.7)
    hives[0] = with_(
        hives[0], acts=(ActPlan("split", int(days * 0.4), between(rng, (11, 14)), float(rng.integers(2, 5))),)
    )
    return Scenario(
        "spring-swarms",
        north(rng, "woodside"),
        date(2024, 4, 25),
        days,
        temperate(rng),
        season(rng, days, Wish(1, lead=(8, 30), dearth=False)),
        tuple(hives),
        Keeper(inspect_every=between(rng, (8, 13)), missing=0.05),
        Sampling(interval or 5),
    )


def flow_dearth_robbing(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Five hives in summer: a flow or two, dearth after each, and robbing of the weakest in it."""
    rng = start("flow-dearth-robbing", seed)
    days = days or 85
    land = season(rng, days, Wish(2, lead=(8, 14), length=(12, 22)))
    hives = yard_of(rng, "f", 5, weak=int(rng.integers(1, 3)), bees=(24000, 36000))
    lean = land.lean[0]
    return Scenario(
        "flow-dearth-robbing",
        north(rng, "fallow"),
        date(2024, 6, 8),
        days,
        temperate(rng),
        land,
        tuple(robbed(rng, hives, lean[0] + between(rng, (4, 10)))),
        Keeper(inspect_every=12, harvest_day=last_flow_end(land) + 5, feed_below=3.0),
        Sampling(interval or 10),
    )


def heat_wave_brood(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Four hives in a hot dry summer: a colony or two lose control in the heat; one is queenless."""
    rng = start("heat-wave-brood", seed)
    days = days or 60
    wave, long = between(rng, (14, 24)), between(rng, (5, 10))
    climate = Climate(
        mean=between(rng, (14, 16)),
        season=8.5,
        swing=between(rng, (11, 14)),
        cloud=0.2,
        showers=0.8,
        dryness=8.0,
        fronts=1.8,
        heat=(HeatWave(wave, long, between(rng, (5, 8))),),
    )
    hives = yard_of(rng, "t", 4)
    hives[0] = with_(hives[0], nest=(NestPlan("overheat", wave + 1, long - 1.5, between(rng, (0.8, 1.0))),))
    if rng.random() < 0.5:
        hives[1] = with_(hives[1], nest=(NestPlan("overheat", wave + 2, 3, between(rng, (0.7, 1.0))),))
    hives[2] = with_(hives[2], nest=(NestPlan("queenless", between(rng, (4, 9)), between(rng, (25, 45))),))
    place = Place(
        "terrace", "Terrace", round(between(rng, (36, 42)), 2), round(between(rng, (-6, 16)), 2), "Europe/Rome"
    )
    return Scenario(
        "heat-wave-brood",
        place,
        date(2024, 6, 12),
        days,
        climate,
        Land(background=0.45, spread=0.12),
        tuple(hives),
        Keeper(inspect_every=12, supers=False),
        Sampling(interval or 10),
    )


def nothing_happens(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Four hives that neither gain nor lose much: weather, noise, some logged handling, a thing on a lid; no events."""
    rng = start("nothing-happens", seed)
    days = days or 60
    climate = temperate(rng)
    hives = yard_of(rng, "n", 4, bees=(24000, 30000))
    hives[1] = with_(hives[1], acts=(ActPlan("lid-load", int(days * 0.5), 15.0, 3.0, hours=20.0),))
    return Scenario(
        "nothing-happens",
        north(rng, "nook"),
        date(2024, 6, 5),
        days,
        climate,
        Land(background=0.46, spread=0.1),
        tuple(hives),
        Keeper(inspect_every=11, supers=False, mite_wash_every=28),
        Sampling(interval or 5),
    )


def long_season(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Ten hives from April to October: swarms, flows, dearths, robbing, brood troubles, faults, late rows."""
    rng = start("long-season", seed)
    days = days or 180
    climate = temperate(rng)
    wave = between(rng, (85, 110))
    climate = Climate(**{**vars(climate), "heat": (HeatWave(wave, 6, between(rng, (6, 8))),)})
    land = season(rng, days, Wish(3, lead=(18, 30), length=(14, 24), kg=(1.6, 3.2)))
    hives = swarming(rng, yard_of(rng, "k", 10, weak=2, bees=(15000, 24000)), 18, 60, 0.45)
    hives[1] = with_(hives[1], nest=(NestPlan("overheat", wave + 1, 4.5),))
    hives[2] = with_(hives[2], nest=(NestPlan("queenless", between(rng, (70, 110)), 200),), swarms=())
    hives[3] = with_(
        hives[3],
        faults=(
            FaultPlan("stuck", between(rng, (30, 120)), 3.0),
            FaultPlan("power-on", between(rng, (30, 120)), 0.5, "temperature", 0.3),
        ),
    )
    hives[4] = with_(hives[4], faults=(FaultPlan("gap", between(rng, (40, 140)), between(rng, (0.5, 3)), "all"),))
    hives[5] = with_(hives[5], acts=(ActPlan("split", 30, 12.5, 3), ActPlan("moved", 70, 17.0)))
    hives[6] = with_(
        hives[6], faults=(FaultPlan("drift", between(rng, (40, 120)), 20, "weight", between(rng, (80, 200))),)
    )
    if land.lean:
        hives = robbed(rng, hives, land.lean[0][0] + 6)
    return Scenario(
        "long-season",
        north(rng, "kingsfield"),
        date(2024, 4, 12),
        days,
        climate,
        land,
        tuple(hives),
        Keeper(inspect_every=12, harvest_day=last_flow_end(land) + 4, missing=0.05, feed_below=5, mite_wash_every=30),
        Sampling(interval or 5, duplicates=0.002, late=0.003, gaps=0.01),
    )

"""Families that lack something: one hive only, the other hemisphere, few readings, no outside sensor, late winter.

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
    Keeper,
    NestPlan,
    Place,
    Sampling,
    Scenario,
)
from .weather import Climate, HeatWave


def single_hive(seed: int, days: int | None, interval: float | None) -> Scenario:
    """One hive alone: a flow, a dearth, perhaps a swarm; no neighbour to compare with."""
    rng = start("single-hive", seed)
    days = days or 90
    land = season(rng, days, Wish(2, lead=(9, 25)))
    hives = swarming(rng, yard_of(rng, "a", 1), 8, 35, 0.6)
    return Scenario(
        "single-hive",
        north(rng, "alcove"),
        date(2024, 4, 28),
        days,
        temperate(rng),
        land,
        tuple(hives),
        Keeper(inspect_every=13, missing=0.1),
        Sampling(interval or 10, gaps=0.02),
    )


def southern(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Five hives in the southern hemisphere, October to January: swarms, a flow, a dearth."""
    rng = start("southern", seed)
    days = days or 95
    place = Place(
        "saltbush",
        "Saltbush",
        -round(between(rng, (31, 43)), 2),
        round(between(rng, (138, 176)), 2),
        "Australia/Sydney",
    )
    climate = Climate(
        mean=between(rng, (12.5, 16)),
        season=between(rng, (5, 7.5)),
        swing=between(rng, (10, 13)),
        cloud=0.38,
        showers=1.6,
        heat=(HeatWave(between(rng, (55, 75)), 4, between(rng, (5, 8))),),
    )
    land = season(rng, days, Wish(2, lead=(10, 20)))
    hives = swarming(rng, yard_of(rng, "s", 5, weak=1), 6, 40, 0.5)
    return Scenario(
        "southern",
        place,
        date(2024, 10, 3),
        days,
        climate,
        land,
        tuple(hives),
        Keeper(inspect_every=11, harvest_day=last_flow_end(land) + 5),
        Sampling(interval or 10),
    )


def hourly(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Five hives read once an hour, one stretch every half hour: swarms, a flow, a dearth, robbing."""
    rng = start("hourly", seed)
    days = days or 110
    land = season(rng, days, Wish(2, lead=(9, 20)))
    hives = swarming(rng, yard_of(rng, "h", 5, weak=1), 8, 45, 0.5)
    if land.lean:
        hives = robbed(rng, hives, land.lean[0][0] + 5, 0.7)
    minutes = interval or 60
    return Scenario(
        "hourly",
        north(rng, "hollow"),
        date(2024, 4, 22),
        days,
        temperate(rng),
        land,
        tuple(hives),
        Keeper(inspect_every=12),
        Sampling(minutes, changes=((days * 0.6, minutes / 2), (days * 0.75, minutes))),
    )


def no_outside_sensor(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Four hives and nothing outside: rain, heat and drift must be told from the hives alone."""
    rng = start("no-outside-sensor", seed)
    days = days or 80
    land = season(rng, days, Wish(1, lead=(9, 25)))
    hives = swarming(rng, yard_of(rng, "d", 4), 6, 30, 0.4)
    kind = str(rng.choice(["queenless", "chill"]))
    length = between(rng, (3, 7)) if kind == "chill" else between(rng, (25, 60))
    hives[1] = with_(
        hives[1], nest=(NestPlan(kind, between(rng, (20, 35)), length, between(rng, (0.7, 1.0))),), swarms=()
    )
    return Scenario(
        "no-outside-sensor",
        north(rng, "dell"),
        date(2024, 5, 3),
        days,
        temperate(rng),
        land,
        tuple(hives),
        Keeper(inspect_every=10, missing=0.05),
        Sampling(interval or 15),
        outside=False,
    )


def snowy_spring(seed: int, days: int | None, interval: float | None) -> Scenario:
    """Four hives from late winter on: snow on the lids, no flight for days, brood beginning, feeding."""
    rng = start("snowy-spring", seed)
    days = days or 70
    climate = Climate(
        mean=between(rng, (5.0, 7.5)),
        season=between(rng, (8.0, 10.0)),
        swing=between(rng, (8, 11)),
        cloud=0.55,
        fronts=3.2,
        showers=2.5,
        shower_mm=4.0,
        dryness=3.5,
    )
    hives = [
        with_(h, bees=between(rng, (9000, 15000)), stores=between(rng, (5, 12)), supers=0) for h in yard_of(rng, "e", 4)
    ]
    hives[2] = with_(hives[2], nest=(NestPlan("chill", between(rng, (35, 50)), between(rng, (3, 6)), 0.9),))
    land = Land(background=0.4, blooms=(), lean=())
    return Scenario(
        "snowy-spring",
        north(rng, "edge", (47.0, 60.0)),
        date(2024, 2, 22),
        days,
        climate,
        land,
        tuple(hives),
        Keeper(inspect_every=21, supers=False, feed_below=5.0, feed_kg=2.0),
        Sampling(interval or 10),
    )

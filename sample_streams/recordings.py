"""The four committed recordings, each a fixed scenario with a fixed seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from .forage import Bloom, Land
from .plan import HivePlan, Keeper, NestPlan, Place, Probe, RobPlan, Sampling, Scale, Scenario, SwarmPlan
from .weather import Climate, HeatWave
from .writer import write

FOLDER = Path(__file__).parent / "recordings"


@dataclass(frozen=True)
class Fixed:
    """A committed recording: its scenario, its seed and one line about it."""

    scenario: Scenario
    seed: int
    about: str


def orchard_swarm() -> Scenario:
    """Three hives in spring: a flow begins after a week, one hive swarms on a fine late morning."""
    hives = (
        HivePlan(
            "o1",
            bees=24000,
            stores=13,
            laying=1650,
            swarms=(SwarmPlan(13, 0.5, share=0.74, nest="rise"),),
            scale=Scale(noise=6, thermal=2.0, lid=0.24),
        ),
        HivePlan("o2", bees=27000, stores=15, laying=1600, scale=Scale(noise=7, thermal=-3.0, film=0.3)),
        HivePlan(
            "o3",
            bees=17000,
            stores=10,
            laying=1400,
            vigour=0.9,
            scale=Scale(noise=6, thermal=4.0, lid=0.22),
            probe=Probe(offset=-0.2),
        ),
    )
    climate = Climate(
        mean=10.8,
        season=7.0,
        swing=10.5,
        cloud=0.45,
        showers=2.0,
        clear_days=((12.0, 15.0), (6.0, 9.0)),
        heat=(HeatWave(7, 12, 3.0),),
    )
    land = Land(background=0.42, blooms=(Bloom(7.0, 30, 2.9, rise=1.5, sugar=0.36),))
    return Scenario(
        "orchard-swarm",
        Place("orchard", "Orchard", 51.2, 3.4, "Europe/Brussels"),
        date(2025, 5, 2),
        26,
        climate,
        land,
        hives,
        Keeper(inspect_every=9, late=0.5),
        Sampling(5),
    )


def heath_flow() -> Scenario:
    """Four hives in late summer: a heather flow, then a dearth in which the weakest hive is robbed."""
    hives = (
        HivePlan("h1", bees=36000, stores=14, laying=1500, supers=1),
        HivePlan("h2", bees=32000, stores=12, laying=1450, supers=1, scale=Scale(thermal=5, noise=9)),
        HivePlan(
            "h3",
            bees=11000,
            stores=11,
            laying=1100,
            weak=True,
            vigour=0.75,
            brood_boxes=1,
            robbed=(RobPlan(50, 3, 0.17, hour=9.5),),
        ),
        HivePlan("h4", bees=34000, stores=13, laying=1500, supers=1, scale=Scale(thermal=-6, film=0.35)),
    )
    climate = Climate(mean=10.0, season=7.5, swing=10.5, cloud=0.45, showers=1.8)
    land = Land(background=0.42, blooms=(Bloom(8, 26, 2.4, rise=2.0, fall=3.0, sugar=0.33),), lean=((36, 75),))
    return Scenario(
        "heath-flow",
        Place("heath", "Heath", 52.6, 9.9, "Europe/Berlin"),
        date(2025, 7, 12),
        66,
        climate,
        land,
        hives,
        Keeper(inspect_every=14, harvest_day=41, feed_below=2.0),
        Sampling(10, battery=False),
    )


def hillside_heat() -> Scenario:
    """Three hives on a dry hillside: in a heat wave one of them loses its water and its brood."""
    hives = (
        HivePlan("s1", bees=30000, stores=16, laying=1300),
        HivePlan("s2", bees=21000, stores=12, laying=1200, nest=(NestPlan("overheat", 19, 6.0, 0.9),)),
        HivePlan("s3", bees=26000, stores=14, laying=1250, scale=Scale(thermal=6)),
    )
    climate = Climate(
        mean=15.0, season=8.5, swing=12.0, cloud=0.2, showers=0.8, dryness=8.0, fronts=1.8, heat=(HeatWave(18, 8, 6.5),)
    )
    land = Land(background=0.42, spread=0.15)
    return Scenario(
        "hillside-heat",
        Place("hillside", "Hillside", 38.1, -3.6, "Europe/Madrid"),
        date(2025, 6, 24),
        42,
        climate,
        land,
        hives,
        Keeper(inspect_every=12, supers=False),
        Sampling(10),
    )


def meadow_quiet() -> Scenario:
    """Three hives for six weeks in which nothing happens: weather, noise and ordinary logged handling."""
    hives = (
        HivePlan("m1", bees=26000, stores=12, laying=1300, supers=1),
        HivePlan("m2", bees=24000, stores=12, laying=1250, scale=Scale(thermal=-4, noise=10)),
        HivePlan("m3", bees=29000, stores=14, laying=1350, supers=1, scale=Scale(thermal=7, film=0.4)),
    )
    climate = Climate(mean=9.8, season=7.5, swing=10.0, cloud=0.5, showers=2.2)
    return Scenario(
        "meadow-quiet",
        Place("meadow", "Meadow", 50.4, 12.2, "Europe/Berlin"),
        date(2025, 6, 20),
        42,
        climate,
        Land(background=0.45, spread=0.1),
        hives,
        Keeper(inspect_every=11, supers=False),
        Sampling(15),
    )


ALL = {
    "orchard-swarm": Fixed(
        orchard_swarm(), 4, "3 hives, 26 days, every 5 minutes: a flow begins, one swarm, logged handling"
    ),
    "heath-flow": Fixed(heath_flow(), 1, "4 hives, 66 days, every 10 minutes: a flow, then a dearth with robbing"),
    "hillside-heat": Fixed(hillside_heat(), 6, "3 hives, 42 days, every 10 minutes: brood failure in a heat wave"),
    "meadow-quiet": Fixed(
        meadow_quiet(), 1, "3 hives, 42 days, every 15 minutes: nothing happens, some logged handling"
    ),
}


def make(name: str, folder: Path) -> dict[str, int]:
    """Make one committed recording below `folder`; KeyError for an unknown name."""
    fixed = ALL[name]
    return write(fixed.scenario, fixed.seed, folder / name, level=9)

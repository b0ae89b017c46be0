"""Simulated yards that the tests of the generator share, made once."""

from datetime import date

import pytest
from streams_yards import scenario

from sample_streams.forage import Bloom, Land
from sample_streams.plan import HivePlan, NestPlan, SwarmPlan
from sample_streams.yard import simulate


@pytest.fixture(scope="session")
def flow_yard():
    """A yard in a strong flow, one hive strong, one weak."""
    land = Land(background=0.45, blooms=(Bloom(-5, 60, 3.0, sugar=0.35),))
    return simulate(
        scenario([HivePlan("a", bees=32000), HivePlan("b", bees=10000, laying=900, weak=True)], land=land), 1
    )


@pytest.fixture(scope="session")
def dearth_yard():
    """A yard in a summer dearth."""
    land = Land(background=0.45, lean=((-20, 90),))
    return simulate(scenario([HivePlan("a", bees=32000, stores=25)], land=land, first=date(2024, 7, 1)), 2)


@pytest.fixture(scope="session")
def brood_yard():
    """A hive with brood, one that lost its queen before the start of the recording's second week, one that swarmed."""
    hives = [
        HivePlan("good", bees=28000),
        HivePlan("lost", bees=28000, nest=(NestPlan("queenless", 2, 200),)),
        HivePlan("left", bees=24000, swarms=(SwarmPlan(8, share=0.75, nest="none"),)),
    ]
    return simulate(scenario(hives, days=60), 3)

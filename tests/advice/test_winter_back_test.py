"""The winter's advice against arithmetic of its own, in short (whole: tests/bench/bench_winter.py)."""

from __future__ import annotations

import importlib
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from advice_scenes import scene

from hivemon.advice.climate import winter_target
from hivemon.advice.overwinter import lasts
from hivemon.advice.season import last_feeding
from hivemon.config import YardSettings

BENCH = Path(__file__).parents[1] / "bench"


@pytest.fixture(scope="module")
def bench():
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(BENCH))
        yield importlib.import_module("bench_winter")


@pytest.fixture(scope="module", params=["mild", "temperate", "north"])
def winters(bench, request):
    """Six winters of a climate, from far too little food to enough, and what was said in each."""
    total = sum(bench.KG_A_MONTH[request.param])
    courses = [bench.winter(request.param, total * share, 900 + i) for i, share in enumerate((0.6, 0.75, 0.9, 1.5))]
    return [(course, bench.follow(course)) for course in courses]


def test_food_that_ends_is_told_two_weeks_ahead(winters):
    ended = [(course.ends, found.alarm) for course, found in winters if course.ends is not None]
    assert len(ended) >= 2
    assert all(alarm is not None and alarm <= end - 14 for end, alarm in ended)


def test_a_hive_with_half_as_much_again_is_left_alone(winters):
    course, found = winters[-1]
    assert course.ends is None
    assert found.alarm is None or course.food[found.alarm] < 7.0


def test_winter_use_is_near_what_is_eaten(winters):
    """December and January: within 20 g a day, what damp wood and dying bees can hide over six weeks (our rule)."""
    off = [abs(own - true) for _, found in winters for own, true in found.use if true > 0]
    assert sorted(off)[len(off) // 2] <= 0.02


@pytest.mark.parametrize(
    ("latitude", "longitude", "climate", "most"),
    [(51.2, 3.4, "temperate", 25.0), (53.0, 18.0, "north", 25.0), (38.0, 23.7, "mild", 18.0)],
)
def test_the_target_covers_the_winter_and_the_reserve_below_which_one_feeds(bench, latitude, longitude, climate, most):
    """What is eaten from October to March and 5 kg (extension, memory), and no more than the source that says most."""
    yard = YardSettings(id="orchard", latitude=latitude, longitude=longitude, timezone="UTC")
    target = winter_target(scene(yard=yard))
    assert sum(bench.KG_A_MONTH[climate]) + 5.0 <= target.kg <= most
    assert max(source.high for source in target.sources) == most


@pytest.mark.parametrize(
    ("latitude", "longitude", "cool"),
    [(52.1, 5.2, date(2026, 10, 14)), (44.9, -93.2, date(2026, 10, 14)), (33.7, -84.4, date(2026, 11, 30))],
    ids=["De Bilt", "Minneapolis", "Atlanta"],
)
def test_feeding_ends_while_days_still_are_mild(latitude, longitude, cool):
    """`cool`: mean daily highs fall below 15 °C (normals of 1991-2020, from memory, good to some days)."""
    yard = YardSettings(id="orchard", latitude=latitude, longitude=longitude, timezone="UTC")
    last = datetime.fromtimestamp(last_feeding(scene(yard=yard)) / 1000, UTC).date()
    assert -3 <= (cool - last).days <= 31


def test_food_lasts_what_is_left_over_the_use_until_brood_begins():
    """Early in December at 51 degrees: 2 kg at 50 g a day are gone in 40 days, before late winter."""
    december = scene(now=int(datetime(2026, 12, 1, 12, tzinfo=UTC).timestamp() * 1000))
    assert lasts(december, 2.0, 0.05) == pytest.approx(40.0)
    assert lasts(december, 0.0, 0.05) == 0.0


def test_late_winter_shortens_what_midwinter_promises():
    """5 kg at 50 g a day are 100 days by division; 61 days go before brood begins, and then the use rises 2.7 times."""
    december = scene(now=int(datetime(2026, 12, 3, 12, tzinfo=UTC).timestamp() * 1000))
    assert 75.0 < lasts(december, 5.0, 0.05) < 90.0


def test_what_is_seen_late_in_winter_is_not_raised_again():
    """On 20 March the use seen over six weeks has most of the rise in it."""
    march = scene(now=int(datetime(2026, 3, 20, 12, tzinfo=UTC).timestamp() * 1000))
    assert 25.0 < lasts(march, 5.0, 0.13) < 5.0 / 0.13
    assert lasts(march, 500.0, 0.13) == 366.0

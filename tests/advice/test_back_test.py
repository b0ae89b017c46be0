"""The back-test in short: two seasons of a rare visitor and one of a beekeeper who never feeds (whole: tests/bench).

Limits here are wide, because few cases make few figures; the bench prints those of many seasons.
"""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

BENCH = Path(__file__).parents[1] / "bench"


@pytest.fixture(scope="module")
def bench():
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(BENCH))
        yield importlib.import_module("bench_advice")


@pytest.fixture(scope="module")
def rare(bench, tmp_path_factory):
    """Figures of two seasons in which supers fill before the beekeeper comes by."""
    total, store = bench.Figures(), tmp_path_factory.mktemp("rare")
    for name, seed in (("flow-dearth-robbing", 400), ("southern", 401)):
        bench.add(total, bench.figures_of(bench.season(name, seed, store, habit="rare", defaults=False)))
    return total


def test_dates_for_supers_are_near_the_true_need(rare):
    assert rare.needs >= 4
    assert rare.missed == 0
    assert sum(abs(off) <= 2 for off in rare.off) >= 0.6 * rare.needs


def test_no_super_is_asked_for_after_its_hive_is_full(rare):
    assert rare.too_late == 0
    assert set(rare.first_supers) <= {"in time"}


def test_stores_are_estimated_within_two_kilos(rare):
    """Tare known; the morning of every hive day whose scale and boxes are the hive's own."""
    assert len(rare.stores) > 500
    assert sum(abs(error) <= 2 for error in rare.stores) >= 0.7 * len(rare.stores)


def test_nobody_is_asked_to_feed_with_supers_on_or_in_a_flow(rare):
    assert rare.fed_wrongly == 0


def test_an_advisory_a_hive_week_is_the_most(rare):
    assert rare.raised <= rare.hive_days / 7


def test_a_hungry_hive_is_announced_a_week_ahead(bench, tmp_path):
    figures = bench.figures_of(bench.season("desert-fed", 202, tmp_path, habit="unfed", defaults=False))
    assert figures.emergencies > 0
    assert figures.announced == figures.emergencies
    assert figures.fed_wrongly == 0

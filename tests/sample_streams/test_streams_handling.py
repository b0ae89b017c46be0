"""What the beekeeper does, what the readings show of it, and what the logbook says."""

import csv
import io
from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest
from streams_yards import scenario

from sample_streams.forage import Bloom, Land
from sample_streams.grid import DAY, rng_for
from sample_streams.plan import ActPlan, HivePlan, Keeper
from sample_streams.record import holders, record, scale_of
from sample_streams.writer import logbook_text
from sample_streams.yard import simulate

ENTRIES = {
    "inspect",
    "super-on",
    "super-off",
    "harvest",
    "feed",
    "split",
    "combine",
    "requeen",
    "mite-wash",
    "treat",
    "scale-reset",
    "moved",
    "swarm-seen",
    "note",
}
QUIET = Keeper(inspect_every=0, supers=False, feed_below=-1)


def yard_with(*orders, keeper=QUIET, days=16, **hive):
    """A yard of one hive with ordered handling."""
    return simulate(scenario([HivePlan("a", acts=orders, **hive)], days=days, keeper=keeper), 4)


def jump(yard, act):
    """Kg by which the true weight is higher a minute after an act than a minute before it."""
    at = yard.weight_at("a", np.array([act.start - 60, act.end + 60]).astype(np.int64), yard.colonies["a"].life.weight)
    return at[1] - at[0]


@pytest.mark.parametrize(
    ("order", "low", "high"),
    [
        (ActPlan("super-on", 5), 6.4, 8.1),  # medium super with drawn frames 6.5-8 kg (extension, from memory)
        (ActPlan("feed", 5, kg=5.0), 4.8, 5.1),
        (ActPlan("split", 5, kg=3), -7.0, -3.5),  # 3 frames of 1.9-2.8 kg against empty ones
        (ActPlan("lid-load", 5, kg=4.0, hours=8), 3.9, 4.1),
        (ActPlan("relevel", 5, kg=-0.4), -0.5, -0.3),
        (ActPlan("inspect", 5), -0.4, 0.4),
        (ActPlan("combine", 5), 12.8, 17.2),
        (ActPlan("moved", 5), -1.3, 1.3),
    ],
)
def test_an_act_changes_the_weight_for_good_by_what_it_should(order, low, high):
    yard = yard_with(order)
    act = yard.colonies["a"].life.acts[0]
    assert act.kg == pytest.approx(jump(yard, act), abs=0.15)
    assert low <= jump(yard, act) <= high


def test_a_harvest_takes_boxes_and_honey():
    land = Land(background=0.45, blooms=(Bloom(0, 30, 3.0),))
    hive = HivePlan("a", supers=2, bees=30000, acts=(ActPlan("harvest", 14),))
    yard = simulate(scenario([hive], days=20, land=land, keeper=QUIET), 4)
    act = next(a for a in yard.colonies["a"].life.acts if a.action == "harvest")
    stores = yard.colonies["a"].life.stores
    assert act.kg < -2 * 7.2
    assert stores[14] < stores[13] - 3
    assert stores[14] - stores[13] == pytest.approx(act.kg + 2 * 7.2, abs=4)


def test_while_the_lid_is_off_the_weight_is_chaos_and_the_nest_cools_and_dries():
    yard = yard_with(ActPlan("inspect", 5))
    life = yard.colonies["a"].life
    act = life.acts[0]
    t = np.arange(act.start, act.end, 60).astype(np.int64)
    weight = yard.weight_at("a", t, life.weight)
    before = np.array([act.start - 300]).astype(np.int64)
    assert weight.min() < yard.weight_at("a", before, life.weight)[0] - 1.0
    assert np.abs(np.diff(weight)).max() > 0.4
    warm, damp = yard.nest_at("a", np.array([act.start - 300, act.end, act.end + 5 * 3600]).astype(np.int64))
    assert -8 < warm[1] - warm[0] < -0.15
    assert warm[2] == pytest.approx(warm[0], abs=0.8)
    assert -30 < damp[1] - damp[0] < -4


@pytest.mark.parametrize(("sugar", "most"), [(0.5, 0.64), (0.667, 0.86)])
def test_syrup_settles_to_no_more_than_its_sugar_allows(sugar, most):
    """1 kg of 1:1 settles to at most 0.64 kg, 2:1 to at most 0.86 (derived), over days, not hours."""
    yard = yard_with(ActPlan("feed", 3, kg=4.0), keeper=replace(QUIET, syrup_sugar=sugar))
    act = yard.colonies["a"].life.acts[0]
    assert 0.45 * 4 < act.kg + act.settles <= most * 4
    effects = yard.colonies["a"].life.weight
    t = np.array([act.end + 60, act.end + 6 * 3600, act.end + 9 * DAY]).astype(np.int64)
    course = yard.weight_at("a", t, effects) - yard.weight_at("a", t, [])
    assert course[1] > 0.9 * course[0]
    assert course[2] == pytest.approx(act.kg + act.settles, abs=0.15)


def logbook(yard, seed=4):
    """Logbook rows as dicts."""
    return list(csv.DictReader(io.StringIO(logbook_text(yard, seed))))


def test_the_logbook_has_known_entries_numbers_and_times():
    yard = yard_with(
        ActPlan("treat", 3),
        ActPlan("feed", 4, kg=3),
        ActPlan("requeen", 6),
        keeper=Keeper(inspect_every=4, mite_wash_every=12),
        days=30,
    )
    rows = logbook(yard)
    assert {r["entry"] for r in rows} <= ENTRIES
    assert {"treat", "feed", "requeen", "inspect", "mite-wash"} <= {r["entry"] for r in rows}
    for row in rows:
        assert datetime.fromisoformat(row["time"]).tzinfo is not None
        assert row["amount"] == "" or float(row["amount"]) >= 0
        assert (row["note"] == "bees=300") == (row["entry"] == "mite-wash")
    assert rows == sorted(rows, key=lambda r: r["time"])


def test_a_careful_keeper_writes_all_at_about_the_hour_and_a_careless_one_forgets_and_errs():
    """Logbook times are right to about an hour (the contract of the file)."""
    orders = tuple(ActPlan("feed", d, kg=4.0) for d in range(2, 60))
    careful = yard_with(*orders, keeper=replace(QUIET, late=0.5, missing=0.0, rough=0.05, blank=0.0), days=62)
    careless = yard_with(*orders, keeper=replace(QUIET, late=2.0, missing=0.5, rough=0.3, blank=0.5), days=62)
    good, bad = logbook(careful), logbook(careless)
    assert len(good) == len(orders)
    assert len(bad) < 0.75 * len(orders)
    starts = sorted(a.start for a in careful.colonies["a"].life.acts)
    off = [datetime.fromisoformat(r["time"]).timestamp() - s for r, s in zip(good, starts, strict=True)]
    assert np.median(np.abs(off)) < 3600
    assert all(r["amount"] for r in good)
    assert sum(not r["amount"] for r in bad) > 0.2 * len(bad)


def test_what_no_logbook_word_fits_is_never_logged():
    yard = yard_with(ActPlan("lid-load", 3, kg=5, hours=4), ActPlan("relevel", 6, kg=0.5))
    assert [a.action for a in sorted(yard.colonies["a"].life.acts, key=lambda a: a.start)] == [
        "lid-load",
        "lid-unload",
        "relevel",
    ]
    assert logbook(yard) == []


def test_an_unknown_order_is_refused_by_name():
    with pytest.raises(ValueError, match="unknown handling 'paint' for hive a; known: super-on"):
        yard_with(ActPlan("paint", 3))


def test_hives_that_change_places_change_the_weight_of_both_scales():
    """What stands on the first scale after the swap is what stood on the second."""
    hives = [HivePlan("a", bees=30000, stores=25), HivePlan("b", bees=9000, stores=5, weak=True)]
    yard = simulate(scenario(hives, days=12, swaps=((6.5, "a", "b"),), first=date(2024, 6, 1)), 3)
    weight = {s.hive: s for s in record(yard, 3).series if s.quantity == "weight"}
    at = yard.grid.start + 6.5 * DAY
    before = {h: s.values[s.said < at][-1] for h, s in weight.items()}
    after = {h: s.values[s.said > at][0] for h, s in weight.items()}
    assert after["a"] == pytest.approx(before["b"], abs=0.4)
    assert after["b"] == pytest.approx(before["a"], abs=0.4)
    assert abs(before["a"] - before["b"]) > 15


def test_after_two_swaps_each_colony_stands_where_it_was_last_put():
    """a and b change places, then b's place and c's: the colony of a ends on the scale of c."""
    hives = [HivePlan("a", stores=30), HivePlan("b", stores=15), HivePlan("c", stores=2)]
    yard = simulate(scenario(hives, days=12, swaps=((4.5, "a", "b"), (8.5, "b", "c"))), 3)
    at = {h: [c for _, _, c in holders(yard, h)] for h in "abc"}
    assert at == {"a": ["a", "b"], "b": ["b", "a", "c"], "c": ["c", "a"]}
    late = yard.grid.start + 11 * DAY
    assert [scale_of(yard, c, late) for c in "abc"] == ["c", "a", "b"]
    assert [scale_of(yard, c, yard.grid.start + 5 * DAY) for c in "abc"] == ["b", "a", "c"]


def test_visits_fall_on_days_with_flight():
    yard = yard_with(keeper=Keeper(inspect_every=5), days=40)
    inspected = [a for a in yard.colonies["a"].life.acts if a.action == "inspect"]
    assert len(inspected) >= 4
    for act in inspected:
        assert yard.forage.hours[int((act.start - yard.grid.start) // DAY)] > 1.0


def test_generators_with_different_names_do_not_share_their_draws():
    assert rng_for(1, "a").random() != rng_for(1, "b").random()
    assert rng_for(1, "a").random() == rng_for(1, "a").random()

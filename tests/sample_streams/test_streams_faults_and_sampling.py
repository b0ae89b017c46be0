"""Sensor faults, sampling, late and doubled rows, clocks: what a readings file may hold, and what it does hold."""

from datetime import date

import numpy as np
import pytest

from sample_streams.faults import NAMES, Signals, apply
from sample_streams.grid import DAY, HOUR, Grid, rng_for
from sample_streams.plan import FaultPlan, Sampling
from sample_streams.sampling import arrivals, dropouts, sample_times
from sample_streams.sensor import NOT_FOUND, POWER_ON

GRID = Grid.at(date(2024, 6, 1), 4.0, 20)


def signals():
    """Five-minute readings of 20 days with a little noise."""
    t = GRID.t[:-1]
    rng = rng_for(9)
    values = {
        "weight": 50 + rng.normal(0, 0.01, len(t)),
        "temperature": 34.5 + rng.normal(0, 0.1, len(t)),
        "battery": np.full(len(t), 4.0),
    }
    return Signals(t, t.copy(), values, {q: np.ones(len(t), dtype=bool) for q in values})


def faulty(fault, day=5.0, days=2.0, quantity="weight", size=0.0):
    """(signals after the fault, signals before, mask of the rows within it)."""
    after, before = signals(), signals()
    apply(rng_for(1), GRID.start, FaultPlan(fault, day, days, quantity, size), after)
    within = (before.t >= GRID.start + day * DAY) & (before.t < GRID.start + (day + days) * DAY)
    return after, before, within


def test_stuck_repeats_the_first_value_and_only_while_it_lasts():
    after, before, within = faulty("stuck")
    assert np.ptp(after.values["weight"][within]) == 0
    assert np.array_equal(after.values["weight"][~within], before.values["weight"][~within])


def test_spikes_are_single_wild_values_at_the_rate_asked_for():
    after, before, within = faulty("spikes", size=0.05, days=10)
    off = np.abs(after.values["weight"] - before.values["weight"])
    assert not off[~within].any()
    assert (off[within] > 2.9).mean() == pytest.approx(0.05, abs=0.015)
    assert ((off[within] == 0) | (off[within] > 2.9)).all()


def test_power_on_values_are_85_and_minus_127():
    after, before, within = faulty("power-on", quantity="temperature", size=0.3)
    changed = after.values["temperature"][after.values["temperature"] != before.values["temperature"]]
    assert set(changed) == {POWER_ON, NOT_FOUND} == {85.0, -127.0}
    assert len(changed) / within.sum() == pytest.approx(0.3, abs=0.06)


def test_drift_grows_by_the_day_and_stays():
    after, before, within = faulty("drift", size=100)
    off = after.values["weight"] - before.values["weight"]
    assert off[within][-1] == pytest.approx(0.2, abs=0.01)
    assert off[-1] == pytest.approx(0.2, abs=0.01)


def test_a_jump_stays():
    after, before, within = faulty("jump", size=-3.0)
    off = after.values["weight"] - before.values["weight"]
    first = int(np.argmax(within))
    assert not off[:first].any()
    assert np.allclose(off[first:], -3.0)


def test_noise_a_gap_a_low_battery_and_a_hive_off_its_scale():
    noisy, before, within = faulty("noisy", size=300)
    assert noisy.values["weight"][within].std() == pytest.approx(0.3, rel=0.15)
    gap, _, _ = faulty("gap", quantity="all")
    assert not any(sent[within].any() for sent in gap.sent.values())
    assert all(sent[~within].all() for sent in gap.sent.values())
    one, _, _ = faulty("gap", quantity="temperature")
    assert one.sent["weight"].all()
    assert not one.sent["temperature"][within].any()
    low, _, _ = faulty("low-battery")
    assert low.values["battery"][within].min() < 3.2
    assert 0.25 < 1 - low.sent["weight"][within].mean() < 0.35
    off, _, _ = faulty("off-scale", size=0.4)
    assert off.values["weight"][within].max() < 0.5
    assert off.values["weight"][~within].min() > before.values["weight"].min() - 1


@pytest.mark.parametrize("hours", [1.0, -7.0, 5.0])
def test_a_wrong_clock_shifts_the_stamps_and_not_the_values(hours):
    after, before, within = faulty("clock", size=hours)
    assert (after.said - before.t)[within].tolist() == [hours * HOUR] * within.sum()
    assert not (after.said - before.t)[~within].any()
    assert np.array_equal(after.values["weight"], before.values["weight"])


def test_an_unknown_fault_is_refused_with_the_known_ones():
    with pytest.raises(ValueError, match="unknown fault 'melted'; known are stuck, gap"):
        faulty("melted")
    assert len(set(NAMES)) == 10


@pytest.mark.parametrize("minutes", [1, 5, 15, 60])
def test_sampling_keeps_its_interval_from_1_to_60_minutes(minutes):
    t = sample_times(rng_for(1), GRID, Sampling(minutes))
    assert set(np.diff(t)) == {minutes * 60}
    assert len(t) == pytest.approx(20 * 1440 / minutes, abs=1)


def test_sampling_may_change_in_mid_stream():
    t = sample_times(rng_for(1), GRID, Sampling(60, changes=((5, 10), (9, 30))))
    day = (t[1:] - GRID.start) / DAY
    assert set(np.diff(t)[day < 4.9]) == {3600}
    assert set(np.diff(t)[(day > 5.1) & (day < 8.9)]) == {600}
    assert set(np.diff(t)[day > 9.1]) == {1800}


def test_jitter_keeps_times_sorted_and_single():
    t = sample_times(rng_for(1), GRID, Sampling(1, jitter=50))
    assert (np.diff(t) > 0).all()
    assert len(set(np.diff(t))) > 10


def test_every_row_arrives_some_twice_none_more_than_a_day_late():
    """The readings file allows duplicates and rows unsorted by up to a day (the contract)."""
    t = GRID.t[:-1]
    rows, arrival = arrivals(rng_for(2), Sampling(5, duplicates=0.05, late=0.1, late_hours=40), t)
    assert set(rows) == set(range(len(t)))
    assert (len(rows) - len(t)) / len(t) == pytest.approx(0.05, abs=0.01)
    delay = arrival - t[rows]
    assert delay.min() >= 0
    assert delay.max() <= 23 * HOUR
    assert (delay[: len(t)] > 0).mean() == pytest.approx(0.1, abs=0.015)


def test_without_ills_rows_arrive_once_and_in_time():
    t = GRID.t[:-1]
    rows, arrival = arrivals(rng_for(2), Sampling(5), t)
    assert np.array_equal(rows, np.arange(len(t)))
    assert np.array_equal(arrival, t)


def test_dropouts_are_told():
    t = GRID.t[:-1]
    keep, gaps = dropouts(rng_for(3), GRID, Sampling(5, gaps=0.5, gap_hours=4), t)
    told = np.zeros(len(t), dtype=bool)
    for start, end in gaps:
        told |= (t >= start) & (t < end)
    assert gaps
    assert np.array_equal(~keep, told)

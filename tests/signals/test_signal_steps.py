"""Changes of level: the gate, and the segmentation against a slow exact one."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.model import HOUR, MINUTE, Series
from hivemon.signals import steps
from hivemon.signals.clean import noise
from hivemon.signals.moves import gate
from hivemon.signals.steps import find_change

START = 1_700_000_000_000 // MINUTE * MINUTE


def weights(values, minutes: int = 5) -> Series:
    time = START + np.arange(len(values), dtype=np.int64) * minutes * MINUTE
    return Series(time, np.asarray(values, float))


def noisy(levels, counts, sd: float = 0.02, seed: int = 1):
    rng = np.random.default_rng(seed)
    return np.repeat(levels, counts) + rng.normal(0, sd, sum(counts))


def found(window: Series, opened: int, quiet: float):
    """Find a change on a scale that is on other days as quiet as in the hours before."""
    return find_change(window, opened, quiet, window)


def exact_levels(scaled: np.ndarray, penalty: float) -> list[int]:
    """Cut a series into levels by trying every cut: the optimal partition of Jackson et al. 2005, in O(n²) steps."""
    n = len(scaled)
    total, square = np.concatenate(([0], np.cumsum(scaled))), np.concatenate(([0], np.cumsum(scaled**2)))
    best, cut = np.full(n + 1, math.inf), np.zeros(n + 1, int)
    best[0] = -penalty
    for end in range(1, n + 1):
        first = np.arange(end)
        cost = square[end] - square[first] - (total[end] - total[first]) ** 2 / (end - first)
        candidates = best[:end] + cost + penalty
        cut[end] = int(np.argmin(candidates))
        best[end] = candidates[cut[end]]
    bounds = [n]
    while bounds[0] > 0:
        bounds.insert(0, int(cut[bounds[0]]))
    return bounds[1:]


@given(
    st.lists(st.tuples(st.floats(-6, 6), st.integers(3, 15)), min_size=1, max_size=5),
    st.integers(0, 10_000),
)
def test_the_fast_segmentation_finds_what_an_exact_search_finds(parts, seed):
    """The gated search and a slow exact one cost the same: the same squares and the same number of levels."""
    scaled = noisy([level for level, _ in parts], [n for _, n in parts], sd=1.0, seed=seed)
    penalty = 4 * math.log(len(scaled)) + 6

    def cost(bounds):
        edges = [0, *bounds]
        inside = sum(float(np.sum((scaled[a:b] - scaled[a:b].mean()) ** 2)) for a, b in itertools.pairwise(edges))
        return inside + penalty * (len(bounds) - 1)

    assert cost(steps._breakpoints(scaled)) == pytest.approx(cost(exact_levels(scaled, penalty)), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("cut", range(1, 40, 7))
def test_the_gate_says_the_same_however_the_stream_is_cut(cut):
    """What the gate says of a reading depends on readings before it alone."""
    series = weights(noisy([40, 38, 41], [20, 10, 10]))
    whole = gate(series, 0, 0.4).tolist()
    first = gate(Series(series.time[:cut], series.value[:cut]), 0, 0.4).tolist()
    rest = gate(series, cut, 0.4).tolist()
    assert first + rest == whole


def test_the_gate_is_shut_on_a_quiet_night_and_a_busy_day_of_foraging():
    """Eating, noise within OIML R 60 C3 limits (47 g) and half a kilogram an hour of nectar do not wake the search."""
    night = 40 - 0.02 * np.arange(288) / 12 + np.random.default_rng(2).normal(0, 0.047, 288)
    assert not len(gate(weights(night), 0, 0.4))
    nectar = 40 + 0.5 * np.arange(96) / 12 + np.random.default_rng(3).normal(0, 0.03, 96)
    assert not len(gate(weights(nectar), 0, 0.4))


def test_a_loss_is_measured_to_its_noise_and_dated_to_the_reading():
    """A swarm of 2.1 kg leaving over two readings is found as that, between the readings around it."""
    values = np.concatenate((noisy([45.0], [30]), [44.2, 43.3], noisy([42.9], [8], seed=4)))
    series = weights(values)
    change = found(series, int(series.time[30]), noise(series.value[:30]))
    assert change is not None
    assert change.size == pytest.approx(-2.1, abs=0.05)
    assert change.before == series.time[29]
    assert change.after == series.time[32]
    assert not change.abrupt
    assert change.overshoot == 0.0


def test_what_was_lifted_and_put_back_is_seen_as_overshoot():
    """An inspection leaves the level where it was and the path far from it."""
    values = np.concatenate((noisy([45.0], [30]), [38.0, 31.0, 39.5, 33.0, 47.0], noisy([44.9], [8], seed=5)))
    series = weights(values)
    change = found(series, int(series.time[30]), noise(series.value[:30]))
    assert change is None or change.overshoot > 5.0


def test_steady_foraging_is_no_change():
    """The trend before is taken off: half a kilogram an hour going on is no step."""
    series = weights(40 + 0.5 * np.arange(48) / 12 + np.random.default_rng(6).normal(0, 0.02, 48))
    change = found(series, int(series.time[40]), noise(series.value[:40]))
    assert change is None or abs(change.size) < 0.2


STRONG_FLOW = [85.7, 85.8, 85.7, 85.7, 85.6, 85.7, 85.7, 85.8, 85.9, 86.1, 86.4, 86.6, 86.5, 86.7, 86.8, 86.8]
"""A strong colony's afternoon on a scale of 100 g, every quarter of an hour; invented."""


@pytest.mark.parametrize("now", [12, 13, 14])
def test_nectar_that_comes_in_fast_is_no_step(now):
    """A rise as steady before and after is no step, however far two levels lie apart."""
    change = found(weights(STRONG_FLOW[:now], 15), START + 10 * 15 * MINUTE, 0.07)
    assert change is None or change.gradual or abs(change.size) < 0.4


@pytest.mark.parametrize("kg", [-25.0, -1.5, 0.8, 6.0])
@pytest.mark.parametrize("minutes", [1, 5, 15, 60])
def test_what_hands_or_a_swarm_move_is_a_step_at_any_sampling(kg, minutes):
    """A straight line fits it worse, or rises faster than nature."""
    values = noisy([45.0, 45.0 + kg], [24, 6])
    change = found(weights(values, minutes), START + 24 * minutes * MINUTE, 0.03)
    assert change is not None
    assert not change.gradual
    assert change.largest == pytest.approx(kg, abs=0.15)


FLOW_BY_THE_HOUR = [50.6, 50.6, 50.7, 50.8, 51.17, 51.52, 51.83, 52.16, 49.12, 49.44, 49.69, 49.92]
"""A swarm of three kilograms leaves while a third of a kilogram of nectar comes in an hour; invented."""


@pytest.mark.parametrize("now", [10, 11, 12])
def test_a_swarm_in_a_flow_is_dated_to_its_hour(now):
    """No two hourly readings are of one level: what came in between is no change, nor what comes in after."""
    change = found(weights(FLOW_BY_THE_HOUR[:now], 60), START + 8 * HOUR, 0.03)
    assert change is not None
    assert (change.before, change.after) == (START + 7 * HOUR, START + 8 * HOUR)
    assert change.size == pytest.approx(-3.04, abs=0.2)
    assert change.overshoot < 0.1
    assert not change.restless


def test_an_hour_by_hour_wander_does_not_add_up_to_a_step():
    """What goes in a large move and comes back in smaller ones has gone nowhere."""
    day = np.tile([0.0, -0.7, -0.45, -0.2, 0.0, 0.25, 0.45, 0.2], 3)
    change = found(weights(45 + day, 60), START + 17 * HOUR, 0.2)
    assert change is None or abs(change.size) < 0.5


@pytest.mark.parametrize(("per_reading", "underway"), [((-0.12,), 0), ((-0.5,), 1), ((-0.6, -0.7), 2)])
def test_foragers_leaving_before_a_thing_is_taken_off_are_no_swarm_underway(per_reading, underway):
    """What two or three foragers a second may take by the next reading is no part of what left after it."""
    values = np.concatenate((noisy([45.0], [24]), 45.0 + np.cumsum(per_reading), noisy([41.0], [6], seed=2)))
    change = found(weights(values, 10), START + 240 * MINUTE, 0.02)
    assert change is not None
    assert change.underway == underway


@pytest.mark.parametrize("minutes", [1, 5, 15])
def test_wind_is_told_from_what_a_swarm_moves_itself(minutes):
    """Gusts shake the readings before and after; bees pouring out do not, however the readings fall."""
    calm = np.concatenate(
        (noisy([45.0], [24]), 45.0 - np.cumsum([0.1, 0.5, 0.9, 0.3, 0.2]), noisy([43.0], [6], seed=2))
    )
    gusts = np.concatenate((np.zeros(14), np.random.default_rng(3).normal(0, 0.3, len(calm) - 14)))
    for value, windy in ((calm, False), (calm + gusts, True)):
        change = found(weights(value, minutes), START + 25 * minutes * MINUTE, 0.03)
        assert change is not None
        assert change.windy is windy
        assert change.restless is windy
    gale = weights(45.0 + np.random.default_rng(5).normal(0, 0.3, 36) - np.repeat([0.0, 3.0], [30, 6]), minutes)
    blowing_for_hours = find_change(gale, START + 30 * minutes * MINUTE, 0.3, weights(noisy([45.0], [200], 0.03)))
    assert blowing_for_hours is not None
    assert blowing_for_hours.windy


def test_half_an_hour_of_rain_is_no_trend():
    """What a shower laid on in half an hour does not go on: its end is no loss."""
    values = np.concatenate((35.0 + 0.025 * np.arange(8), noisy([35.2], [12], seed=3)))
    change = found(weights(values), START + 40 * MINUTE, 0.03)
    assert change is None or abs(change.size) < 0.25


def test_readings_of_an_open_hive_are_no_measure_of_a_scales_noise():
    """Two readings of an open hive before thirteen kilograms come on: told by the noise of the hours before."""
    values = [29.5, 29.1, 35.0, 29.5, 42.7, 42.8, 42.9, 42.9]
    change = found(weights(values, 10), START + 40 * MINUTE, 0.09)
    assert change is not None
    assert change.size == pytest.approx(13.4, abs=0.2)


def test_a_lone_spike_is_no_change():
    """One bad reading in cheap electronics is passed over."""
    values = noisy([45.0], [40])
    values[33] = 12.0
    series = weights(values)
    change = found(series, int(series.time[33]), noise(series.value[:33]))
    assert change is None or abs(change.size) < 0.1


def test_no_change_is_found_in_four_readings_or_fewer():
    """There is nothing to compare with."""
    assert found(weights([40.0, 38.0]), START, 0.0) is None


def test_two_hours_hold_the_longest_trend():
    """The trend is read before the gate only, so that a loss never counts as its own trend."""
    series = weights(np.concatenate((noisy([45.0], [24]), noisy([43.0], [24], seed=7))))
    assert abs(steps._trend(series, START + 2 * HOUR - 1)) < 0.1

"""Values no sensor means, spikes, noise, intervals."""

from __future__ import annotations

import numpy as np
import pytest

from hivemon.model import HOUR, MINUTE, Quantity, Series
from hivemon.signals.clean import interval, level, noise, plausible, without_spikes
from hivemon.signals.hours import hourly_mean, hourly_sum
from hivemon.signals.steps import NOISE_FLOOR_KG


def series(values, minutes: float = 5) -> Series:
    return Series((np.arange(len(values)) * minutes * MINUTE).astype(np.int64), np.asarray(values, float))


@pytest.mark.parametrize("value", [85.0, -127.0])
def test_power_on_values_of_common_probes_are_dropped(value):
    """85.0 before the first conversion and -127 when disconnected: data sheets of common digital probes."""
    assert plausible(Quantity.TEMPERATURE, series([34.5, value, 34.6])).value.tolist() == [34.5, 34.6]


@pytest.mark.parametrize(
    ("quantity", "impossible"),
    [(Quantity.WEIGHT, 900.0), (Quantity.WEIGHT, -40.0), (Quantity.HUMIDITY, 140.0), (Quantity.RAIN, -1.0)],
)
def test_the_impossible_is_dropped(quantity, impossible):
    """What cannot be true of a hive or its yard is no reading."""
    assert len(plausible(quantity, series([impossible, 50.0])).value) == 1


def test_eighty_five_kilograms_are_a_fine_weight():
    """The power-on value of a thermometer is an honest value of a scale."""
    assert plausible(Quantity.WEIGHT, series([85.0])).value.tolist() == [85.0]


def test_one_and_two_bad_readings_are_taken_out_and_a_step_stays():
    """Spikes go; a super put on does not."""
    spiky = [40.0] * 5 + [12.0] + [40.0] * 5 + [70.0, 70.0] + [40.0] * 5
    assert set(without_spikes(series(spiky), 0.3).value.tolist()) == {40.0}
    stepped = [40.0] * 6 + [46.0] * 6
    assert without_spikes(series(stepped), 0.3).value.tolist() == stepped


def test_noise_is_that_of_the_scale_and_not_of_the_bees():
    """Differences cancel slow change and the median forgives steps."""
    rng = np.random.default_rng(1)
    values = 40 + np.linspace(0, 3, 500) + 6 * (np.arange(500) > 250) + rng.normal(0, 0.03, 500)
    assert noise(values) == pytest.approx(0.03, rel=0.15)
    assert noise(values[:2]) == 0.0


def test_the_noise_floor_lies_within_a_c3_cell():
    """Between research use, 30 g (Meikle et al. 2005), and the error band of a 200 kg C3 cell.

    The band is 0.7 x 1 v at n = 3000, between 33 and 133 kg: 47 g (DERIVED from OIML R 60-1, 5.3.2).
    """
    band = 0.7 * 200 / 3000
    assert band == pytest.approx(0.0467, abs=1e-4)
    assert 0.03 <= NOISE_FLOOR_KG <= band


@pytest.mark.parametrize("minutes", [1, 5, 15, 60])
def test_the_interval_is_the_usual_one_whatever_gaps_there_are(minutes):
    """A gap of a day is no sampling interval; a change of sampling is followed within its newest readings."""
    time = np.concatenate((np.arange(20), np.arange(300, 340))) * minutes * MINUTE
    assert interval(time.astype(np.int64)) == minutes * MINUTE
    assert interval(np.array([0], np.int64)) == HOUR


def test_hourly_means_and_sums_say_where_nothing_was():
    """An empty hour has no mean, and no rain."""
    readings = Series(np.array([0, 30 * MINUTE, 2 * HOUR], np.int64), np.array([1.0, 3.0, 5.0]))
    means = hourly_mean(readings, 0, 3)
    assert means[0] == 2.0
    assert np.isnan(means[1])
    assert hourly_sum(readings, 0, 3).tolist() == [4.0, 0.0, 5.0]
    assert level(readings, HOUR, 2 * HOUR) is None

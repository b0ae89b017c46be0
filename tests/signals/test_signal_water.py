"""Water on the hives, taken off daily gains."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.signals.water import FILM_KG, lack_of_vapour, left_of_rain, without_water

DAY, NIGHT = [True] * 14, [False] * 10
UNKNOWN = float("nan")


@pytest.mark.parametrize(
    ("rain", "hours", "least", "most"),
    [
        ([1.0, *[0.0] * 5], NIGHT[:6], 0.12, 0.25),  # a millimetre at night: 0.25 kg on 0.25 m2, and half there at dawn
        ([12.0, *[0.0] * 9], NIGHT, 0.1, FILM_KG),  # a downpour runs off
        ([*[0.0] * 9, 12.0], NIGHT, 0.3, FILM_KG),
        ([2.0, *[0.0] * 13], DAY, 0.0, 0.0),  # a shower in the morning has dried by dusk
        ([0.0] * 14, DAY, 0.0, 0.0),
    ],
)
def test_what_rain_leaves_depends_on_when_it_fell(rain, hours, least, most):
    """Geometry: 1 mm on 0.25 m2 is 0.25 kg; water and wood hold 0.1 to 1 kg; a summer's day dries 3 mm and more."""
    assert least <= left_of_rain(rain, hours, [UNKNOWN] * len(hours)) <= most


def test_a_dry_day_takes_off_what_penman_finds_for_open_water():
    """3 to 5 mm a day (Penman 1948, from memory) are 0.75 to 1.25 kg on 0.25 m2: more than a film, so all is gone."""
    assert left_of_rain([0.0] * 24, DAY + NIGHT, [UNKNOWN] * 24, held=0.7) == 0.0
    assert left_of_rain([0.0] * 10, NIGHT, [UNKNOWN] * 10, held=0.3) == pytest.approx(0.15, abs=0.02)


@pytest.mark.parametrize(
    ("celsius", "saturated"), [(1.0, 0.657), (10.0, 1.228), (20.0, 2.338), (30.0, 4.243), (40.0, 7.376)]
)
def test_saturated_air_holds_what_the_table_says(celsius, saturated):
    """Saturation vapour pressure, kPa: Allen et al. (1998), FAO Irrigation and Drainage Paper 56, table 2.3."""
    lack = lack_of_vapour(np.array([celsius] * 3), np.array([0.0, 50.0, 103.0]))
    assert lack == pytest.approx([saturated, saturated / 2, 0.0], abs=0.001)


@pytest.mark.parametrize(
    ("celsius", "humidity", "light", "least", "most"),
    [
        (8.0, 92.0, DAY, 0.0, 0.05),  # a cool, damp April day: hardly dry by dusk
        (8.0, 97.0, NIGHT, 0.28, 0.32),  # and nothing dries by night
        (28.0, 25.0, NIGHT, 0.0, 0.0),  # a desert dries by night as well
        (-2.0, 90.0, NIGHT, 0.28, 0.32),
    ],
)
def test_how_fast_a_hive_dries_is_up_to_the_air(celsius, humidity, light, least, most):
    """A full film: Penman (1948, from memory) has 0.26 mm a day for each hPa the air lacks, more in wind."""
    hours = len(light)
    lack = lack_of_vapour(np.full(hours, celsius), np.full(hours, humidity))
    assert least <= left_of_rain([0.0] * hours, light, lack, held=FILM_KG) <= most


@given(st.lists(st.floats(0, 50), max_size=72), st.floats(0, 1))
def test_a_hive_never_holds_less_than_nothing_nor_more_than_its_film(rain, held):
    """Whatever falls, and whatever lay there before."""
    light, lack = [n % 24 < 14 for n in range(len(rain))], [0.0, 2.0, UNKNOWN] * len(rain)
    assert 0.0 <= left_of_rain(rain, light, lack[: len(rain)], held) <= max(FILM_KG, held)


@given(st.floats(-1, 3), st.integers(1, 30), st.sampled_from([0.0, 0.3]))
def test_steady_gains_of_dry_days_stay_what_they_are(gain, days, before):
    """Where every day says the same and none is wet, there is nothing to take off but what dries on the first."""
    found, doubt = without_water([gain] * days, [0.0] * days, before=before)
    assert found[1:] == pytest.approx(np.full(days - 1, gain), abs=0.03 + before / 2)
    assert (doubt > 0).all()


def test_a_shower_in_a_dearth_is_neither_gain_nor_loss():
    """Half a kilogram of rain comes and dries off: the days around tell how much of it was there."""
    true = np.full(9, -0.2)
    water = np.array([0, 0, 0, 0.5, 0, 0, 0, 0, 0])
    measured = true + water - np.concatenate(([0], water[:-1]))
    found, _ = without_water(measured.tolist(), np.where(water > 0, 0.3, 0.0).tolist())
    assert np.abs(found - true).max() < 0.12
    assert np.abs(measured - true).max() == pytest.approx(0.5)


def test_a_flow_that_begins_on_a_dry_day_is_left_as_it_is():
    """Where no water explains it, a rise of a kilogram stays one."""
    measured = [0.0, 0.05, 0.0, 1.0, 1.1, 0.9]
    found, _ = without_water(measured, [0.0] * 6)
    assert np.abs(found - measured).max() < 0.15


def test_the_newest_day_is_in_doubt_while_it_is_wet():
    """How much of today's gain is water shows only when it has dried."""
    _, wet = without_water([0.1] * 5, [0.0] * 4 + [0.3])
    _, dry = without_water([0.1] * 5, [0.0] * 5)
    assert wet[-1] > 2 * dry[-1]


def test_a_stretch_may_begin_wet():
    """Rain of the day before dries off on the first."""
    found, _ = without_water([-0.5, 0.0, 0.0, 0.0], [0.0] * 4, before=0.3)
    assert found[0] > -0.3


def test_rain_that_no_gauge_told_of_is_found_by_its_drying():
    """A rise that the next day takes back is water, though nobody saw it fall; and less is sure than with a gauge."""
    measured = [-0.2, -0.2, 0.1, -0.5, -0.2, -0.2]
    found, unsure = without_water(measured, [0.0] * 6, gauged=[False] * 6)
    told, sure = without_water(measured, [0.0] * 6)
    assert np.abs(found + 0.2).max() < 0.12 < np.abs(told + 0.2).max()
    assert (unsure > sure).all()


def test_a_flows_first_and_last_day_are_not_smoothed_away():
    """Gains leap by kilograms when a flow ends; showers on those days take a tenth of that off at most."""
    true = np.array([0.0, 0.0, 2.0, 2.2, 1.9, -0.1, 0.0])
    found, _ = without_water(true.tolist(), [0.0, 0.3, 0.0, 0.0, 0.3, 0.0, 0.0])
    assert np.abs(found - true).max() < 0.35


def test_more_than_water_can_weigh_stays_on_its_day():
    """Four and a half kilograms are a step overlooked, or a flow: nothing of it is laid upon the next day."""
    measured = [-0.2, -0.2, -0.3, 4.5, -0.2, -0.1]
    found, _ = without_water(measured, [0.0, 0.3, 0.3, 0.3, 0.0, 0.0])
    assert found[4] < 0.35
    assert found[3] > 4.0

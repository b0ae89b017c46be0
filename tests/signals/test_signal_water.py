"""Water on the hives, taken off daily gains."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.signals.water import without_water


@given(st.floats(-1, 3), st.integers(1, 30), st.booleans())
def test_steady_gains_of_dry_days_stay_what_they_are(gain, days, began_wet):
    """Where every day says the same and none is wet, there is nothing to take off but what dries on the first."""
    found, doubt = without_water([gain] * days, [False] * days, began_wet=began_wet)
    assert found[1:] == pytest.approx(np.full(days - 1, gain), abs=0.03 + 0.2 * began_wet)
    assert (doubt > 0).all()


def test_a_shower_in_a_dearth_is_neither_gain_nor_loss():
    """Half a kilogram of rain comes and dries off: the days around tell how much of it was there."""
    true = np.full(9, -0.2)
    water = np.array([0, 0, 0, 0.5, 0, 0, 0, 0, 0])
    measured = true + water - np.concatenate(([0], water[:-1]))
    found, _ = without_water(measured.tolist(), (water > 0).tolist())
    assert np.abs(found - true).max() < 0.12
    assert np.abs(measured - true).max() == pytest.approx(0.5)


def test_a_flow_that_begins_on_a_dry_day_is_left_as_it_is():
    """Where no water explains it, a rise of a kilogram stays one."""
    measured = [0.0, 0.05, 0.0, 1.0, 1.1, 0.9]
    found, _ = without_water(measured, [False] * 6)
    assert np.abs(found - measured).max() < 0.15


def test_the_newest_day_is_in_doubt_while_it_is_wet():
    """How much of today's gain is water shows only when it has dried."""
    _, wet = without_water([0.1] * 5, [False] * 4 + [True])
    _, dry = without_water([0.1] * 5, [False] * 5)
    assert wet[-1] > 2 * dry[-1]


def test_a_stretch_may_begin_wet():
    """Rain of the day before dries off on the first."""
    found, _ = without_water([-0.5, 0.0, 0.0, 0.0], [False] * 4, began_wet=True)
    assert found[0] > -0.3


def test_rain_that_no_gauge_told_of_is_found_by_its_drying():
    """A rise that the next day takes back is water, though nobody saw it fall; and less is sure than with a gauge."""
    measured = [-0.2, -0.2, 0.1, -0.5, -0.2, -0.2]
    found, unsure = without_water(measured, [False] * 6, gauged=[False] * 6)
    told, sure = without_water(measured, [False] * 6)
    assert np.abs(found + 0.2).max() < 0.12 < np.abs(told + 0.2).max()
    assert (unsure > sure).all()


def test_a_flows_first_and_last_day_are_not_smoothed_away():
    """Gains leap by kilograms when a flow ends; showers on those days take a tenth of that off at most."""
    true = np.array([0.0, 0.0, 2.0, 2.2, 1.9, -0.1, 0.0])
    found, _ = without_water(true.tolist(), [False, True, False, False, True, False, False])
    assert np.abs(found - true).max() < 0.35


def test_more_than_water_can_weigh_stays_on_its_day():
    """Four and a half kilograms are a step overlooked, or a flow: nothing of it is laid upon the next day."""
    measured = [-0.2, -0.2, -0.3, 4.5, -0.2, -0.1]
    found, _ = without_water(measured, [False, True, True, True, False, False])
    assert found[4] < 0.35
    assert found[3] > 4.0

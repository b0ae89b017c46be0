"""Conversions at the edge against published constants, and the limits of what a sensor can mean."""

import math

import pytest

from hivemon.errors import Unusable
from hivemon.intake.units import LIMITS, can_convert, check_limits, to_own_unit
from hivemon.model import UNITS, Quantity


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "expected"),
    [
        # NIST Special Publication 811, appendix B: 1 lb (avoirdupois) = 0.45359237 kg exactly
        (1.0, "lb", Quantity.WEIGHT, 0.45359237),
        (100.0, "lb", Quantity.WEIGHT, 45.359237),
        (250.0, "g", Quantity.WEIGHT, 0.25),
        (41_237.0, "g", Quantity.WEIGHT, 41.237),
        # NIST Special Publication 811, appendix B: t/degC = (t/degF - 32)/1.8; water boils at 212, freezes at 32,
        # both scales meet at -40
        (212.0, "degF", Quantity.TEMPERATURE, 100.0),
        (32.0, "degF", Quantity.TEMPERATURE, 0.0),
        (-40.0, "degF", Quantity.OUTSIDE_TEMPERATURE, -40.0),
        (95.0, "degF", Quantity.TEMPERATURE, 35.0),
        (3712.0, "mV", Quantity.BATTERY, 3.712),
        (1.4, "mm", Quantity.RAIN, 1.4),
        (60.5, "", Quantity.HUMIDITY, 60.5),
    ],
)
def test_conversions_match_the_published_constants(value, unit, quantity, expected):
    assert to_own_unit(value, unit, quantity) == pytest.approx(expected, rel=1e-15, abs=1e-15)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_the_own_unit_and_no_unit_change_nothing(quantity):
    assert to_own_unit(12.3, UNITS[quantity], quantity) == to_own_unit(12.3, "", quantity) == 12.3


@pytest.mark.parametrize(
    ("unit", "quantity"),
    [
        ("Cel", Quantity.WEIGHT),
        ("kg", Quantity.TEMPERATURE),
        ("C", Quantity.TEMPERATURE),
        ("lb", Quantity.RAIN),
        ("%", Quantity.HUMIDITY),
    ],
)
def test_a_wrong_unit_is_refused_naming_both(unit, quantity):
    assert not can_convert(unit, quantity)
    with pytest.raises(Unusable) as caught:
        to_own_unit(1.0, unit, quantity)
    assert repr(unit) in str(caught.value)
    assert repr(UNITS[quantity]) in str(caught.value)


@pytest.mark.parametrize("value", [85.0, -127.0])
def test_what_a_failing_thermometer_says_comes_through(value):
    """DS18B20 data sheet: 85 °C after power-on; common drivers report -127 °C for no sensor (common practice)."""
    check_limits(value, Quantity.TEMPERATURE)


@pytest.mark.parametrize("quantity", list(Quantity))
def test_impossible_values_are_refused_and_the_edges_are_not(quantity):
    low, high = LIMITS[quantity]
    check_limits(low, quantity)
    check_limits(high, quantity)
    for value in (low - 0.1, high + 0.1, math.nan, math.inf, -math.inf):
        with pytest.raises(Unusable, match="impossible"):
            check_limits(value, quantity)

"""A scale's temperature error: learned from nights, and nothing learned from what is no error."""

from __future__ import annotations

import numpy as np
import pytest

from hivemon.model import EMPTY, HOUR, MINUTE, Series
from hivemon.signals.scale_temperature import (
    CHEAP_KG_PER_CELSIUS,
    DAWNS_APART_CELSIUS,
    REFERENCE_CELSIUS,
    ScaleTemperature,
    at_reference,
    learn,
    left_between,
)

DUSK = 1_717_272_000_000
DAWN = DUSK + 9 * HOUR
RNG = np.random.default_rng(11)


def night(error: float, number: int, eaten: float = 0.08, noise: float = 0.03):
    """A night at 5 minutes: air that cools fast, then slowly (Newton), a hive that eats, a scale that errs."""
    time = DUSK + number * 24 * HOUR + np.arange(0, 9 * HOUR, 5 * MINUTE, dtype=np.int64)
    hours = (time - time[0]) / HOUR
    celsius = 8 + RNG.normal(0, 2) + (12 + RNG.normal(0, 2)) * np.exp(-hours / 3.5)
    weight = 40 - eaten * hours + error * celsius + RNG.normal(0, noise, len(time))
    return Series(time, weight), Series(time, celsius)


def learned(error: float, nights: int = 20, **how) -> ScaleTemperature:
    known = ScaleTemperature()
    for number in range(nights):
        weight, outside = night(error, number, **how)
        known = learn(known, DUSK + number * 24 * HOUR, DAWN + number * 24 * HOUR, weight, outside, EMPTY)
    return known


@pytest.mark.parametrize("error", [-0.03, -0.01, 0.01, 0.03])
def test_an_error_of_cheap_cells_is_learned_within_a_fifth(error):
    """Errors of 10 to 30 g/°C, either way, in three weeks, however much is eaten."""
    assert learned(error, eaten=0.15).error == pytest.approx(error, rel=0.2, abs=0.002)


def test_a_good_cell_is_left_alone():
    """Within OIML R 60-1, 5.6.1.3 (C3: 2.8 g/°C) and its own doubt, little or nothing is taken off."""
    assert abs(learned(0.0).error) <= 0.0028


def test_nothing_is_believed_before_five_nights():
    """One night may be anything."""
    assert learned(0.03, nights=4).error == 0.0


def test_a_night_of_rain_teaches_nothing():
    """Rain in the night hides the scale's error."""
    weight, outside = night(0.03, 0)
    rain = Series(weight.time[:1], np.array([2.0]))
    assert learn(ScaleTemperature(), DUSK, DAWN, weight, outside, rain) == ScaleTemperature()


def test_a_night_with_a_visit_teaches_nothing():
    """A step within the night is somebody's doing."""
    weight, outside = night(0.03, 0)
    stepped = Series(weight.time, weight.value + 3.0 * (weight.time > DUSK + 5 * HOUR))
    assert learn(ScaleTemperature(), DUSK, DAWN, stepped, outside, EMPTY) == ScaleTemperature()


def test_without_an_outside_thermometer_nothing_is_learned_or_taken_off():
    """There is nothing to hold the weight against."""
    weight, _ = night(0.03, 0)
    assert learn(ScaleTemperature(), DUSK, DAWN, weight, EMPTY, EMPTY) == ScaleTemperature()
    assert at_reference(weight, EMPTY, 0.03) is weight


def test_the_error_is_taken_off_against_fifteen_degrees():
    """A scale that shows 20 g too much per degree shows the true weight when 15 °C are left."""
    time = DUSK + np.arange(3, dtype=np.int64) * HOUR
    celsius = np.array([5.0, REFERENCE_CELSIUS, 25.0])
    corrected = at_reference(Series(time, 40 + 0.02 * (celsius - 15)), Series(time, celsius), 0.02)
    assert corrected.value == pytest.approx([40.0, 40.0, 40.0])


def test_what_is_left_is_the_doubt_that_it_says():
    """Over many scales, true error less what is taken off has the standard deviation told, learned or not yet."""
    for nights, so_far in ((20, "learned"), (3, "not believed yet")):
        errors = np.random.default_rng(5).normal(0, CHEAP_KG_PER_CELSIUS, 60)
        known = [learned(float(error), nights=nights) for error in errors]
        off = np.array([error - k.error for error, k in zip(errors, known, strict=True)])
        told = np.sqrt(np.mean([k.left**2 for k in known]))
        assert np.std(off) == pytest.approx(told, rel=0.6), so_far


def test_two_dawns_alike_leave_nothing_and_unknown_ones_what_is_usual():
    """The error of a difference goes with the difference in temperature; without a thermometer it may be anything."""
    time = DUSK + np.arange(30, dtype=np.int64) * HOUR
    rising = Series(time, np.linspace(5.0, 15.0, 30))
    even = Series(time, np.full(30, 9.0))
    new = ScaleTemperature()
    assert left_between(new, even, DUSK + 3 * HOUR, DUSK + 27 * HOUR) == 0
    assert left_between(new, EMPTY, DUSK, DUSK + 24 * HOUR) == CHEAP_KG_PER_CELSIUS * DAWNS_APART_CELSIUS
    assert left_between(new, rising, DUSK + 3 * HOUR, DUSK + 27 * HOUR) == pytest.approx(
        CHEAP_KG_PER_CELSIUS * 24 * 10 / 29, rel=0.01
    )


def test_a_coarse_scale_that_stands_still_at_night_teaches_that_there_is_no_error():
    """Nights of one value to the digit: no error, known as well as can be, and nothing divided by nothing."""
    known = ScaleTemperature()
    for number in range(8):
        weight, outside = night(0.0, number)
        still = Series(weight.time, np.full(len(weight.time), 40.0))
        known = learn(known, DUSK + number * 24 * HOUR, DAWN + number * 24 * HOUR, still, outside, EMPTY)
    assert known.error == 0.0
    assert 0.0 < known.left < 0.001

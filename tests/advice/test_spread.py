"""Mean and spread are the standard library's, only faster; slopes are those of scipy."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from hivemon.advice.spread import deviation, error_of_mean, fading_mean, mean, steady_slope

VALUES = st.lists(st.floats(-100, 100, allow_nan=False), min_size=2, max_size=40)


@given(VALUES)
def test_the_standard_library_gives_the_same(values):
    assert mean(values) == pytest.approx(statistics.fmean(values), abs=1e-9)
    assert deviation(values) == pytest.approx(statistics.stdev(values), abs=1e-6)
    assert error_of_mean(values) == pytest.approx(statistics.stdev(values) / math.sqrt(len(values)), abs=1e-6)


def test_too_few_values_say_so():
    with pytest.raises(ValueError, match="no mean"):
        mean([])
    with pytest.raises(ValueError, match="two values"):
        deviation([1.0])


def test_a_mean_that_fades_weighs_the_newest_most():
    """Half a weight for each two places: 4, 2 x 0.7, 1 x 0.5 of 2.2."""
    assert fading_mean([1.0, 2.0, 4.0], 2.0) == pytest.approx((1 * 0.5 + 2 * 0.5**0.5 + 4) / (0.5 + 0.5**0.5 + 1))
    assert fading_mean([3.0], 2.0) == 3.0
    with pytest.raises(ValueError, match="no values"):
        fading_mean([], 2.0)


def test_a_steady_slope_is_that_of_scipy_and_does_not_mind_a_bump():
    course = [0.0, -0.1, -0.2, 1.7, 1.2, -0.5, -0.6, -0.7, -0.8, -0.9]
    assert steady_slope(course) == pytest.approx(theilslopes(course).slope)
    assert steady_slope(course) == pytest.approx(-0.1, abs=0.01)

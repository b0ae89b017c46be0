"""Mean and spread are the standard library's, only faster."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.advice.spread import deviation, error_of_mean, mean

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

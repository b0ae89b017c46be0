"""The engine finds what an exact search by plain ruptures finds; its short cuts change no value."""

import math
import subprocess
import sys

import numpy as np
import pytest
import ruptures
from hypothesis import given
from hypothesis import strategies as st

from hivemon.signals import clean
from hivemon.signals.segmentation import breakpoints


def stepped(length: int, seed: int) -> np.ndarray:
    """A series of unit noise with a level change about every forty values."""
    rng = np.random.default_rng(seed)
    changes = rng.random(length) < 1 / 40
    return np.cumsum(changes * rng.normal(0, 8, length)) + rng.normal(0, 1, length)


@pytest.mark.parametrize("length", [30, 120, 180, 300])
@pytest.mark.parametrize("seed", range(3))
def test_the_breakpoints_are_those_of_an_exact_search(length: int, seed: int) -> None:
    """Reference: ruptures' own PELT with squared error, every index admissible (Killick, Fearnhead & Eckley 2012)."""
    values, penalty = stepped(length, seed), 4 * math.log(length) + 6
    plain = ruptures.Pelt(model="l2", min_size=1, jump=1).fit(values.reshape(-1, 1)).predict(pen=penalty)
    assert breakpoints(values, penalty) == plain
    assert len(plain) > 1 or length < 60


def test_the_engine_does_not_wait_for_what_it_does_not_use() -> None:
    """In a process of its own; what was put off still works when it is called."""
    program = (
        "import sys, hivemon.signals.segmentation, ruptures, numpy\n"
        "assert not {'scipy.stats', 'scipy.signal', 'scipy.spatial'} & set(sys.modules)\n"
        "cost = ruptures.costs.CostRank().fit(numpy.array([3.0, 1.0, 2.0, 9.0, 8.0, 7.0]).reshape(-1, 1))\n"
        "assert numpy.isfinite(cost.error(0, 4))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@given(st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=40))
def test_the_median_of_three_neighbours_is_the_sorted_one(values: list[float]) -> None:
    series = np.array(values)
    stacked = np.stack((series[:-2], series[1:-1], series[2:]))
    assert (clean.running_median(series, clean.LONE) == np.median(stacked, axis=0)).all()


@pytest.mark.parametrize("value", [clean.POWER_ON_CELSIUS[0], clean.POWER_ON_CELSIUS[1]])
def test_power_on_values_are_none_that_can_be_true(value: float) -> None:
    """So no second look is needed for them."""
    low, high = clean.PLAUSIBLE[clean.Quantity.TEMPERATURE]
    assert not low <= value <= high


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=40), st.floats(0, 1))
def test_a_quantile_is_the_one_numpy_interpolates(values, part):
    """To the last digit but one."""
    assert clean.quantile(np.array(values), part) == pytest.approx(np.quantile(values, part), rel=1e-12, abs=1e-12)

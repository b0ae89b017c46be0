"""Fewer points, the same picture: what thinning must keep, over any series."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from hivemon.model import HOUR, MINUTE, Series
from hivemon.pages.thin import GAP, thin

steps = st.lists(st.integers(1, 3 * HOUR), min_size=1, max_size=400)
values = st.floats(-1e4, 1e4).map(lambda value: round(value, 3))


def series(gaps, found):
    return Series(np.cumsum(np.array(gaps, np.int64)), np.resize(np.array(found), len(gaps)))


@given(steps, st.lists(values, min_size=1, max_size=400), st.integers(16, 100))
def test_every_column_keeps_its_lowest_and_highest_reading(gaps, found, width):
    whole = series(gaps, found)
    since, until = int(whole.time[0]), int(whole.time[-1]) + 1
    curve = thin(whole, since, until, width)
    kept = {}
    for time, value in zip(curve.time, curve.value, strict=True):
        if value is not None:
            kept.setdefault((time - since) * width // (until - since), []).append(value)
    for column in range(width):
        inside = whole.value[(whole.time - since) * width // (until - since) == column]
        if len(inside):
            assert (min(kept[column]), max(kept[column])) == (inside.min(), inside.max())


@given(steps, st.lists(values, min_size=1, max_size=50), st.integers(16, 100))
def test_points_are_readings_in_order_and_few(gaps, found, width):
    """At most two a column, the two ends, and three for each silence, of which there are no more than columns."""
    whole = series(gaps, found)
    curve = thin(whole, int(whole.time[0]), int(whole.time[-1]) + 1, width)
    assert curve.time == sorted(set(curve.time))
    assert len(curve.time) <= 5 * width + 2
    readings = dict(zip(whole.time.tolist(), whole.value.tolist(), strict=True))
    assert all(readings[t] == v for t, v in zip(curve.time, curve.value, strict=True) if v is not None)
    assert (curve.time[0], curve.time[-1]) == (whole.time[0], whole.time[-1])


def test_a_silence_lifts_the_pen_and_its_edges_stay():
    time = np.concatenate((np.arange(0, 10 * HOUR, 5 * MINUTE), np.arange(20 * HOUR, 30 * HOUR, 5 * MINUTE)))
    curve = thin(Series(time.astype(np.int64), np.ones(len(time))), 0, 30 * HOUR, 60)
    place = curve.value.index(None)
    assert curve.value.count(None) == 1
    assert curve.time[place - 1] == 10 * HOUR - 5 * MINUTE
    assert curve.time[place + 1] == 20 * HOUR
    assert curve.time[place + 1] - curve.time[place - 1] > GAP


def test_nothing_gives_nothing():
    empty = Series(np.empty(0, np.int64), np.empty(0))
    assert thin(empty, 0, HOUR, 100) == ([], [], 0)

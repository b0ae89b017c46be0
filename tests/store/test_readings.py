"""Readings go in once and come out as they went in."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.errors import StoreError
from hivemon.model import MINUTE, Quantity, Reading, Series, Stream
from hivemon.store import Added, AddedSeries, Store
from hivemon.store.readings import EARLIEST, LATEST

T0 = 1_750_000_000_000
WEIGHT = Stream("o1", Quantity.WEIGHT)
RAIN = Stream(None, Quantity.RAIN)


def reading(minute, value=50.0, hive="o1", quantity=Quantity.WEIGHT, yard="orchard", *, stamped=False):
    return Reading(T0 + minute * MINUTE, yard, hive, quantity, value, stamped)


def line(minutes, values):
    return Series(T0 + np.array(minutes, np.int64) * MINUTE, np.array(values, np.float64))


def as_rows(store, yard="orchard"):
    return {
        (stream, int(time)): float(value)
        for stream, series in store.series(yard).items()
        for time, value in zip(*series, strict=True)
    }


def test_new_readings_are_told_apart_from_duplicates_and_conflicts(store):
    first = [reading(0), reading(5), reading(5, hive=None, quantity=Quantity.RAIN, value=0.2)]
    assert store.add_readings(first) == Added(first, 0, [])
    other = reading(5, 51.0)
    again = [reading(10), reading(0), other, reading(2)]
    assert store.add_readings(again) == Added([again[0], again[3]], 1, [other])
    assert as_rows(store) == {
        (WEIGHT, T0): 50.0,
        (WEIGHT, T0 + 2 * MINUTE): 50.0,
        (WEIGHT, T0 + 5 * MINUTE): 50.0,
        (WEIGHT, T0 + 10 * MINUTE): 50.0,
        (RAIN, T0 + 5 * MINUTE): 0.2,
    }


def test_a_reading_doubled_within_one_call_is_kept_once(store):
    twice = [reading(0), reading(0), reading(0, 49.0)]
    assert store.add_readings(twice) == Added([twice[0]], 1, [twice[2]])


def test_the_same_hive_id_in_two_yards_is_two_streams(store):
    assert len(store.add_readings([reading(0), reading(0, 60.0, yard="ridge")]).new) == 2
    assert store.yards() == ["orchard", "ridge"]
    assert store.latest("ridge") == {WEIGHT: (T0, 60.0)}


def test_a_reopened_store_still_knows_its_readings(path):
    with Store.open(path) as store:
        store.add_readings([reading(0), reading(5)])
    with Store.open(path) as store:
        assert store.add_readings([reading(5), reading(6)]) == Added([reading(6)], 1, [])


def test_series_and_readings_mix(store):
    store.add_readings([reading(0), reading(10, 51.0)])
    batch = {WEIGHT: line([0, 5, 10, 15], [50.0, 50.5, 99.0, 52.0]), RAIN: line([], [])}
    assert store.add_series("orchard", batch) == AddedSeries(2, 1, 1)
    assert store.add_readings([reading(15, 52.0)]).duplicates == 1
    np.testing.assert_array_equal(store.series("orchard")[WEIGHT].value, [50.0, 50.5, 51.0, 52.0])
    assert store.streams("orchard") == [WEIGHT]


def test_the_newest_reading_is_found_without_reading_any_other(store):
    """Two seeks a stream: 20 ms for the 12,000 of 4,000 hives, where the last value of each takes 110."""
    store.add_series("orchard", {WEIGHT: line(range(1000), range(1000)), RAIN: line([1200], [0.2])})
    steps = []
    store._db._connection.set_progress_handler(lambda: steps.append(1), 10)
    assert store.newest("orchard") == T0 + 1200 * MINUTE
    assert len(steps) < 20


def test_series_can_be_asked_for_by_time_and_stream(store):
    store.add_series("orchard", {WEIGHT: line(range(10), range(10)), RAIN: line([3], [1.5])})
    part = store.series("orchard", T0 + 2 * MINUTE, T0 + 4 * MINUTE, [WEIGHT])
    assert list(part) == [WEIGHT]
    np.testing.assert_array_equal(part[WEIGHT].value, [2.0, 3.0])
    assert store.series("orchard", T0 + 60 * MINUTE) == {}
    assert store.series("nowhere") == {}


def test_stamped_readings_are_counted(store):
    store.add_readings([reading(0, stamped=True), reading(1)])
    (facts,) = store.facts().streams
    assert (facts.readings, facts.stamped, facts.last) == (2, 1, T0 + MINUTE)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_finite_number_is_refused_whole(store, value):
    with pytest.raises(StoreError, match="reading 2 of 2"):
        store.add_readings([reading(0), reading(1, value)])
    with pytest.raises(StoreError, match="at place 1"):
        store.add_series("orchard", {WEIGHT: line([0, 1], [1.0, value])})
    assert store.series("orchard") == {}
    assert len(store.add_readings([reading(0)]).new) == 1


def test_a_series_out_of_order_is_refused(store):
    with pytest.raises(StoreError, match="ascending order at place 2"):
        store.add_series("orchard", {WEIGHT: line([0, 5, 5], [1, 2, 3])})


@pytest.mark.parametrize("time", [2**63, 2**62, LATEST + 1, EARLIEST - 1])
def test_a_time_outside_the_years_that_can_be_written_is_refused(store, time):
    with pytest.raises(StoreError, match="reading 1 of 1"):
        store.add_readings([reading(0)._replace(time=time)])
    if abs(time) < 2**63:
        with pytest.raises(StoreError, match="years 1 to 9999"):
            store.add_series("orchard", {WEIGHT: Series(np.array([time]), np.array([1.0]))})


def test_an_empty_hive_id_is_refused(store):
    with pytest.raises(StoreError, match="empty hive id"):
        store.add_readings([reading(0, hive="")])


finite = st.floats(allow_nan=False, allow_infinity=False)
times = st.integers(EARLIEST, LATEST) | st.integers(T0, T0 + 5)
names = st.text(min_size=1, max_size=8)
any_reading = st.builds(
    Reading,
    time=times,
    yard=names,
    hive=st.none() | names,
    quantity=st.sampled_from(Quantity),
    value=finite,
    stamped=st.booleans(),
)


@given(st.lists(any_reading, max_size=30), st.randoms(use_true_random=False))
def test_any_readings_in_any_calls_come_out_as_a_table_that_keeps_the_first(tmp_path_factory, readings, random):
    """The store must agree with a dictionary filled with setdefault, for odd unicode and extreme numbers too."""
    model = {}
    with Store.open(tmp_path_factory.mktemp("any") / "a.db") as store:
        rest = readings + random.choices(readings, k=5) if readings else []
        while rest:
            size = random.randint(1, len(rest))
            call, rest = rest[:size], rest[size:]
            new, same, other = [], 0, []
            for r in call:
                key = (r.yard, r.hive, r.quantity, r.time)
                if key not in model:
                    model[key] = r
                    new.append(r)
                elif model[key].value == r.value:
                    same += 1
                else:
                    other.append(r)
            added = store.add_readings(call)
            assert (added.duplicates, added.conflicts) == (same, other)
            assert added.new == new
        stored = {
            (yard, *stream, int(time)): float(value)
            for yard in store.yards()
            for stream, series in store.series(yard).items()
            for time, value in zip(*series, strict=True)
        }
    assert stored == {key: r.value for key, r in model.items()}


@given(
    st.lists(st.dictionaries(st.integers(0, 40), st.sampled_from([1.0, 2.0]), max_size=20), max_size=4),
)
def test_series_in_any_overlapping_batches_agree_with_readings_one_by_one(tmp_path_factory, batches):
    folder = tmp_path_factory.mktemp("any")
    with Store.open(folder / "a.db") as bulk, Store.open(folder / "b.db") as single:
        for batch in batches:
            minutes = sorted(batch)
            counts = bulk.add_series("orchard", {WEIGHT: line(minutes, [batch[m] for m in minutes])})
            added = single.add_readings([reading(m, batch[m]) for m in minutes])
            assert counts == (len(added.new), added.duplicates, len(added.conflicts))
        assert as_rows(bulk) == as_rows(single)

"""Snapshots, adopted hives, opening and health."""

import sqlite3

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from processes import run

from hivemon.errors import StoreError
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Reading, Series, Stream
from hivemon.store import Store
from hivemon.store.snapshots import superfluous

T0 = 1_750_000_000_000


def test_the_last_snapshot_strictly_before_a_time_is_found(store):
    for hour in (0, 1, 2):
        store.put_snapshot("orchard", T0 + hour * HOUR, bytes([hour]))
    store.put_snapshot("ridge", T0 + HOUR, b"other")
    assert store.snapshot_before("orchard", T0 + 2 * HOUR) == (T0 + HOUR, b"\x01")
    assert store.snapshot_before("orchard", T0) is None
    store.put_snapshot("orchard", T0 + HOUR, b"better")
    assert store.snapshot_before("orchard", T0 + 2 * HOUR).blob == b"better"
    store.drop_snapshots("orchard", T0 + HOUR)
    assert store.snapshot_before("orchard", T0 + DAY) == (T0, b"\x00")
    assert store.snapshot_before("ridge", T0 + DAY).blob == b"other"


def test_a_year_of_hourly_snapshots_prunes_to_days_weeks_and_months(store):
    with store.transaction():
        for hour in range(365 * 24):
            store.put_snapshot("orchard", T0 + hour * HOUR, b"")
    gone = store.prune_snapshots("orchard")
    newest = T0 + (365 * 24 - 1) * HOUR
    left = np.array([t for (t,) in store._db.rows("SELECT time FROM snapshot ORDER BY time")])
    assert gone + len(left) == 365 * 24
    ages = (newest - left) / DAY
    assert ages.min() == 0
    assert 10 <= (ages < 10).sum() <= 11
    assert np.diff(left[ages < 10]).max() <= DAY
    assert 8 <= ((ages >= 10) & (ages < 66)).sum() <= 10
    assert np.diff(left).max() <= 28 * DAY
    assert len(left) <= 35
    assert store.prune_snapshots("orchard") == 0


@given(st.lists(st.integers(0, 400 * 24), max_size=60), st.integers(0, 400 * 24))
def test_pruning_step_by_step_never_leaves_a_hole_longer_than_pruning_once_may(hours, late):
    """The newest and the oldest stay, and between two that stay there is none that had to be kept."""
    times = sorted({T0 + h * HOUR for h in hours} | {T0 + late * HOUR})
    gone = superfluous(times)
    left = [t for t in times if t not in gone]
    assert times[0] in left
    assert times[-1] in left
    assert superfluous(left) == []
    days = {t // DAY for t in times if times[-1] - t < 10 * DAY}
    assert days <= {t // DAY for t in left}
    assert {t // (28 * DAY) for t in times} == {t // (28 * DAY) for t in left}


def test_snapshots_that_lack_the_readings_after_them_go_with_the_readings_but_the_newest_stays(store):
    for day in (0, 50, 100, 200):
        store.put_snapshot("orchard", T0 + day * DAY, b"")
    store.put_snapshot("silent", T0, b"")
    store.retain(T0 + 210 * DAY, 120)
    assert [t for (t,) in store._db.rows("SELECT time FROM snapshot WHERE yard = 'orchard' ORDER BY time")] == [
        T0 + 100 * DAY,
        T0 + 200 * DAY,
    ]
    assert store.snapshot_before("silent", T0 + DAY) is not None


def test_a_hive_is_adopted_once(store):
    assert store.adopt("orchard", "o7", T0)
    assert not store.adopt("orchard", "o7", T0 + 1)
    assert store.adopt("ridge", "o7", T0)
    assert store.adopted() == [("orchard", "o7", T0), ("ridge", "o7", T0)]


def test_health_facts_count_what_is_there(path, store):
    assert store.facts().last_reading is None
    store.add_series(
        "orchard",
        {
            Stream("o1", Quantity.WEIGHT): Series(T0 + np.arange(100) * MINUTE, np.ones(100)),
            Stream(None, Quantity.RAIN): Series(np.array([T0]), np.zeros(1)),
        },
    )
    store.outbox_put(["a v=1", "b v=1"], T0)
    store.put_note("influx", "fine")
    facts = store.facts()
    assert (facts.path, facts.integrity, facts.readings) == (str(path), [], 101)
    assert (facts.last_reading, facts.outbox_points, facts.outbox_oldest) == (T0 + 99 * MINUTE, 2, T0)
    assert facts.size > 0
    assert facts.wal_size > 0
    assert facts.disk_free > 0
    assert [(s.hive, s.quantity, s.readings) for s in facts.streams] == [(None, "rain", 1), ("o1", "weight", 100)]
    quick = store.facts(deep=False)
    assert (quick.readings, quick.integrity, quick.last_reading) == (None, None, facts.last_reading)


def test_a_reference_into_nothing_is_found(path):
    with Store.open(path) as store:
        store.add_readings([Reading(T0, "orchard", "o1", Quantity.WEIGHT, 1.0)])
        other = sqlite3.connect(path)
        other.execute("DELETE FROM series")
        other.commit()
        other.close()
        assert store.check() == ["a row of reading refers to a row of series that is not there"]


def test_reading_works_while_another_process_is_in_the_middle_of_writing(path, store):
    with Store.open(path, read_only=True, busy=50) as reader, store.transaction():
        store.add_readings([Reading(T0, "orchard", "o1", Quantity.WEIGHT, 1.0)])
        assert reader.series("orchard") == {}
    with Store.open(path, read_only=True) as reader:
        assert len(reader.series("orchard")) == 1


def test_a_view_is_of_one_moment(path, store):
    rows = [Reading(T0 + n, "orchard", "o1", Quantity.WEIGHT, 1.0) for n in range(2)]
    store.add_readings(rows[:1])
    with Store.open(path, read_only=True) as reader:
        with reader.view():
            before = reader.latest("orchard")
            store.add_readings(rows[1:])
            assert reader.latest("orchard") == before
        assert reader.latest("orchard") != before


@pytest.mark.parametrize(
    ("place", "words"),
    [("none/hivemon.db", "is not there"), ("", "is a folder"), ("empty.db", "no database at")],
)
def test_a_place_where_no_database_can_be_is_said_in_plain_words(tmp_path, place, words):
    with pytest.raises(StoreError, match=words) as caught:
        Store.open(tmp_path / place, read_only=place == "empty.db")
    assert caught.value.hint


def test_an_older_file_is_not_read_without_being_brought_up_to_date(path):
    sqlite3.connect(path).executescript("PRAGMA application_id = 0x68697665; PRAGMA journal_mode = WAL").close()
    with pytest.raises(StoreError, match="older hivemon"):
        Store.open(path, read_only=True)
    Store.open(path).close()
    Store.open(path, read_only=True).close()


def test_a_path_with_odd_characters_is_one_file(tmp_path):
    path = tmp_path / "bees ?mode=ro #1 100% é.db"
    with Store.open(path) as store:
        store.adopt("orchard", "o1", T0)
    assert path.exists()
    with Store.open(path, read_only=True) as store:
        assert len(store.adopted()) == 1


def test_another_process_sees_what_was_committed(path, store):
    store.add_readings([Reading(T0, "orchard", "o1", Quantity.WEIGHT, 1.0)])
    assert run('print(Store.open(path, read_only=True).latest("orchard"))', path).count(str(T0)) == 1

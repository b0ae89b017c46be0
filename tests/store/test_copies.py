"""A second copy of a store: whole, checked, made while others write, and never over another file."""

import sqlite3

import pytest
from processes import start

from hivemon.errors import StoreError
from hivemon.model import MINUTE, Quantity, Reading, Stream
from hivemon.store import Store
from hivemon.store.copies import copy_store, move_away, present

T0 = 1_750_000_000_000
WEIGHT = Stream("o1", Quantity.WEIGHT)


def fill(store, count=500):
    store.add_readings([Reading(T0 + n * MINUTE, "orchard", "o1", Quantity.WEIGHT, 50.0) for n in range(count)])


def times(path):
    with Store.open(path) as store:
        return store.series("orchard")[WEIGHT].time.tolist()


def test_a_copy_holds_everything_and_is_one_file(path, store, tmp_path):
    fill(store)
    target = tmp_path / "copy.db"
    copied = copy_store(path, target)
    assert copied.rows["reading"] == 500
    assert copied.newest == T0 + 499 * MINUTE
    assert sorted(p.name for p in tmp_path.glob("*copy*")) == ["copy.db"]
    assert times(target) == times(path)


def test_a_copy_is_of_one_moment_while_another_process_writes(path, tmp_path):
    """The writer keeps two hives equal in each commit; every copy must show them equal, and writing goes on."""
    writer = start(
        """
        store = Store.open(path)
        number = 0
        while True:
            with store.transaction():
                for hive in ("o1", "o2"):
                    store.add_readings([Reading(T0 + number * MINUTE, "orchard", hive, Quantity.WEIGHT, 50.0)])
            number += 1
            print(number, flush=True)
        """,
        path,
    )
    try:
        writer.stdout.readline()
        before = 0
        for number in range(4):
            target = tmp_path / f"copy{number}.db"
            copied = copy_store(path, target)
            with Store.open(target) as copy:
                lengths = {len(series.time) for series in copy.series("orchard").values()}
            assert len(lengths) == 1
            assert copied.rows["reading"] == 2 * lengths.pop() > before
            before = copied.rows["reading"]
        assert writer.poll() is None
    finally:
        writer.kill()
        writer.communicate()


@pytest.mark.parametrize("there", ["copy.db", "copy.db-wal"])
def test_nothing_is_written_over(path, store, tmp_path, there):
    fill(store)
    (tmp_path / there).write_text("mine")
    with pytest.raises(StoreError, match="is there already") as caught:
        copy_store(path, tmp_path / "copy.db")
    assert caught.value.hint
    assert (tmp_path / there).read_text() == "mine"


def test_a_damaged_store_gives_no_copy_and_says_so(path, tmp_path):
    with Store.open(path) as store:
        fill(store, 5000)
    raw = bytearray(path.read_bytes())
    raw[-8192:-4096] = b"\xff" * 4096
    path.write_bytes(raw)
    with pytest.raises(StoreError, match=r"damaged") as caught:
        copy_store(path, tmp_path / "copy.db")
    assert caught.value.hint
    assert not list(tmp_path.glob("*copy*"))


def test_a_database_of_another_program_is_no_store(tmp_path):
    other = tmp_path / "other.db"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE t (x)")
    connection.close()
    with pytest.raises(StoreError, match="another program"):
        copy_store(other, tmp_path / "copy.db")


def test_a_folder_that_is_not_there_is_said_in_words(path, store, tmp_path):
    fill(store)
    with pytest.raises(StoreError, match="cannot write into"):
        copy_store(path, tmp_path / "no" / "copy.db")


def test_a_store_moved_away_takes_its_log_with_it(path, store):
    fill(store)
    assert path.with_name(path.name + "-wal").exists()
    away = move_away(path, "until-today")
    assert not present(path)
    store.close()
    assert len(times(away)) == 500

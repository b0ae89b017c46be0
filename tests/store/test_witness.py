"""The witness beside the store: what a disk lost behind our back is said, and nothing else is."""

import shutil
from pathlib import Path

import pytest

from hivemon.model import Entry, LogEntry
from hivemon.store import Store
from hivemon.store.witness import Witness

T0 = 1_750_000_000_000


@pytest.fixture
def witness(path):
    return Witness(path)


def note(store):
    store.add_entry("orchard", LogEntry(time=T0, hive="o1", entry=Entry.NOTE, note="seen"))


def test_a_store_that_stands_where_it_stood_has_lost_nothing(path, store, witness):
    assert witness.lost(store) == ""
    note(store)
    witness.beat(store, T0)
    note(store)
    assert witness.lost(store) == ""
    store.close()
    with Store.open(path) as again:
        assert witness.lost(again) == ""


def test_an_older_state_of_the_file_is_found_out_and_counted(path, tmp_path, witness):
    with Store.open(path) as store:
        note(store)
        witness.beat(store, T0)
    older = tmp_path / "older"
    shutil.copy(path, older)
    with Store.open(path) as store:
        note(store)
        note(store)
        witness.beat(store, T0 + 15_000)
    shutil.copy(older, path)
    with Store.open(path) as store:
        assert witness.lost(store) == (
            "the disk has lost what was written between 2025-06-15T15:06:40Z and 2025-06-15T15:06:55Z: "
            "the readings that came in then, 2 changes to the logbook"
        )


def test_a_crash_between_the_two_beats_costs_nothing(store, witness, monkeypatch):
    def failing(*_):
        raise OSError("power")

    witness.beat(store, T0)
    with monkeypatch.context() as patch:
        patch.setattr("hivemon.store.witness.write_whole", failing)
        witness.beat(store, T0 + 1)
    assert witness.lost(store) == ""


def test_a_witness_that_cannot_be_read_says_nothing(store, witness):
    Path(witness.path).write_text("{")
    assert witness.lost(store) == ""


def test_after_a_restore_nothing_is_known(store, witness):
    witness.beat(store, T0)
    witness.forget()
    witness.forget()
    assert witness.lost(store) == ""

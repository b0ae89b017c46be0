"""Waiting between tries, as the copy to a server and the channels to people do it; and notes of one type each."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.notify.state import RETRY as CHANNELS
from hivemon.store.influx import RETRY as INFLUX
from hivemon.store.notes import Note

SECOND = 1000


@pytest.mark.parametrize(
    ("retry", "seconds"),
    [(INFLUX, [0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 300]), (CHANNELS, [0, 5, 10, 20, 40, 80, 160, 320, 600])],
)
def test_the_wait_doubles_to_a_cap_and_is_a_pure_function_of_the_failures(retry, seconds):
    assert [retry.wait(n) // SECOND for n in range(len(seconds))] == seconds
    assert retry.wait(10**9) == retry.longest


@given(st.integers(0, 200))
def test_the_wait_never_shrinks_and_never_passes_the_cap(failures):
    assert INFLUX.wait(failures) <= INFLUX.wait(failures + 1) <= INFLUX.longest


@pytest.mark.parametrize(("ahead", "due"), [(-1, True), (0, True), (1, False), (300 * SECOND, False), (301_000, True)])
def test_a_try_is_due_when_its_time_has_come_or_the_clock_was_set_back(ahead, due):
    assert INFLUX.due(1_750_000_000_000 + ahead, 1_750_000_000_000) is due


def test_a_note_is_read_as_it_was_left_and_one_of_another_version_is_none(store):
    note = Note("found", dict[str, int])
    assert note.read(store) is None
    note.put(store, {"orchard/o1": 60})
    assert note.read(store) == note.among(store.facts().notes) == {"orchard/o1": 60}
    store.put_note("found", '["something else"]')
    assert note.read(store) is None

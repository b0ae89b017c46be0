"""The fold: order, doubling, cuts and restarts change nothing; what was said never depends on what follows."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from folding import (
    HIVES,
    START,
    YARD,
    as_readings,
    fold_as_they_come,
    fold_in_parts,
    fold_whole,
    last_versions,
    recording,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hivemon import turn
from hivemon.fold import advance, begin, decode, encode
from hivemon.model import DAY, HOUR, MINUTE, Entry, Event, Kind, LogEntry, Quantity, Series
from hivemon.rules import Rules

STREAMS = recording()
WHOLE_STATE, WHOLE = fold_whole(STREAMS)
EVENTS = last_versions(WHOLE)
MOMENTS = st.integers(START, START + 9 * DAY)
UNHURRIED = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def test_the_recording_holds_one_of_each_thing_worth_testing():
    """The fold's tests mean something only if events of several kinds are in the recording."""
    kinds = {e.kind for e in EVENTS.values()}
    assert {Kind.SWARM, Kind.FLOW_ONSET, Kind.BROOD_COLD} <= kinds
    assert {e.hive for e in EVENTS.values() if e.kind is Kind.SWARM} == {"b"}


def test_a_logged_super_is_neither_a_swarm_nor_asked_about():
    """The six kilograms put on hive c are in the logbook."""
    assert not [e for e in EVENTS.values() if e.kind is Kind.UNLOGGED_STEP]


@UNHURRIED
@given(st.lists(MOMENTS, max_size=12))
def test_cutting_the_stream_into_calls_changes_nothing(cuts):
    """However the readings are cut into calls, the same changes come in the same order."""
    state, changes = fold_in_parts(STREAMS, cuts)
    assert changes == WHOLE
    assert encode(state) == encode(WHOLE_STATE)


def test_one_reading_at_a_time_gives_the_same_as_all_at_once():
    """The slow, obviously right way agrees with the vectorised one."""
    some = {stream: series.until(START + 8 * DAY) for stream, series in STREAMS.items()}
    cuts = sorted({time + 1 for time, _, _ in as_readings(some)})
    assert last_versions(fold_in_parts(some, cuts)[1]) == last_versions(fold_whole(some)[1])


@UNHURRIED
@given(MOMENTS)
def test_a_prefix_raises_the_same_events_as_the_whole(end):
    """What was raised by a time never depends on readings after it."""
    prefix = {stream: series.until(end) for stream, series in STREAMS.items()}
    raised = {e.id: e.raised for e in last_versions(fold_whole(prefix)[1]).values()}
    assert raised == {e.id: e.raised for e in EVENTS.values() if e.raised < end}


@UNHURRIED
@given(st.lists(MOMENTS, min_size=1, max_size=4))
def test_a_restart_at_any_point_gives_the_same_events(cuts):
    """A snapshot written and read again is as good as never having stopped."""

    def restarted(state):
        return decode(encode(state), YARD, HIVES, Rules())

    assert fold_in_parts(STREAMS, cuts, between=restarted)[1] == WHOLE


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**31), st.integers(1, 24))
def test_any_order_and_doubling_within_a_day_gives_the_same_final_events(seed, hours):
    """Readings shuffled and doubled within a day end in the same events as sorted ones."""
    chance = random.Random(seed)
    readings = as_readings({s: x.until(START + 8 * DAY) for s, x in STREAMS.items()})[:: 2 if hours > 2 else 1]
    expected = fold_as_they_come(readings)[1]
    doubled = readings + chance.sample(readings, len(readings) // 10)
    # mostly in order, some late by up to a day: what networks and stored-and-forwarded messages do
    shuffled = sorted(doubled, key=lambda r: r[0] + (chance.random() < 0.02) * chance.random() * hours * HOUR)
    assert fold_as_they_come(shuffled)[1] == expected


def test_the_state_given_is_not_changed():
    """Keeping a state is keeping a snapshot."""
    first, _ = advance(begin(YARD, HIVES, Rules()), {s: x.until(START + 3 * DAY) for s, x in STREAMS.items()}, [])
    before = encode(first)
    advance(first, {s: x.since(START + 3 * DAY) for s, x in STREAMS.items()}, [])
    assert encode(first) == before


def test_a_foreign_snapshot_is_refused_not_misread():
    """A snapshot of another version is a ValueError, so that the caller rebuilds from the readings."""
    with pytest.raises(ValueError, match="snapshot"):
        decode(b"not a snapshot", YARD, HIVES, Rules())


def test_a_gap_of_a_month_is_no_event_and_costs_no_months():
    """Silence for weeks, then readings again: nothing is inferred from what was not seen."""
    later = {s: Series(x.time + 40 * DAY, x.value) for s, x in STREAMS.items()}
    joined = {
        s: Series(np.concatenate((x.time, later[s].time)), np.concatenate((x.value, later[s].value)))
        for s, x in STREAMS.items()
    }
    kinds = [e.kind for e in last_versions(fold_whole(joined)[1]).values()]
    assert kinds.count(Kind.SWARM) == 2


def test_advice_is_reckoned_once_for_all_that_is_told_in_one_moment(monkeypatch):
    """Where a hub gives the readings of all hives one time, a gust of events must not cost the yard's advice each."""
    reckoned = []
    monkeypatch.setattr(turn, "advise", lambda scene: reckoned.append(scene.now) or [])
    weights = {stream: series for stream, series in STREAMS.items() if stream.quantity is Quantity.WEIGHT}
    loaded = {s: Series(w.time, w.value + 7.0 * (w.time > START + 2 * DAY)) for s, w in weights.items()}
    _, changes = fold_whole({**STREAMS, **loaded})
    told = [event.raised for event in last_versions(changes).values() if event.kind is Kind.UNLOGGED_STEP]
    assert len(told) == len(HIVES)
    assert len(set(told)) == 1
    assert reckoned.count(told[0]) == 1


@pytest.mark.parametrize("minutes", [0, 7])
def test_what_is_written_down_is_heeded_at_the_next_reading(monkeypatch, minutes):
    """Who has put the super on must not be told until tomorrow's dawn to put it on."""
    scenes = {}
    monkeypatch.setattr(turn, "advise", lambda scene: scenes.update({scene.now: scene.logbook}) or [])
    reading = START + 2 * DAY + 9 * HOUR
    entry = LogEntry(time=reading - minutes * MINUTE, hive="a", entry=Entry.SUPER_ON)
    cut = reading - 3 * MINUTE  # as when it was written while the daemon waits for this reading
    fold_in_parts(STREAMS, [cut], logbook=[entry])
    assert scenes[reading] == [entry]
    assert sum(reading - HOUR < now < reading + HOUR for now in scenes) == 1


def test_the_last_word_on_a_flow_outlives_a_later_one_on_a_dearth():
    """Whether honey came in a flow or by a trickle after it is asked until autumn, whatever came between."""

    def said(kind, days_ago):
        raised = WHOLE_STATE.time - days_ago * DAY
        return Event(
            id=f"{kind.value}-{days_ago}", kind=kind, yard="test", hive=None, onset=raised, onset_first=raised,
            raised=raised, size=0.0, unit="kg/d", confidence=0.8, reason="test", summary="",
        )  # fmt: skip

    told = [
        said(Kind.FLOW_ONSET, 120),
        said(Kind.FLOW_END, 100),
        said(Kind.DEARTH_ONSET, 95),
        said(Kind.DEARTH_END, 80),
    ]
    core = replace(WHOLE_STATE.core, events={e.id: e for e in told})
    state, _ = advance(replace(WHOLE_STATE, core=core), {}, [])
    assert list(state.core.events) == ["flow-end-100", "dearth-end-80"]

"""The rule by which the truth of flow and dearth is written, on days made by hand; the rule is the project's own."""

import numpy as np
import pytest

from sample_streams.grid import DAY
from sample_streams.truth import Trouble, spans, yard_events

DAWNS = np.arange(61) * DAY + 1_700_000_000


def events_of(gain, hours=None):
    """(kind, index of the day of onset, clear) of the events of one yard with these daily gains."""
    gain = np.asarray(gain, float)
    hours = np.full(len(gain) + 1, 8.0) if hours is None else np.append(hours, 8.0)
    found = yard_events("y", DAWNS[: len(gain) + 1], gain[None, :], hours)
    return [(e["kind"], (e["onset"] - DAWNS[0]) / DAY, e["clear"]) for e in found]


def test_a_flow_begins_on_the_first_day_that_gains_and_ends_after_the_last():
    gain = [0.0] * 10 + [1.5] * 12 + [0.0] * 10
    assert events_of(gain) == [("flow-onset", 10, True), ("flow-end", 22, True)]


def test_a_dearth_begins_on_the_first_day_that_loses():
    gain = [0.05] * 10 + [-0.25] * 15 + [0.1] * 10
    assert events_of(gain) == [("dearth-onset", 10, True), ("dearth-end", 25, True)]


def test_between_flow_and_dearth_is_neither():
    assert events_of([0.05, 0.15, -0.03, 0.2, 0.0] * 8) == []


def test_rain_days_are_neither_flow_nor_dearth():
    """Five days without flight that lose a little neither end the flow nor make a dearth."""
    gain = np.array([0.0] * 10 + [1.5] * 6 + [-0.3] * 5 + [1.5] * 6 + [0.0] * 10)
    hours = np.full(len(gain), 8.0)
    hours[16:21] = 0.5
    assert events_of(gain, hours) == [("flow-onset", 10, True), ("flow-end", 27, True)]


def test_a_slow_beginning_or_one_before_the_recording_is_not_clear():
    gain = list(np.linspace(-0.02, 0.7, 30)) + [0.7] * 10
    [(kind, _, clear)] = events_of(gain)
    assert (kind, clear) == ("flow-onset", False)
    assert events_of([1.0] * 10 + [0.0] * 10) == [("flow-onset", 0, False), ("flow-end", 10, True)]


def test_two_fine_days_make_no_flow_and_four_hungry_ones_no_dearth():
    assert events_of([0.0] * 12 + [0.8] * 2 + [0.0] * 12) == []
    assert events_of([0.05] * 12 + [-0.1] * 4 + [0.05] * 12) == []


def test_the_median_hive_speaks_for_the_yard():
    gains = np.array([[0.0] * 30, [0.0] * 10 + [2.0] * 20, [0.0] * 10 + [1.0] * 20])
    found = yard_events("y", DAWNS[:31], gains, np.full(31, 8.0))
    assert [e["kind"] for e in found] == ["flow-onset"]
    assert found[0]["size"] == pytest.approx(1.0)
    assert found[0]["end"] is None


def test_spans_are_joined_across_short_pauses_and_short_ones_dropped():
    t = np.arange(0, 100_000, 100)
    bad = np.zeros(1000, dtype=bool)
    bad[100:200] = bad[220:300] = bad[600:610] = True
    trouble = Trouble("x", "Cel", shortest=5000, join=3000, note="")
    assert spans(trouble, t, bad) == [(100, 299)]

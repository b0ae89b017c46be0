"""Replay: which readings and entries reach the fold, and that the last word on everything is kept."""

from pathlib import Path

import numpy as np
import pytest

from hivemon.config import parse
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import Advisory, Entry, Event, HiveDay, LogEntry, Quantity, Series, Stream
from hivemon.replay import LastVersions, logbook_of, replay

RECORDINGS = Path(__file__).parents[1] / "sample_streams" / "recordings"
TWO_YARDS = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"
[[yard]]
id = "heath"
latitude = 51.3
longitude = 4.4
timezone = "Europe/Brussels"
[[hive]]
id = "o1"
yard = "orchard"
[[hive]]
id = "h1"
yard = "heath"
"""


def entry(hive: str) -> LogEntry:
    return LogEntry(time=0, hive=hive, entry=Entry.INSPECT)


def test_a_yards_logbook_is_that_of_its_hives_and_of_hives_nobody_configured() -> None:
    settings = parse(TWO_YARDS)
    book = [entry("o1"), entry("h1"), entry("new")]
    assert [e.hive for e in logbook_of(settings, "orchard", book)] == ["o1", "new"]
    assert [e.hive for e in logbook_of(settings, "heath", book)] == ["h1", "new"]


def test_yards_are_folded_apart_and_unknown_ones_passed_over() -> None:
    """Two quiet weeks in two yards and a third that nobody configured: hive days for the two."""
    settings = parse(TWO_YARDS)
    minutes = np.arange(0, 14 * 24 * 60, 10, dtype=np.int64)
    weights = Series(1_781_265_600_000 + minutes * 60_000, np.full(len(minutes), 40.0))
    hives = {"orchard": "o1", "heath": "h1", "moor": "m1"}
    batch = {yard: {Stream(hive, Quantity.WEIGHT): weights} for yard, hive in hives.items()}
    days = [change for change in replay(settings, [batch], []) if isinstance(change, HiveDay)]
    assert {(day.yard, day.hive) for day in days} == {("orchard", "o1"), ("heath", "h1")}
    assert len(days) >= 24


@pytest.mark.parametrize("name", ["orchard-swarm", "heath-flow"])
def test_how_a_file_is_cut_into_batches_changes_nothing(name: str) -> None:
    """The last versions are the same from one batch and from many small ones."""
    there = RECORDINGS / name
    settings = parse((there / "hivemon.toml").read_text())
    book = read_logbook(there / "logbook.csv")
    results = []
    for size in (1 << 16, 1 << 26):
        last = LastVersions()
        for change in replay(settings, read_readings(there / "readings.csv.gz", block_bytes=size), book):
            last.take(change)
        results.append((last.events, last.advisories, last.days))
    assert results[0] == results[1]
    events, advisories, days = results[0]
    assert events
    assert advisories
    assert all(isinstance(found, kind) for found, kind in ((events[0], Event), (advisories[0], Advisory)))
    assert [event.raised for event in events] == sorted(event.raised for event in events)
    assert [day.date for day in days] == sorted(day.date for day in days)

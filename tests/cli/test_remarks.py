"""What is said of an entry once it is kept: what it lacks, what it does not go with, what it cannot change yet."""

import time

import pytest

from hivemon.model import DAY, Entry, LogEntry, Quantity, Reading

NEWEST = "2026-06-12 06:00"
"""Soon after the last reading of the invented yard."""


@pytest.fixture
def say(hivemon, store):
    """Log something and return what was said of it, in one line."""
    del store

    def log(*words: str) -> str:
        answer = hivemon("log", "add", *words)
        assert answer.code == 0, answer.err
        return " ".join(answer.out.split())

    return log


def test_a_wash_without_numbers_says_what_it_lacks_and_how_to_add_it(say, hivemon) -> None:
    said = say("o1", "mite-wash", "--at", NEWEST)
    assert "Without the numbers of mites and bees nothing can be judged by it" in said
    assert "`hivemon log correct 2 --mites 4 --bees 300`" in said
    assert "Without the number of mites nothing" in say("o1", "mite-wash", "--bees", "280", "--at", NEWEST)
    assert "300 bees, half a cup, are taken" in say("o1", "mite-wash", "--mites", "3", "--at", NEWEST)
    said = say("o1", "mite-wash", "--mites", "3", "--bees", "280", "--at", NEWEST)
    assert "half a cup" not in said
    assert "Without" not in said
    assert hivemon("log", "correct", "2", "--mites", "4", "--bees", "300").code == 0


def test_a_second_super_of_a_day_is_mentioned(say) -> None:
    """Entered twice, one box would count as two; really two on one day is no error."""
    assert "same day" not in say("o2", "super-on", "--at", "2026-06-11 10:00")
    said = say("o2", "super-on", "--at", "2026-06-11 16:00")
    assert "Number 2 is a super on o2 on the same day: these count as 2 supers." in said
    assert "`hivemon log strike 3`" in said
    assert "same day" not in say("o2", "super-on", "--at", "2026-06-12 00:30"), "another day"
    assert "same day" not in say("o1", "super-on", "--at", "2026-06-11 16:00"), "another hive"


def test_feeding_under_honey_supers_gets_a_word_of_caution(say) -> None:
    """Common practice: never feed with honey supers on."""
    assert "honey" not in say("o1", "feed", "--kg", "2", "--at", "2026-06-09 10:00"), "before the super of 10 June"
    assert "By the logbook 1 super stood on o1: syrup ends up in honey supers" in say(
        "o1", "feed", "--kg", "2", "--at", "2026-06-11 10:00"
    )
    say("o1", "super-off", "--at", "2026-06-11 12:00")
    assert "honey" not in say("o1", "feed", "--kg", "2", "--at", "2026-06-11 14:00")
    say("o1", "super-on", "--at", "2026-06-11 15:00")
    say("o1", "harvest", "--at", "2026-06-11 16:00")
    assert "honey" not in say("o1", "feed", "--kg", "2", "--at", "2026-06-11 17:00")


def test_an_entry_long_after_the_last_reading_says_that_it_changes_nothing_yet(say, hivemon, store) -> None:
    said = say("o2", "super-on")
    assert "The newest reading of o2 is of 12 June 2026: this entry changes nothing there yet." in said
    assert "`hivemon log correct 2 --at '11 June 2026 16:00'`" in said
    assert hivemon("log", "correct", "2", "--at", "11 June 2026 16:00").code == 0
    assert "changes nothing" not in say("o2", "inspect", "--at", "2026-06-14 06:00")
    store.adopt("orchard", "o3", 0)
    assert "No reading of o3 has come yet" in say("o3", "inspect")
    now = int(time.time() * 1000)
    store.add_readings([Reading(now - DAY, "orchard", "o3", Quantity.WEIGHT, 40.0)])
    assert "reading" not in say("o3", "inspect")


def test_what_a_file_says_is_kept_and_what_is_odd_in_it_is_told(hivemon, store, tmp_path) -> None:
    path = tmp_path / "logbook.csv"
    path.write_text(
        "time,hive,entry,amount,note\n"
        "2026-06-11T08:00:00Z,o1,feed,2,\n"
        "2026-06-11T09:00:00Z,o2,feed,2,\n"
        "2026-06-11T10:00:00Z,o1,mite-wash,400,bees=300\n"
        "2026-06-11T10:30:00Z,o2,super-on,7,\n"
        "2026-06-11T10:45:00Z,o2,super-on,7.5,\n"
        "2026-06-11T11:00:00Z,o1,mite-wash,4,bees=300\n"
    )
    answer = hivemon("import", "--logbook", str(path))
    assert "Logbook: 6 entries new, 0 known already, 0 bad rows." in answer.out
    said = answer.err.splitlines()
    assert len(said) == 3
    assert said[0].startswith("feed of hive o1 at 2026-06-11 10:00: By the logbook 1 super stood on o1")
    assert said[1].startswith("mite-wash of hive o1 at 2026-06-11 12:00: 400 mites on 300 bees cannot be")
    assert said[2].startswith("super-on of hive o2 at 2026-06-11 12:45: Number 5 is a super on o2 on the same day")
    assert LogEntry(time=0, hive="o1", entry=Entry.MITE_WASH, amount=400.0, note="bees=300") in [
        LogEntry(time=0, hive=e.hive, entry=e.entry, amount=e.amount, note=e.note) for e in store.entries("orchard")
    ]

"""From what a person typed to a logbook entry: every refusal has its case."""

from zoneinfo import ZoneInfo

import pytest

from hivemon.cli.entries import amended, amount_of, amount_text, entry_word, note_of, sensible, when
from hivemon.config import UnitSettings
from hivemon.errors import UsageError
from hivemon.model import HOUR, MINUTE, Entry, LogEntry

ZONE = ZoneInfo("Europe/Brussels")
NOW = 1_781_265_600_000
NOTHING = {"hive": None, "entry": None, "at": None, "kg": None, "lb": None, "mites": None, "bees": None, "note": None}
OLD = LogEntry(time=NOW - HOUR, hive="o1", entry=Entry.SUPER_ON, amount=4.2, note="drawn comb", id=7)


def test_every_entry_of_the_contract_can_be_typed() -> None:
    for entry in Entry:
        assert entry_word(entry.value.upper()) is entry


def test_a_slip_of_the_keys_is_met_with_the_nearest_entry() -> None:
    with pytest.raises(UsageError) as caught:
        entry_word("superon")
    assert caught.value.hint == "did you mean super-on?"
    with pytest.raises(UsageError) as caught:
        entry_word("xyzzy")
    assert "scale-reset" in caught.value.hint


@pytest.mark.parametrize(
    ("entry", "given", "expected"),
    [
        (Entry.FEED, {"kg": 2.5}, 2.5),
        (Entry.HARVEST, {"lb": 10.0}, 4.5359237),
        (Entry.MITE_WASH, {"mites": 0}, 0.0),
        (Entry.INSPECT, {}, None),
    ],
)
def test_amounts_are_kept_in_the_entrys_own_unit(entry: Entry, given: dict[str, float], expected: float | None) -> None:
    """10 lb = 4.5359237 kg (international pound, 1959)."""
    everything = {"kg": None, "lb": None, "mites": None} | given
    assert amount_of(entry, **everything) == (None if expected is None else pytest.approx(expected))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("entry", "given", "said"),
    [
        (Entry.INSPECT, {"kg": 1.0}, "inspect has no --kg"),
        (Entry.FEED, {"mites": 3}, "feed has no --mites"),
        (Entry.MITE_WASH, {"kg": 1.0}, "mite-wash has no --kg"),
        (Entry.FEED, {"kg": 1.0, "lb": 2.0}, "say it twice"),
        (Entry.FEED, {"kg": -1.0}, "that cannot be"),
        (Entry.FEED, {"kg": 2000.0}, "that cannot be"),
        (Entry.FEED, {"kg": float("nan")}, "that cannot be"),
        (Entry.MITE_WASH, {"mites": -1}, "that cannot be"),
    ],
)
def test_an_amount_that_makes_no_sense_is_refused(entry: Entry, given: dict[str, float], said: str) -> None:
    everything = {"kg": None, "lb": None, "mites": None} | given
    with pytest.raises(UsageError, match=said):
        amount_of(entry, **everything)  # type: ignore[arg-type]


def test_the_bees_of_a_wash_go_into_the_note_as_the_contract_has_it() -> None:
    assert note_of(Entry.MITE_WASH, "sugar roll", 300) == "bees=300 sugar roll"
    assert note_of(Entry.MITE_WASH, "bees=200 sugar roll", 300) == "bees=300 sugar roll"
    assert note_of(Entry.MITE_WASH, "bees=1,000 sugar roll", 300) == "bees=300 sugar roll"
    assert note_of(Entry.INSPECT, None, None) == ""
    with pytest.raises(UsageError, match="no --bees"):
        note_of(Entry.INSPECT, None, 300)
    with pytest.raises(UsageError, match="cannot be"):
        note_of(Entry.MITE_WASH, None, 0)


def wash(mites: float | None, note: str = "") -> LogEntry:
    return LogEntry(time=NOW, hive="o1", entry=Entry.MITE_WASH, amount=mites, note=note)


@pytest.mark.parametrize(
    ("mites", "note", "said"),
    [
        (400, "bees=300", "400 mites on 300 bees"),
        (4, "bees=3", "3 bees in a wash"),
        (None, "bees=12", "12 bees in a wash"),
        (301, "", "301 mites on 300 bees"),
    ],
)
def test_a_mite_wash_that_cannot_be_is_asked_back_with_what_is_usual(mites, note, said) -> None:
    """About 300 bees, half a cup (Penn State; common practice)."""
    with pytest.raises(UsageError, match=said) as caught:
        sensible(wash(mites, note))
    assert "about 300" in caught.value.hint
    assert "half a cup" in caught.value.hint


@pytest.mark.parametrize("entry", [wash(60, "bees=100"), wash(0), wash(None), wash(300, "bees=1,000")])
def test_a_heavy_count_and_an_empty_one_are_counts(entry) -> None:
    assert sensible(entry) is entry


def test_a_correction_of_a_wash_is_looked_at_as_a_new_one() -> None:
    with pytest.raises(UsageError, match="400 mites on 300 bees"):
        amended(wash(4, "bees=300"), NOTHING | {"mites": 400}, ZONE, NOW)


def test_the_logbook_holds_what_was_done_not_what_is_planned() -> None:
    """Clocks differ by minutes, not by hours."""
    assert when(None, ZONE, NOW).millis == NOW
    assert when("2026-06-12 14:05", ZONE, NOW).millis == NOW + 5 * MINUTE
    with pytest.raises(UsageError, match="has not come yet"):
        when("2026-06-12 14:30", ZONE, NOW)


def test_a_correction_changes_what_is_given_and_nothing_else() -> None:
    assert amended(OLD, NOTHING | {"kg": 3.0}, ZONE, NOW) == LogEntry(
        time=OLD.time, hive="o1", entry=Entry.SUPER_ON, amount=3.0, note="drawn comb", id=7
    )
    assert amended(OLD, NOTHING | {"entry": "feed"}, ZONE, NOW).amount == 4.2, "kg stays kg"
    assert amended(OLD, NOTHING | {"entry": "inspect"}, ZONE, NOW).amount is None, "an inspection has no amount"
    assert amended(OLD, NOTHING | {"note": ""}, ZONE, NOW).note == ""
    assert amended(OLD, NOTHING | {"at": "yesterday 14:00"}, ZONE, NOW).time == NOW - 24 * HOUR
    with pytest.raises(UsageError, match="nothing to correct"):
        amended(OLD, NOTHING, ZONE, NOW)


def test_amounts_are_shown_with_their_unit() -> None:
    assert amount_text(OLD, UnitSettings(weight="lb")) == "9.3 lb"
    assert amount_text(LogEntry(time=0, hive="o1", entry=Entry.MITE_WASH, amount=9), UnitSettings()) == "9 mites"
    assert amount_text(LogEntry(time=0, hive="o1", entry=Entry.INSPECT), UnitSettings()) == ""

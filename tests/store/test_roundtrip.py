"""Everything comes out of the store as it went in: odd unicode, extreme numbers, empty texts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs
from store_samples import advisories, awkward, entries, events, hive_days, names

from hivemon.errors import StoreError, UsageError
from hivemon.model import DAY, HOUR, Entry, HiveDay, LogEntry
from hivemon.store import Answer, Message, Sort, Store, Told
from hivemon.store.quarantine import KEPT_BYTES

T0 = 1_750_000_000_000


@given(st.lists(events, max_size=5), st.lists(advisories, max_size=5), st.lists(hive_days, max_size=5))
def test_events_advisories_and_hive_days_come_back_equal(tmp_path_factory, told, advised, days):
    path = tmp_path_factory.mktemp("any") / "a.db"
    with Store.open(path) as store:
        store.put_events(told)
        store.put_advisories(advised)
        store.put_hive_days(days)
    with Store.open(path, read_only=True) as store:
        last = {e.id: e for e in told}
        assert {e.id: e for e in store.events()} == last
        assert [e.raised for e in store.events()] == sorted(e.raised for e in last.values())
        assert {a.id: a for a in store.advisories()} == {a.id: a for a in advised}
        expected = {(d.yard, d.hive, d.date): d for d in days}
        found = [d for yard in {d.yard for d in days} for d in store.hive_days(yard)]
        assert {(d.yard, d.hive, d.date): d for d in found} == expected
        for event in told:
            assert event in [version.event for version in store.event_history(event.id)]
        for advisory in advised:
            assert advisory in [version.advisory for version in store.advisory_history(advisory.id)]


@given(st.lists(st.tuples(names, entries), max_size=8), awkward, st.binary(max_size=6000))
def test_entries_quarantine_notes_and_snapshots_come_back_equal(tmp_path_factory, written, text, blob):
    with Store.open(tmp_path_factory.mktemp("any") / "a.db") as store:
        added = [(yard, store.add_entry(yard, entry)) for yard, entry in written]
        for yard in {yard for yard, _ in added}:
            mine = sorted((e for y, e in added if y == yard), key=lambda e: (e.time, e.id))
            assert store.entries(yard) == mine
            assert store.add_entries(yard, [e for y, e in written if y == yard]) == ([], len(mine))
        store.quarantine(text, text, blob, T0)
        (kept,) = store.quarantined()
        assert (kept.reason, kept.topic) == (text, text)
        assert (kept.payload, kept.size) == (blob[:KEPT_BYTES], len(blob))
        store.put_note("n", text)
        assert store.facts().notes == {"n": text}
        store.put_snapshot(text, T0, blob)
        assert store.snapshot_before(text, T0 + 1) == (T0, blob)
        store.outbox_put([text, ""], T0)
        assert store.outbox_peek()[0].lines == [text, ""]


@given(st.lists(advisories, max_size=4), awkward, st.booleans(), st.lists(awkward, max_size=3))
def test_messages_answers_and_what_was_told_come_back_equal(tmp_path_factory, advised, text, flag, ids):
    message = Message(
        created=T0,
        yard=text,
        sort=Sort.NOTE,
        date=text,
        urgent=flag,
        reason=text,
        title=text,
        text=text,
        advisories=ids,
    )
    with Store.open(tmp_path_factory.mktemp("any") / "a.db") as store:
        store.queue_message(message, [text])
        (kept,) = store.messages()
        assert kept == store.next_message(text) == structs.replace(message, id=1, channel=text)
        last = {a.id: a for a in advised}
        for answer, advisory in zip([*Answer] * 2, advised, strict=False):
            store.add_answer(advisory, answer, T0, text)
            assert store.answer_history(advisory.id)[-1] == (T0, answer, text, advisory)
        store.put_told(Told(T0, flag, a) for a in advised)
        assert store.told(last) == {name: Told(T0, flag, a) for name, a in last.items()}


def test_text_that_is_no_unicode_is_refused_where_a_person_wrote_it_and_escaped_in_quarantine(store):
    with pytest.raises(StoreError, match="not valid Unicode"):
        store.add_entry("orchard", LogEntry(time=T0, hive="o1", entry=Entry.NOTE, note="caf\udce9"))
    assert store.entries() == []
    store.quarantine("odd \udce9", "hives/\udce9", b"\xe9", T0)
    assert store.quarantined()[0].topic == "hives/\\udce9"


def entry(hour, hive="o1", kind=Entry.INSPECT, amount=None):
    return LogEntry(time=T0 + hour * HOUR, hive=hive, entry=kind, amount=amount)


def test_entries_are_found_by_yard_hive_and_time(store):
    for yard, one in (("orchard", entry(0)), ("orchard", entry(2, "o2")), ("ridge", entry(1, "r1"))):
        store.add_entry(yard, one)
    assert [e.hive for e in store.entries()] == ["o1", "r1", "o2"]
    assert [e.hive for e in store.entries("orchard")] == ["o1", "o2"]
    assert [e.hive for e in store.entries(hive="r1")] == ["r1"]
    assert [e.hive for e in store.entries(since=T0 + HOUR, until=T0 + 2 * HOUR)] == ["r1"]
    assert store.entry_yard(2) == "orchard"


@pytest.mark.parametrize("act", ["correct", "strike", "yard"])
def test_an_entry_that_is_not_there_cannot_be_changed(store, act):
    calls = {
        "correct": lambda: store.correct_entry(5, entry(0)),
        "strike": lambda: store.strike_entry(5),
        "yard": lambda: store.entry_yard(5),
    }
    with pytest.raises(UsageError, match="no logbook entry 5") as caught:
        calls[act]()
    assert caught.value.hint


def test_a_struck_entry_cannot_be_changed_any_more(store):
    one = store.add_entry("orchard", entry(0))
    store.strike_entry(one.id)
    for call in (lambda: store.strike_entry(one.id), lambda: store.correct_entry(one.id, entry(1))):
        with pytest.raises(UsageError, match="struck out already"):
            call()
    assert len(store.entry_history(one.id)) == 2


@pytest.mark.parametrize("amount", [float("nan"), float("inf")])
def test_an_amount_that_is_no_number_is_refused(store, amount):
    with pytest.raises(StoreError, match="amount"):
        store.add_entry("orchard", entry(0, amount=amount))


def test_a_file_imported_again_does_not_bring_back_what_was_corrected_or_struck(store):
    lines = [entry(0), entry(1), entry(2)]
    added, known = store.add_entries("orchard", lines)
    assert (len(added), known) == (3, 0)
    store.strike_entry(added[0].id)
    right = store.correct_entry(added[1].id, entry(5))
    assert store.add_entries("orchard", [*lines, entry(9)])[1] == 3
    assert [e.time for e in store.entries()] == [T0 + 2 * HOUR, right.time, T0 + 9 * HOUR]
    assert store.add_entries("ridge", lines)[1] == 0, "another yard's file is another file"


def test_changes_to_the_logbook_tell_from_when_on_to_judge_again(store):
    assert store.logbook_changes() == (0, {})
    one = store.add_entry("orchard", entry(10))
    store.add_entry("ridge", entry(3))
    seen = store.logbook_changes()
    assert seen.earliest == {"orchard": T0 + 10 * HOUR, "ridge": T0 + 3 * HOUR}
    assert store.logbook_changes(seen.number) == (seen.number, {})
    store.correct_entry(one.id, entry(20))
    later = store.logbook_changes(seen.number)
    assert later.earliest == {"orchard": T0 + 10 * HOUR}, "the time it had before counts too"
    store.strike_entry(one.id)
    assert store.logbook_changes(later.number).earliest == {"orchard": T0 + 20 * HOUR}
    store.add_entry("orchard", entry(30))
    assert store.logbook_changes(later.number).earliest == {"orchard": T0 + 20 * HOUR}


def test_hive_days_are_replaced_by_better_ones_and_found_by_time(store):
    days = [
        HiveDay(yard="orchard", hive="o1", date=f"2025-06-{n:02}", start=T0 + n * DAY, dusk=0, end=0) for n in (1, 2, 3)
    ]
    store.put_hive_days(days)
    better = HiveDay(yard="orchard", hive="o1", date="2025-06-02", start=T0 + 2 * DAY, dusk=0, end=0, net_gain=1.5)
    store.put_hive_days([better])
    assert store.hive_days("orchard") == [days[0], better, days[2]]
    assert store.hive_days("orchard", "o1", since=T0 + 2 * DAY) == [better, days[2]]
    assert store.hive_days("orchard", "o2") == store.hive_days("ridge") == []

"""The yards' fold beside the store: late readings, late entries, crashes and restarts end in what one fold gives."""

import random

import msgspec
import pytest
from folding import HIVES, LOGBOOK, START, YARD, as_readings, fold_whole, last_versions, recording
from hypothesis import HealthCheck, given
from hypothesis import settings as trials
from hypothesis import strategies as st

from hivemon.config import InfluxSettings, Settings, StoreSettings
from hivemon.daemon import taking
from hivemon.daemon.again import Notices, ask_again, judge_now
from hivemon.daemon.judge import LATE_READINGS, LOGBOOK_CHANGED, STARTED, YardJudge
from hivemon.daemon.lock import Lock, is_running
from hivemon.daemon.taking import Taking
from hivemon.fold import advance, begin
from hivemon.intake.link import Message
from hivemon.model import DAY, HOUR, Advisory, Entry, Event, HiveDay, Kind, LogEntry, Reading, rfc3339
from hivemon.rejudge import judged_since, reconcile
from hivemon.rules import Rules
from hivemon.store import Store

STREAMS = recording()
STATE, CHANGES = fold_whole(STREAMS)
READINGS = [Reading(time, "test", stream.hive, stream.quantity, value) for time, stream, value in as_readings(STREAMS)]
SLOWLY = trials(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def settings_for(folder, **fields) -> Settings:
    store = StoreSettings(path=str(folder / "hivemon.db"))
    return Settings(yard=[YARD], hive=HIVES, store=store, **fields)


class Bench:
    """A yard's judge with its store, which can crash and start again."""

    def __init__(self, folder, logbook=LOGBOOK, **fields) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.settings = settings_for(folder, **fields)
        self.store = Store.open(folder / "hivemon.db")
        for entry in logbook:
            self.store.add_entry("test", entry)
        self.restart()

    def restart(self) -> None:
        """Begin anew from what is on the disk."""
        reasons = Notices(self.store).collect()
        self.judge = YardJudge(self.settings, "test", self.store)
        self.judge.stale = reasons.get("test", self.judge.stale)
        self.taking = Taking(self.settings, self.store, {"test": self.judge})

    def keep(self, readings) -> None:
        """Commit readings as the daemon does, without folding them."""
        with self.store.transaction():
            added = self.store.add_readings(readings)
            self.taking._drop_wrong_states("test", added.new)
        self.judge.add(added.new)

    def take(self, readings):
        """Commit readings and fold them."""
        self.keep(readings)
        return self.judge.fold() if self.judge.waits else []

    def look(self) -> None:
        """See what others have changed."""
        for because in Notices(self.store).collect().values():
            self.judge.go_back(because)

    def standing(self) -> dict[str, Event]:
        """Return the events that the store says stand."""
        return {event.id: event for event in self.store.events("test", withdrawn=False)}


@pytest.fixture
def bench(tmp_path):
    """Return a fresh bench."""
    return Bench(tmp_path)


def standing(changes) -> dict[str, Event]:
    return {id_: event for id_, event in last_versions(changes).items() if event.withdrawn is None}


def open_advice(changes) -> dict[str, Advisory]:
    last = {change.id: change for change in changes if isinstance(change, Advisory)}
    return {id_: advisory for id_, advisory in last.items() if advisory.closed is None}


def days(changes) -> dict[tuple[str, str], HiveDay]:
    return {(day.hive, day.date): day for day in changes if isinstance(day, HiveDay)}


def assert_as_one_fold(bench: Bench, changes=CHANGES) -> None:
    """Check that the store says what one fold over the sorted readings says."""
    assert bench.standing() == standing(changes)
    assert {a.id: a for a in bench.store.advisories("test", open_only=True)} == open_advice(changes)
    assert {(day.hive, day.date): day for day in bench.store.hive_days("test")} == days(changes)


# ---------------------------------------------------------------- order, doubling, crashes


def test_readings_in_order_end_in_what_one_fold_gives(bench):
    for first in range(0, len(READINGS), 97):
        bench.take(READINGS[first : first + 97])
    assert_as_one_fold(bench)


@SLOWLY
@given(st.integers(0, 2**31))
def test_any_order_doubling_and_crashes_end_in_what_one_fold_gives(tmp_path_factory, seed):
    """Some readings come late by up to a day and some twice; the program dies at random between any two steps."""
    chance = random.Random(seed)
    doubled = READINGS + chance.sample(READINGS, len(READINGS) // 20)
    shuffled = sorted(doubled, key=lambda r: r.time + (chance.random() < 0.02) * chance.random() * DAY)
    bench = Bench(tmp_path_factory.mktemp("judge"))
    at = 0
    while at < len(shuffled):
        size = chance.randrange(1, 400)
        part = shuffled[at : at + size]
        match chance.random():
            case dice if dice < 0.10:
                bench.keep(part)  # died between the two transactions
                bench.restart()
            case dice if dice < 0.15:
                bench.take(part)  # died after both, and the broker sends again
                bench.restart()
                bench.take(part)
            case _:
                bench.take(part)
        at += size
    bench.restart()
    bench.take([])
    assert_as_one_fold(bench)


def test_a_restart_says_nothing_twice(bench):
    bench.take(READINGS)
    versions = sum(len(bench.store.event_history(id_)) for id_ in bench.standing())
    for _ in range(3):
        bench.restart()
        assert bench.judge.fold() == []
    assert sum(len(bench.store.event_history(id_)) for id_ in bench.standing()) == versions


def test_a_crash_before_the_fold_costs_nothing(bench):
    bench.keep(READINGS)
    bench.restart()
    said = bench.judge.fold()
    assert standing(said) == standing(CHANGES)
    assert_as_one_fold(bench)


def test_a_late_reading_that_was_committed_before_a_crash_is_not_forgotten(bench):
    """The kept states it makes wrong are dropped in the transaction that brings it."""
    left = next(e for e in standing(CHANGES).values() if e.hive == "b" and e.kind in (Kind.SWARM, Kind.UNLOGGED_STEP))
    around = [r for r in READINGS if abs(r.time - left.onset) < 2 * HOUR and r.hive == "b"]
    bench.take([r for r in READINGS if r not in set(around)])
    bench.judge.keep()
    assert left.id not in bench.standing()
    bench.keep(around)
    bench.restart()
    bench.take([])
    assert_as_one_fold(bench)


def test_folding_again_goes_back_no_further_than_needed(bench, monkeypatch):
    bench.take(READINGS[:-200])
    late, rest = READINGS[-200], READINGS[-199:]
    bench.take(rest)
    seen = []
    monkeypatch.setattr("hivemon.daemon.judge.advance", lambda *args: seen.append(args[1]) or advance(*args))
    bench.take([late])
    earliest = min(int(series.time[0]) for part in seen for series in part.values())
    assert earliest >= late.time - 2 * DAY
    assert_as_one_fold(bench)


def test_a_stream_that_fell_silent_long_ago_does_not_have_the_store_read_again(bench, monkeypatch):
    early = [r for r in READINGS if r.hive != "b" or r.time < START + DAY]
    bench.take(early)
    bench.judge.keep()
    asked = []
    real = Store.series
    monkeypatch.setattr(Store, "series", lambda *args: asked.append(args) or real(*args))
    bench.restart()
    bench.judge.fold()
    assert asked == []


# ---------------------------------------------------------------- withdrawing


def test_an_event_that_no_longer_follows_is_withdrawn_with_a_reason_and_its_advice_closed(bench):
    """Before the super on hive c was entered, its six kilograms were asked about."""
    bench.store.strike_entry(1)
    bench.restart()
    bench.take(READINGS)
    asked = [e for e in bench.standing().values() if e.kind is Kind.UNLOGGED_STEP and e.hive == "c"]
    assert asked
    about = [a for a in bench.store.advisories("test", open_only=True) if asked[0].id in a.events]
    bench.store.add_entry("test", LOGBOOK[0])
    bench.look()
    assert bench.judge.stale == LOGBOOK_CHANGED
    bench.judge.fold()
    assert_as_one_fold(bench)
    now = {event.id: event for event in bench.store.events("test")}[asked[0].id]
    assert now.withdrawn == STATE.time
    assert now.withdrawn_because == LOGBOOK_CHANGED
    closed = {a.id: a for a in bench.store.advisories("test")}
    assert all(closed[a.id].closed is not None for a in about)


def test_a_struck_entry_brings_the_event_back(bench):
    bench.take(READINGS)
    assert not [e for e in bench.standing().values() if e.kind is Kind.UNLOGGED_STEP and e.hive == "c"]
    bench.store.strike_entry(1)
    bench.look()
    bench.judge.fold()
    assert_as_one_fold(bench, fold_whole(STREAMS, logbook=[])[1])
    bench.store.add_entry("test", LOGBOOK[0])
    bench.look()
    bench.judge.fold()
    assert_as_one_fold(bench)


def test_a_corrected_entry_touches_the_time_it_had_and_the_time_it_has(bench):
    bench.take(READINGS)
    wrong = msgspec.structs.replace(LOGBOOK[0], time=START + 8 * DAY)
    bench.store.correct_entry(1, wrong)
    bench.look()
    bench.judge.fold()
    assert_as_one_fold(bench, fold_whole(STREAMS, logbook=[wrong])[1])


def test_a_change_of_the_logbook_that_was_noticed_before_a_crash_is_not_forgotten(bench):
    bench.take(READINGS)
    bench.store.strike_entry(1)
    bench.look()
    bench.restart()
    bench.judge.fold()
    assert_as_one_fold(bench, fold_whole(STREAMS, logbook=[])[1])


def test_an_entry_of_the_future_changes_nothing_yet(bench):
    bench.take(READINGS)
    bench.store.add_entry("test", LogEntry(time=STATE.time + DAY, hive="a", entry=Entry.INSPECT))
    bench.look()
    assert bench.judge.fold() == []


# ---------------------------------------------------------------- other processes


def test_readings_another_process_added_are_judged(bench):
    half = START + 4 * DAY
    bench.take([r for r in READINGS if r.time < half or r.hive != "b"])
    with Store.open(bench.store._db.path) as other:
        late = {s: x.since(half) for s, x in STREAMS.items() if s.hive == "b"}
        with other.transaction():
            other.add_series("test", late)
            ask_again(other, {"test": half})
    bench.look()
    assert bench.judge.stale == LATE_READINGS
    bench.judge.fold()
    assert_as_one_fold(bench)
    bench.look()
    assert not bench.judge.waits


def test_a_state_kept_between_the_asking_and_the_noticing_is_not_trusted(bench):
    half = START + 4 * DAY
    bench.take([r for r in READINGS if r.time < half])
    with Store.open(bench.store._db.path) as other:
        other.add_series("test", {s: x.since(half) for s, x in STREAMS.items() if s.hive == "b"})
        ask_again(other, {"test": half})
        ask_again(other, {"test": half + 3 * DAY})
    bench.take([r for r in READINGS if r.time >= half and r.hive != "b"])
    bench.judge.keep()
    bench.restart()
    bench.judge.fold()
    assert_as_one_fold(bench)


def test_judging_without_a_daemon_does_it_at_once_and_with_one_leaves_it_to_it(bench):
    bench.keep(READINGS)
    with Lock.of(bench.settings) as held:
        assert held
        assert is_running(bench.settings)
        assert judge_now(bench.settings, bench.store) is None
        assert bench.standing() == {}
    assert not is_running(bench.settings)
    said = judge_now(bench.settings, bench.store)
    assert standing(said) == standing(CHANGES)
    assert_as_one_fold(bench)
    assert judge_now(bench.settings, bench.store) == []


def test_a_state_of_another_version_is_dropped_and_rebuilt_from_the_readings(bench):
    bench.take(READINGS)
    bench.store.put_snapshot("test", STATE.time + 1, b"of another version")
    bench.restart()
    assert bench.judge.fold() == []
    assert_as_one_fold(bench)


def test_what_was_said_before_the_oldest_reading_kept_is_left_as_it_is(bench):
    """After thinning out, old events cannot be judged again: they stand."""
    bench.take(READINGS)
    before = bench.standing()
    old = {id_ for id_, e in before.items() if e.raised < START + 5 * DAY}
    assert old
    bench.store.retain(START + 12 * DAY, 7)
    bench.store.drop_snapshots("test", 0)
    bench.restart()
    bench.judge.fold()
    assert old <= set(bench.standing())


# ---------------------------------------------------------------- the store in trouble, the copy


def test_a_fold_that_could_not_be_written_is_folded_again(bench, monkeypatch):
    bench.take(READINGS[:1000])
    bench.keep(READINGS[1000:])
    with monkeypatch.context() as patch:
        patch.setattr(Store, "put_events", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
        with pytest.raises(OSError, match="disk full"):
            bench.judge.fold()
    bench.judge.fold()
    assert_as_one_fold(bench)


def test_what_is_said_goes_to_the_outbox_only_where_a_copy_is_wanted(tmp_path):
    for wanted in (False, True):
        influx = InfluxSettings(url="http://127.0.0.1:9") if wanted else None
        bench = Bench(tmp_path / str(wanted), influx=influx)
        bench.judge.fold()
        bench.take(READINGS)
        assert bench.store.outbox_backlog().points == (len(CHANGES) if wanted else 0)


# ---------------------------------------------------------------- reconcile, alone


def some_event(id_: str, raised: int, **fields) -> Event:
    return Event(
        id=id_, kind=Kind.SWARM, yard="test", hive="a", onset=raised, onset_first=raised, raised=raised, confidence=0.5,
        reason="", summary="", **fields,
    )  # fmt: skip


EMPTY_STATE = begin(YARD, HIVES, Rules())


@pytest.mark.parametrize(
    ("stored", "changes", "expected"),
    [
        ([], [some_event("e", 10)], [some_event("e", 10)]),
        ([some_event("e", 10)], [some_event("e", 10)], []),
        ([some_event("e", 10)], [some_event("e", 10, size=2.0)], [some_event("e", 10, size=2.0)]),
        ([some_event("e", 10)], [], [some_event("e", 10, withdrawn=99, withdrawn_because="why")]),
        ([some_event("e", 4)], [], []),
        ([some_event("e", 200)], [], [some_event("e", 200, withdrawn=200, withdrawn_because="why")]),
        ([some_event("e", 10, withdrawn=20, withdrawn_because="x")], [], []),
        ([some_event("e", 10, withdrawn=20, withdrawn_because="x")], [some_event("e", 10)], [some_event("e", 10)]),
        ([], [some_event("e", 10), some_event("e", 10, size=2.0)], [some_event("e", 10, size=2.0)]),
    ],
)
def test_reconcile_writes_what_differs_and_takes_back_what_does_not_follow(stored, changes, expected):
    assert reconcile(EMPTY_STATE, changes, stored, since=5, now=99, because="why") == expected


def test_a_fold_from_a_state_says_everything_since_it_last_decided():
    assert judged_since(EMPTY_STATE, 7) == 7
    assert judged_since(STATE, 7) == STATE.core.decided


# ---------------------------------------------------------------- messages into readings


def message(payload: str, topic: str = "hives/test/a") -> Message:
    return Message(topic, payload.encode(), START, retained=False, token=(1, 1))


def test_messages_become_readings_quarantine_and_adopted_hives(bench, caplog):
    caplog.set_level("INFO", "hivemon.daemon")
    good = f'[{{"bt":{START // 1000},"n":"weight","v":41.5}},{{"n":"humidity","v":900}}]'
    taken = bench.taking.take(
        [message(good), message(good, "hives/test/stranger"), message("nonsense"), message(good, "hives/nowhere/a")],
        START,
    )
    assert taken == (2, 0, 4)
    assert {s.hive for s in bench.store.streams("test")} == {"a", "stranger"}
    assert [(a.yard, a.hive, a.time) for a in bench.store.adopted()] == [("test", "stranger", START)]
    reasons = [q.reason for q in bench.store.quarantined()]
    assert len(reasons) == 4
    assert any("no yard 'nowhere'" in reason for reason in reasons)
    assert sum("new hive stranger" in record.message for record in caplog.records) == 1
    assert bench.taking.take([message(good, "hives/test/stranger")], START) == (0, 1, 1)
    assert sum("new hive stranger" in record.message for record in caplog.records) == 1
    bench.restart()
    bench.taking.take([message(good.replace("41.5", "42"), "hives/test/stranger")], START)
    assert sum("new hive stranger" in record.message for record in caplog.records) == 1


def test_a_client_that_makes_up_names_is_stopped_at_a_bound(bench, monkeypatch):
    """Also within one batch, and also after a restart; known hives go on."""
    monkeypatch.setattr(taking, "MOST_STRANGERS", 3)
    pack = '[{{"bt":{},"n":"weight","v":41.5}}]'
    made_up = [message(pack.format(START // 1000), f"hives/test/made-up-{n}") for n in range(5)]
    assert bench.taking.take(made_up, START) == (3, 0, 2)
    bench.restart()
    more = [message(pack.format(START // 1000 + 60), f"hives/test/{hive}") for hive in ("a", "made-up-0", "made-up-9")]
    assert bench.taking.take(more, START) == (2, 0, 1)
    assert len(bench.store.adopted()) == 3
    assert "write this one into the configuration" in bench.store.quarantined(1)[0].reason


def test_another_value_for_the_same_moment_is_set_aside_with_its_reason(bench):
    pack = '[{{"bt":{},"n":"weight","v":{}}}]'
    bench.taking.take([message(pack.format(START // 1000, 41.5))], START)
    assert bench.taking.take([message(pack.format(START // 1000, 42.0))], START) == (0, 0, 1)
    assert rfc3339(START) in bench.store.quarantined(1)[0].reason
    assert [x.value.tolist() for x in bench.store.series("test").values()] == [[41.5]]


def test_an_error_of_our_own_in_one_message_does_not_hold_up_the_others(bench, monkeypatch):
    real = bench.taking.translator.translate

    def translate(topic, *args, **options):
        if topic == "hives/test/b":
            raise ZeroDivisionError
        return real(topic, *args, **options)

    monkeypatch.setattr(bench.taking.translator, "translate", translate)
    pack = f'[{{"bt":{START // 1000},"n":"weight","v":41.5}}]'
    assert bench.taking.take([message(pack, "hives/test/b"), message(pack)], START) == (1, 0, 1)
    assert "error of the program" in bench.store.quarantined(1)[0].reason


def test_the_judge_begins_by_saying_why_it_folds_again(tmp_path):
    assert Bench(tmp_path, logbook=()).judge.stale == STARTED


def test_what_is_told_at_another_moment_than_before_does_not_stand_twice_in_influxdb(tmp_path):
    """A point's place in InfluxDB is its time, so the one of the earlier telling is marked as taken back."""
    bench = Bench(tmp_path, influx=InfluxSettings(url="http://127.0.0.1:9"))
    event = Event(
        id="e", kind=Kind.SWARM, yard="test", hive="h1", onset=START, onset_first=START, raised=START, size=2.0,
        unit="kg", confidence=0.9, reason="r", summary="s",
    )  # fmt: skip
    bench.judge._write(STATE, [event])
    bench.judge._write(STATE, [msgspec.structs.replace(event, raised=START + HOUR)])
    points = [line for batch in bench.store.outbox_peek() for line in batch.lines if line.startswith("event")]
    told = [(int(line.rsplit(" ", 1)[1]), "withdrawn=true" in line) for line in points]
    assert told == [(START, False), (START, True), (START + HOUR, False)]
    assert bench.store.event("e").raised == START + HOUR
    assert bench.store.event("e").withdrawn is None

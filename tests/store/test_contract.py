"""One test for every numbered sentence of hivemon/store/CONTRACT.md, which each test quotes."""

import contextlib
import os
import random
import re
import resource
import sqlite3
import time
from pathlib import Path

import numpy as np
import pytest
from msgspec import structs
from power_cuts import Case, built, cases, judged
from processes import finish, run, start

import hivemon.store
from hivemon.errors import StoreError
from hivemon.model import (
    DAY,
    HOUR,
    MINUTE,
    Advisory,
    Entry,
    Event,
    Kind,
    LogEntry,
    Quantity,
    Reading,
    Series,
    Stream,
    Urgency,
)
from hivemon.store import Added, Answer, Message, Sort, Store, Told
from hivemon.store.database import Database
from hivemon.store.means import WINDOW, Means, summarise
from hivemon.store.migrations import MIGRATIONS, Migration, migrate
from hivemon.store.quarantine import KEPT

CONTRACT = Path(hivemon.store.__file__).with_name("CONTRACT.md")
T0 = 1_750_000_000_000
OLD = T0 - T0 % WINDOW
NOW = OLD + 500 * DAY
WEIGHT = Stream("o1", Quantity.WEIGHT)
TESTED = {}


def sentence(number):
    """Mark a test as the one for a sentence; its docstring must be that sentence."""

    def mark(test):
        assert number not in TESTED
        TESTED[number] = " ".join(test.__doc__.split())
        return test

    return mark


def reading(minute, value=50.0):
    return Reading(T0 + minute * MINUTE, "orchard", "o1", Quantity.WEIGHT, value)


def times(path):
    with Store.open(path) as store:
        series = store.series("orchard")
        return [] if not series else [(int(t) - T0) // MINUTE for t in series[WEIGHT].time]


def test_every_sentence_of_the_contract_has_its_test():
    text = re.sub(r"\n   +", " ", CONTRACT.read_text(encoding="utf-8"))
    promised = {int(n): words for n, words in re.findall(r"^(\d+)\. (.+)$", text, re.MULTILINE)}
    assert promised
    assert promised == TESTED


@sentence(1)
def test_written_survives_the_process(path):
    """When a writing method returns outside `transaction()`, what it wrote survives the death of the process."""
    run(
        """
        store = Store.open(path)
        store.add_readings([Reading(T0, "orchard", "o1", Quantity.WEIGHT, 50.0)])
        store.add_series("orchard", {Stream("o1", Quantity.WEIGHT): Series(np.array([T0 + MINUTE]), np.array([51.0]))})
        store.add_entry("orchard", LogEntry(time=T0, hive="o1", entry=Entry.NOTE, note="seen"))
        store.outbox_put(["a b=1 1"], T0)
        store.quarantine("odd", "hives/x", b"?", T0)
        store.put_snapshot("orchard", T0, b"state")
        store.adopt("orchard", "o7", T0)
        die()
        """,
        path,
        killed=True,
    )
    assert times(path) == [0, 1]
    with Store.open(path) as store:
        assert [e.note for e in store.entries()] == ["seen"]
        assert store.outbox_peek()[0].lines == ["a b=1 1"]
        assert store.quarantined()[0].payload == b"?"
        assert store.snapshot_before("orchard", T0 + 1).blob == b"state"
        assert [a.hive for a in store.adopted()] == ["o7"]
        assert store.check() == []


@sentence(2)
def test_transactions_are_whole(path):
    """Everything inside `transaction()` is kept together or not at all, even when the process is killed in the
    middle."""
    rng = np.random.default_rng(5)
    for delay in rng.uniform(0.0, 0.15, 6):
        process = start(
            """
            store = Store.open(path)
            kept = store.series("orchard").get(Stream("o1", Quantity.WEIGHT))
            number = 0 if kept is None else len(kept.time)
            while True:
                with store.transaction():
                    for _ in range(10):
                        for hive in ("o1", "o2"):
                            row = Reading(T0 + number * MINUTE, "orchard", hive, Quantity.WEIGHT, 50.0)
                            store.add_readings([row])
                        number += 1
                    store.outbox_put([f"n v={number}i"], T0)
                print(number, flush=True)
            """,
            path,
        )
        process.stdout.readline()
        time.sleep(delay)
        process.kill()
        said = finish(process, killed=True).split("\n")[:-1]
        with Store.open(path) as store:
            series = store.series("orchard")
            counts = {len(s.time) for s in series.values()}
            (count,) = counts
            assert count % 10 == 0
            assert not said or count >= int(said[-1]), "a commit that was reported is lost"
            assert store.outbox_backlog().points == count // 10
            assert store.check() == []


@sentence(3)
def test_nested_transactions(store):
    """A nested `transaction()` that fails undoes itself and nothing else."""
    with store.transaction():
        store.add_readings([reading(0)])
        with contextlib.suppress(KeyError), store.transaction():
            store.add_readings([reading(1), reading(2)])
            raise KeyError
        assert store.add_readings([reading(2)]) == Added([reading(2)], 0, [])
    assert len(store.series("orchard")[WEIGHT].time) == 2
    with contextlib.suppress(KeyError), store.transaction():
        store.add_readings([reading(5)])
        raise KeyError
    assert store.add_readings([reading(4)]).new, "what was rolled back must not be remembered"


@sentence(4)
def test_wal_and_full(store):
    """The file is in WAL mode with `synchronous=FULL`, so a commit returns only after the disk has been told to
    keep it."""
    assert store._db.one("PRAGMA journal_mode") == ("wal",)
    assert store._db.one("PRAGMA synchronous") == (2,)


def disk_full(_, store):
    (pages,) = store._db.one("PRAGMA page_count")
    store._db.run(f"PRAGMA max_page_count = {pages + 2}")
    yield store, "disk is full"
    store._db.run("PRAGMA max_page_count = 1000000")
    yield store, None


def locked(path, _):
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    quick = Store.open(path, busy=50)
    yield quick, "does not let go"
    other.execute("ROLLBACK")
    other.close()
    yield quick, None
    quick.close()


def only_to_be_read(path, store):
    with Store.open(path, read_only=True) as reader:
        yield reader, "may only be read"
    yield store, None


@sentence(5)
def test_every_trouble_is_a_store_error_with_a_hint(path, store):
    """A full disk, a file that may only be read, a lock held by another, a damaged file and a file that is no database
    each raise StoreError with a hint."""
    for trouble in (disk_full, locked, only_to_be_read):
        for broken, words in trouble(path, store):
            if words:
                with pytest.raises(StoreError, match=words) as caught:
                    write_much(broken)
                assert caught.value.hint
                assert str(path) in str(caught.value)
    text = path.with_name("text.db")
    text.write_text("this is a letter, not a database" * 100)
    with pytest.raises(StoreError, match="not a SQLite database") as caught:
        Store.open(text)
    assert caught.value.hint
    with pytest.raises(StoreError, match="damaged") as caught:
        use_damaged(path.with_name("damaged.db"))
    assert ".recover" in caught.value.hint


def write_much(store):
    store.add_series("orchard", {WEIGHT: Series(T0 + np.arange(20_000) * MINUTE, np.arange(20_000.0))})


def use_damaged(path):
    with Store.open(path) as store:
        write_much(store)
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(size // 3)
        file.write(os.urandom(size // 3))
    with Store.open(path) as store:
        assert store.check()
        store.series("orchard")


@sentence(6)
def test_nothing_is_lost_by_trouble(path, store):
    """After any such error everything committed before is still there, and the same call works once the cause is
    gone."""
    store.add_readings([reading(-5)])
    for trouble in (disk_full, locked, only_to_be_read):
        before = times(path)
        for opened, words in trouble(path, store):
            if words:
                with pytest.raises(StoreError):
                    write_much(opened)
                assert times(path) == before
            else:
                write_much(opened)
                assert len(times(path)) == 20_001
                store._db.run("DELETE FROM reading WHERE time >= ?", (T0,))
    assert store.check() == []


def test_a_disk_that_really_takes_no_more(path):
    """The operating system refuses to let the file grow (setrlimit, POSIX), with the same outcome."""
    out = run(
        """
        import resource
        from hivemon.errors import StoreError
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        store = Store.open(path)
        store.add_readings([Reading(T0, "orchard", "o1", Quantity.WEIGHT, 50.0)])
        limit = Path(f"{path}-wal").stat().st_size + 20_000
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
        more = [Reading(T0 + k, "orchard", "o1", Quantity.WEIGHT, 50.0) for k in range(1, 50_000)]
        try:
            store.add_readings(more)
        except StoreError as error:
            print(bool(error.hint), error)
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        print(len(store.series("orchard")[Stream("o1", Quantity.WEIGHT)].time), len(store.add_readings(more).new))
        print(store.check())
        """,
        path,
    )
    said, counts, check = out.splitlines()
    assert re.match(r"True cannot use the database .*(disk is full|takes no more)", said)
    assert (counts, check) == ("1 49999", "[]")
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY


def test_a_file_without_the_right_to_write(tmp_path):
    """File rights of a real user: root is let through everywhere, so as root the test becomes nobody."""
    path = tmp_path / "hivemon.db"
    with Store.open(path) as store:
        store.add_readings([reading(0)])
    body = """
        from hivemon.errors import StoreError
        if os.geteuid() == 0:
            os.chroot(path.parent)
            os.chdir("/")
            path = Path("/") / path.name
            os.setgid(65534)
            os.setuid(65534)
        try:
            Store.open(path).add_readings([Reading(T0 + 1, "orchard", "o1", Quantity.WEIGHT, 50.0)])
        except StoreError as error:
            print(bool(error.hint), "may only be read" in str(error) or "cannot be opened" in str(error))
        """
    for name in (path, *tmp_path.glob("hivemon.db-*")):
        name.chmod(0o444)
    tmp_path.chmod(0o555)
    try:
        assert run(body, path) == "True True\n"
    finally:
        tmp_path.chmod(0o755)
        path.chmod(0o644)
    assert times(path) == [0]


@sentence(7)
def test_migrations_are_whole(path):
    """A migration and the row that records it commit together; one that is interrupted leaves the file as it was."""
    with Store.open(path) as store:
        store.add_readings([reading(0)])
        names = [(number, migration.name) for number, migration in enumerate(MIGRATIONS, start=1)]
        assert store._db.rows("SELECT number, name FROM migration") == names
    broken = (*MIGRATIONS, Migration("half", ("CREATE TABLE extra (a)", "CREATE TABLE nonsense (")))
    database = Database.open(path)
    with pytest.raises(StoreError):
        migrate(database, T0, broken)
    database.close()
    run(
        """
        from hivemon.store.database import Database
        from hivemon.store.migrations import MIGRATIONS, Migration, migrate
        def statements():
            yield "CREATE TABLE extra (a)"
            yield "INSERT INTO extra VALUES (1)"
            die()
        migrate(Database.open(path), T0, (*MIGRATIONS, Migration("half", statements())))
        """,
        path,
        killed=True,
    )
    database = Database.open(path)
    assert database.one("PRAGMA user_version") == (len(MIGRATIONS),)
    assert database.one("SELECT count(*) FROM sqlite_schema WHERE name = 'extra'") == (0,)
    whole = (*MIGRATIONS, Migration("whole", ("CREATE TABLE extra (a)",)))
    migrate(database, T0, whole)
    migrate(database, T0 + 1, whole)
    last = (len(MIGRATIONS) + 1, "whole", T0)
    assert database.rows("SELECT number, name, applied FROM migration")[len(MIGRATIONS) :] == [last]
    database.close()
    with pytest.raises(StoreError, match="newer"):
        Store.open(path)


@sentence(8)
def test_foreign_files(path):
    """A file from a newer hivemon, or of another program, is refused and left untouched."""
    Store.open(path).close()
    newer = sqlite3.connect(path)
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    foreign = path.with_name("foreign.db")
    other = sqlite3.connect(foreign)
    other.execute("CREATE TABLE shopping (list)")
    other.close()
    for file, words in ((path, "newer hivemon"), (foreign, "another program")):
        before = schema(file)
        for read_only in (False, True):
            with pytest.raises(StoreError, match=words) as caught:
                Store.open(file, read_only=read_only)
            assert caught.value.hint
        assert schema(file) == before


def schema(path):
    connection = sqlite3.connect(path)
    found = [
        connection.execute(sql).fetchall()
        for sql in ("SELECT * FROM sqlite_schema", "PRAGMA user_version", "PRAGMA application_id")
    ]
    connection.close()
    return found


@sentence(9)
def test_opening_together(path):
    """Two processes that open a new file at the same moment both succeed, and each migration runs once."""
    for turn in range(3):
        new = path.with_name(f"{turn}.db")
        body = f"while time.time() < {time.time() + 0.8}: pass\nStore.open(path).close()"
        for process in [start(body, new) for _ in range(2)]:
            finish(process)
        with Store.open(new) as store:
            assert store._db.one("SELECT count(*) FROM migration") == (len(MIGRATIONS),)


@sentence(10)
def test_duplicates(store):
    """A reading is kept once: the same stream, time and value again is a duplicate and changes nothing."""
    store.add_readings([reading(0), reading(1)])
    assert store.add_readings([reading(1), reading(0)]) == Added([], 2, [])
    assert len(store.series("orchard")[WEIGHT].time) == 2


@sentence(11)
def test_conflicts(store):
    """The same stream and time with another value is a conflict: the first is kept and the other is reported."""
    store.add_readings([reading(0)])
    assert store.add_readings([reading(0, 49.0)]) == Added([], 0, [reading(0, 49.0)])
    assert store.latest("orchard") == {WEIGHT: (T0, 50.0)}


@sentence(12)
def test_several_writers(path):
    """What is new is told rightly even when other processes write to the same file meanwhile."""
    body = f"""
        store = Store.open(path)
        new = 0
        while time.time() < {time.time() + 1.5}:
            pass
        for first in np.random.default_rng(int(sys.argv[2])).permutation(300).tolist():
            rows = [Reading(T0 + k, "orchard", "o1", Quantity.WEIGHT, 1.0) for k in range(5 * first, 5 * first + 10)]
            new += len(store.add_readings(rows).new)
            time.sleep(0.001)
        print(new)
        """
    with Store.open(path):
        processes = [start(body, path, seed) for seed in range(2)]
        new = [int(finish(process)) for process in processes]
        assert sum(new) == 1505
        assert min(new) > 0, "they must really have taken turns"


@sentence(13)
def test_no_numbers(store):
    """A value that is not a finite number is refused, and with it the whole call."""
    with pytest.raises(StoreError):
        store.add_readings([reading(0), reading(1, float("nan"))])
    assert store.series("orchard") == {}


def old_series(seed=3):
    rng = np.random.default_rng(seed)
    moments = OLD + np.unique(rng.integers(0, 70 * DAY, 6000))
    return Series(moments, 40 + rng.normal(0, 3, len(moments)))


def check_means(found, raw):
    expected = summarise(raw)
    for name, one, other in zip(Means._fields, found, expected, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-12 if name == "mean" else 0, err_msg=name)


@sentence(14)
def test_thinning_out(path, store):
    """Readings older than `raw_days` become 15-minute means in the same transaction that drops them."""
    raw = old_series()
    store.add_series("orchard", {WEIGHT: raw})
    seen = []
    original = store._db.run

    def spy(sql, parameters=()):
        if sql in ("COMMIT", "DELETE FROM reading WHERE series = ? AND time < ?"):
            with Store.open(path, read_only=True) as other:  # what others see while this one is at work
                seen.append(int(other.means("orchard")[WEIGHT].n.sum()))
        return original(sql, parameters)

    store._db.run = spy
    done = store.retain(NOW - 450 * DAY, 20)
    assert seen
    assert set(seen) == {len(raw.time)}
    left = store.series("orchard")[WEIGHT]
    np.testing.assert_array_equal(left.time, raw.since(OLD + 30 * DAY).time)
    assert done.readings == len(raw.time) - len(left.time)
    check_means(store.means("orchard")[WEIGHT], raw)
    for window in range(0, 96, 7):  # against plain arithmetic
        part = raw.between(OLD + window * WINDOW, OLD + (window + 1) * WINDOW).value
        means = store.means("orchard", OLD + window * WINDOW, OLD + (window + 1) * WINDOW)
        if len(part):
            row = means[WEIGHT]
            assert (row.n[0], row.low[0], row.high[0]) == (len(part), part.min(), part.max())
            assert row.mean[0] == pytest.approx(part.mean(), rel=1e-12)
        else:
            assert means == {}


def test_only_whole_windows_are_thinned_out(store):
    raw = Series(OLD + np.arange(60) * MINUTE, np.ones(60))
    store.add_series("orchard", {WEIGHT: raw})
    assert store.retain(OLD + 400 * DAY + 44 * MINUTE, 400) == (30, 2)
    assert store.series("orchard")[WEIGHT].time[0] == OLD + 30 * MINUTE
    assert list(store.means("orchard")[WEIGHT].n) == [15, 15, 15, 15]


@sentence(15)
def test_thinning_out_again(path):
    """Thinning out twice changes nothing, and a stop in the middle loses nothing."""
    raw = old_series()
    with Store.open(path) as store:
        store.add_series("orchard", {WEIGHT: raw})
    for statement in ("DELETE FROM reading WHERE", "INSERT OR REPLACE INTO mean", "COMMIT"):
        run(
            f"""
            store = Store.open(path)
            def deadly(original):
                def do(sql, *rest):
                    if sql.startswith({statement!r}):
                        deadly.count += 1
                        if deadly.count == 2:
                            die()
                    return original(sql, *rest)
                return do
            deadly.count = 0
            store._db.run, store._db.run_many = deadly(store._db.run), deadly(store._db.run_many)
            store.retain({NOW}, 400)
            """,
            path,
            killed=True,
        )
        with Store.open(path) as store:
            check_means(store.means("orchard")[WEIGHT], raw)
            assert store.check() == []
    with Store.open(path) as store:
        store.retain(NOW, 400)
        once = store._db.rows("SELECT * FROM mean")
        assert store.retain(NOW, 400) == (0, 0)
        assert store._db.rows("SELECT * FROM mean") == once
        check_means(store.means("orchard")[WEIGHT], raw)


@sentence(16)
def test_counted_is_a_duplicate(path):
    """A reading that was counted in a mean is still a duplicate when it comes again."""
    raw = old_series()
    with Store.open(path) as store:
        store.add_series("orchard", {WEIGHT: raw})
        store.retain(NOW, 400)
        check_all_are_duplicates(store, raw)
    with Store.open(path) as store:  # with nothing remembered
        check_all_are_duplicates(store, raw)


def check_all_are_duplicates(store, raw):
    assert store.series("orchard") == {}
    one_by_one = [
        Reading(int(t), "orchard", "o1", Quantity.WEIGHT, float(v))
        for t, v in zip(raw.time[:500], raw.value[:500], strict=True)
    ]
    assert store.add_readings(one_by_one) == Added([], 500, [])
    assert store.add_series("orchard", {WEIGHT: raw}) == (0, len(raw.time), 0)


@sentence(17)
def test_late_for_a_thinned_window(store):
    """A reading that comes for a window after it was thinned is kept, and counted in its mean at the next turn."""
    first, second = OLD + MINUTE, OLD + 5 * MINUTE
    store.add_readings([Reading(t, "orchard", "o1", Quantity.WEIGHT, v) for t, v in ((first, 1.0), (second, 2.0))])
    store.retain(NOW, 400)
    late = Reading(OLD + 10 * MINUTE, "orchard", "o1", Quantity.WEIGHT, 6.0)
    assert store.add_readings([late]).new == [late]
    bulk = Series(np.array([OLD, OLD + 14 * MINUTE]), np.array([0.0, 1.0]))
    assert store.add_series("orchard", {WEIGHT: bulk}).new == 2
    for _ in range(2):
        row = store.means("orchard")[WEIGHT]
        assert (row.n[0], row.mean[0], row.low[0], row.high[0]) == (5, 2.0, 0.0, 6.0)
        store.retain(NOW, 400)
        assert store.series("orchard") == {}


@sentence(18)
def test_newest_outlives_thinning(store):
    """A yard's newest reading is known, also once it has been counted in a mean."""
    assert store.newest("orchard") is store.newest() is None
    last = OLD + 16 * MINUTE + 7
    store.add_readings(
        [Reading(t, "orchard", "o1", Quantity.WEIGHT, 1.0) for t in (OLD, last)]
        + [Reading(OLD + DAY, "ridge", None, Quantity.RAIN, 0.2)]
    )
    for _ in range(2):
        found = store.newest("orchard"), store.newest("ridge"), store.newest("elsewhere"), store.newest()
        assert found == (last, OLD + DAY, None, OLD + DAY)
        store.retain(NOW, 400)
    store.add_readings([Reading(OLD + MINUTE, "orchard", "o1", Quantity.WEIGHT, 1.0)])
    assert store.newest("orchard") == last, "a late reading of a thinned stream is not its newest"
    store.add_readings([Reading(NOW, "orchard", None, Quantity.RAIN, 0.2)])
    found = store.newest("orchard"), store.newest("orchard", "o1"), store.newest("orchard", "o2")
    assert found == (NOW, last, None), "a yard speaks for none of its hives"


@sentence(19)
def test_logbook_history(path):
    """A corrected or struck logbook entry keeps its history."""
    clock = iter(range(1, 100))
    with Store.open(path, clock=lambda: next(clock)) as store:
        first = store.add_entry("orchard", LogEntry(time=T0, hive="o1", entry=Entry.SUPER_ON, amount=4.0))
        right = store.correct_entry(first.id, LogEntry(time=T0 + HOUR, hive="o2", entry=Entry.SUPER_ON, amount=5.0))
        assert store.entries() == [right]
        assert store.strike_entry(first.id) == right
        assert store.entries() == []
        history = store.entry_history(first.id)
        assert [(v.change, v.entry) for v in history] == [("added", first), ("corrected", right), ("struck", right)]
        assert [v.recorded for v in history] == sorted({v.recorded for v in history})


@sentence(20)
def test_versions(store):
    """Every version of an event and of an advisory is kept."""
    events = [
        Event(
            id="e", kind=Kind.SWARM, yard="orchard", hive="o1", onset=T0 + n, onset_first=T0, raised=T0,
            withdrawn=T0 + n if n == 2 else None, confidence=0.5, reason="r", summary="s",
        )
        for n in range(3)
    ]  # fmt: skip
    advisories = [
        Advisory(
            id="a", yard="orchard", hive="o1", raised=T0, updated=T0 + n, closed=T0 + n if n == 2 else None,
            urgency=Urgency.TODAY, title="t", saw="s", means="m",
        )
        for n in range(3)
    ]  # fmt: skip
    for event, advisory in zip(events, advisories, strict=True):
        assert store.put_events([event]) == store.put_advisories([advisory]) == 1
        assert store.put_events([event]) == store.put_advisories([advisory]) == 0
    assert store.events() == [events[-1]]
    assert store.events(withdrawn=False) == []
    assert store.advisories() == [advisories[-1]]
    assert store.advisories(open_only=True) == []
    assert [v.event for v in store.event_history("e")] == events
    assert [v.advisory for v in store.advisory_history("a")] == advisories


@sentence(21)
def test_quarantine_bound(store):
    """The quarantine keeps the last 1,000 messages with their reasons, and counts all there ever were."""
    assert store.quarantine_count() == 0
    with store.transaction():
        for number in range(KEPT + 30):
            store.quarantine(f"reason {number}", "hives/orchard", b"x" * 10_000, T0 + number)
    kept = store.quarantined(10_000)
    assert [q.reason for q in kept] == [f"reason {n}" for n in range(KEPT + 29, 29, -1)]
    assert (kept[0].topic, kept[0].received, kept[0].size) == ("hives/orchard", T0 + KEPT + 29, 10_000)
    assert len(kept[0].payload) < kept[0].size
    assert store.quarantine_count() == store.facts().quarantined == KEPT + 30


@sentence(22)
def test_outbox_order(path):
    """Points leave the outbox only when they are dropped, in the order in which they came."""
    with Store.open(path) as store:
        for number in range(4):
            store.outbox_put([f"a v={number}i", "b v=1i"], T0 + number)
        store.outbox_put([], T0)
    with Store.open(path) as store:
        assert store.outbox_backlog() == (8, T0)
        first = store.outbox_peek(5)
        assert first == store.outbox_peek(5)
        assert [b.lines for b in first] == [["a v=0i", "b v=1i"], ["a v=1i", "b v=1i"]]
        assert [b.created for b in store.outbox_peek(1)] == [T0], "one batch at least, however large"
        store.outbox_drop([b.id for b in first])
        assert [b.created for b in store.outbox_peek(100)] == [T0 + 2, T0 + 3]
        assert store.outbox_backlog() == (4, T0 + 2)
        store.outbox_drop([b.id for b in store.outbox_peek(100)])
        assert (store.outbox_peek(), store.outbox_backlog()) == ([], (0, None))


@sentence(23)
def test_outbox_grows(store):
    """The outbox has no upper limit: a server that is away costs disk, not data."""
    lines = [f"reading,yard=orchard,hive=o1,quantity=weight value={k / 8} {T0 + k}" for k in range(200_000)]
    for first in range(0, len(lines), 50_000):
        store.outbox_put(lines[first : first + 50_000], T0)
    assert store.outbox_backlog() == (200_000, T0)
    got = []
    while batches := store.outbox_peek(5000):
        assert sum(len(b.lines) for b in batches) <= 5000
        got += [line for b in batches for line in b.lines]
        store.outbox_drop([b.id for b in batches])
    assert got == lines


def notice(number=0, **more):
    return Message(
        **{"created": T0 + number, "yard": "orchard", "sort": Sort.ADVICE, "title": "t", "text": "s", **more}
    )


def advised(**more):
    fields = {"id": "a", "yard": "orchard", "hive": "o1", "raised": T0, "updated": T0, "urgency": Urgency.NOW}
    return Advisory(**{**fields, "title": "t", "saw": "s", "means": "m", **more})


@sentence(24)
def test_message_queue(path):
    """A message to people waits for each of its channels by itself until it is marked as sent, however often a try
    fails."""
    with Store.open(path) as store:
        store.queue_message(notice(title="note"), ["mail", "file"])
        store.queue_message(notice(1, title="alarm", urgent=True, advisories=["a"]), ["mail"])
    with Store.open(path) as store:
        assert store.messages_waiting() == {"mail": (2, T0), "file": (1, T0)}
        first = store.next_message("mail")
        assert (first.title, first.urgent, first.advisories, first.sent) == ("alarm", True, ["a"], None)
        for attempt in range(100):
            assert store.next_message("mail").attempts == attempt
            store.mark_failed(first.id, T0 + attempt)
        assert store.next_message("mail") == structs.replace(first, attempts=100, tried=T0 + 99)
        assert store.next_message("mail", [first.id]).title == "note"
        store.mark_sent(store.next_message("mail", [first.id]).id, T0 + 99)
        assert store.next_message("mail", [first.id]) is None
        store.mark_sent(first.id, T0 + 100)
        assert store.next_message("mail") is None
        assert store.messages_waiting() == {"file": (1, T0)}
        assert {(m.channel, m.title, m.sent) for m in store.messages()} == {
            ("mail", "note", T0 + 99), ("mail", "alarm", T0 + 100), ("file", "note", None),
        }  # fmt: skip


@sentence(25)
def test_answers(store):
    """Every answer to an advisory is kept with the advisory as it stood then; the last one counts."""
    first, later = advised(), advised(updated=T0 + 5, title="changed")
    store.add_answer(first, Answer.SEEN, T0 + 1)
    store.add_answer(later, Answer.WRONG, T0 + 9, "it was the cat")
    store.add_answer(advised(id="b"), Answer.DONE, T0 + 2)
    assert store.answer_history("a") == [
        (T0 + 1, "seen", "", first), (T0 + 9, "wrong", "it was the cat", later),
    ]  # fmt: skip
    assert {name: a.answer for name, a in store.answers().items()} == {"a": Answer.WRONG, "b": Answer.DONE}


@sentence(26)
def test_power_cuts(tmp_path):
    """After a power cut the store opens with everything that was acknowledged, or it says that it is damaged or what
    the disk has lost."""
    base = built(tmp_path)
    for kind in Case:
        for number, case in enumerate(cases(base, kind, random.Random(3), 4)):
            assert judged(base, case, tmp_path / f"{kind.name}{number}") in kind.allowed


def test_a_file_of_the_first_form_is_brought_up_to_date_and_keeps_everything(path):
    database = Database.open(path)
    migrate(database, T0, MIGRATIONS[:1])
    database.close()
    with pytest.raises(StoreError, match="older"):
        Store.open(path, read_only=True)
    with Store.open(path) as store:
        assert store.put_advisories([advised()]) == 1
        store.put_told([Told(T0, True, advised())])
    with Store.open(path) as store:
        assert store.advisories() == [advised()]
        assert store.told(["a", "b"]) == {"a": Told(T0, True, advised())}


def test_what_closed_after_a_message_of_its_own_is_found_until_that_is_told(store):
    """News that goes with the morning note needs no all-clear; what had its own message does."""
    over = {name: advised(id=name, closed=T0 + 7) for name in ("alarm", "quiet", "unsaid")}
    store.put_told([Told(T0, True, advised(id="alarm")), Told(T0, False, advised(id="quiet"))])
    store.put_advisories(over.values())
    assert store.closed_unsaid("orchard", T0) == [over["alarm"]]
    assert store.closed_unsaid("heath", T0) == store.closed_unsaid("orchard", T0 + 8) == []
    store.put_told([Told(T0 + 9, False, over["alarm"])])
    assert store.closed_unsaid("orchard", T0) == []
    assert store.told(["alarm"])["alarm"].at_once, "that a message went out is not forgotten"


def test_the_last_morning_note_of_a_yard_is_known_whether_it_has_gone_or_waits(store):
    assert store.last_note("orchard") is None
    store.queue_message(notice(sort=Sort.NOTE, date="2026-06-05"), ["mail"])
    store.queue_message(notice(sort=Sort.NOTE, date="2026-06-06"), ["mail"])
    store.queue_message(notice(sort=Sort.NOTE, date="2026-06-09", yard="heath"), ["mail"])
    store.queue_message(notice(), ["mail"])
    assert store.last_note("orchard") == "2026-06-06"

"""The outbox empties into real servers: everything arrives, once, whatever happened on the way."""

import logging
import random

import pytest
from influx_servers import CompatibleInflux, VictoriaMetrics

from hivemon.config import InfluxSettings
from hivemon.model import DAY, HOUR, MINUTE, Advisory, Event, HiveDay, Kind, Quantity, Reading, Urgency
from hivemon.store import Store
from hivemon.store.influx import RETRY, InfluxSender
from hivemon.store.points import to_line
from hivemon.store.sender_state import NOTE, Condition, describe

T0 = 1_750_000_000_000
AWKWARD = [
    "plain",
    'says "hello"',
    "back\\slash",
    "end\\",
    "a=b,c d",
    "=",
    ",",
    "'",
    "# no comment",
    "蜂 🐝 é",
    '\\"',
    "tab\tand\nline\r\nbreak",
    " leading and trailing ",
]


def weights(count, start=T0, hive="o1"):
    return [
        Reading(start + k * MINUTE, "orchard", hive, Quantity.WEIGHT, 50 + k / 8, stamped=k % 7 == 0)
        for k in range(count)
    ]


def lines(things):
    return [to_line(thing) for thing in things]


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "hivemon.db") as opened:
        yield opened


@pytest.fixture(params=[VictoriaMetrics, CompatibleInflux])
def server(request, tmp_path):
    made = request.param(tmp_path / "server")
    made.start()
    yield made
    made.stop()


@pytest.fixture
def influx(tmp_path):
    made = CompatibleInflux(tmp_path / "server")
    made.start()
    yield made
    made.stop()


@pytest.fixture
def sender_of(monkeypatch, store):
    """Return a way to make senders; the token comes from the environment as a beekeeper's would."""
    made = []

    def make(server, token=None, bucket="hivemon"):
        monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", token or server.token)
        made.append(InfluxSender(InfluxSettings(url=server.url, bucket=bucket), store))
        return made[-1]

    yield make
    for sender in made:
        sender.close()


def drain(sender, store, now=T0):
    """Take turns until the outbox is empty; return the time of the last."""
    for _ in range(100):
        if not store.outbox_backlog().points:
            return now
        sender.turn(now)
        now = max(now + 1, sender.state.next)
    pytest.fail(f"{store.outbox_backlog()} left; {sender.state}")


def count_values(server):
    if isinstance(server, VictoriaMetrics):
        found, count = server.points("reading_value")
        return sum(found.values()), count
    (row,) = server.ask("SELECT sum(value) AS total, count(value) AS n FROM reading")
    return row["total"], row["n"]


def test_every_point_arrives_and_sending_again_changes_nothing(server, store, sender_of):
    """More than one request's worth, sent twice as after a crash between acceptance and dropping."""
    sender = sender_of(server)
    readings = weights(6000) + weights(6000, hive="o2")
    expected = (sum(r.value for r in readings), 12_000)
    for _ in range(2):
        store.outbox_put(lines(readings), T0)
        drain(sender, store)
        assert count_values(server) == expected
    assert sender.state.condition is Condition.FINE
    assert (sender.state.accepted, sender.state.refused) == (24_000, 0)


def test_a_server_away_for_a_week_loses_nothing_and_the_backlog_is_known(server, store, sender_of, caplog):
    caplog.set_level(logging.INFO)
    sender = sender_of(server)
    store.outbox_put(lines(weights(1)), T0)
    drain(sender, store)
    server.stop()
    readings = weights(1)
    for hour in range(7 * 24):
        new = weights(60, start=T0 + hour * HOUR)
        readings += new
        store.outbox_put(lines(new), T0 + hour * HOUR)
        sender.turn(T0 + hour * HOUR)
    assert store.outbox_backlog() == (7 * 24 * 60, T0)
    assert sender.state.condition is Condition.UNREACHABLE
    assert sender.state.failures == 7 * 24
    assert sender.state.next <= T0 + 7 * DAY - HOUR + RETRY.longest
    assert "not answering since 2025-06-15T15:06:40Z" in describe(store.note(NOTE.name), T0 + 7 * DAY)
    server.start()
    drain(sender, store, now=T0 + 7 * DAY)
    kept = {r.time: r.value for r in readings}
    assert count_values(server) == (sum(kept.values()), len(kept))
    assert "taking points" in describe(store.note(NOTE.name), T0 + 8 * DAY)
    messages = [record.getMessage() for record in caplog.records if record.name.startswith("hivemon")]
    assert len(messages) == 2, "one line when it went away, one when it came back"


def test_texts_come_out_of_the_server_as_they_went_in(influx, store, sender_of):
    sender = sender_of(influx)
    rng = random.Random(1)
    texts = AWKWARD + ["".join(rng.choices("ab ,=\"'\\é蜂", k=rng.randint(1, 9))) for _ in range(300)]
    things = []
    for number, text in enumerate(texts):
        things.append(
            Event(
                id=f"e{number}",
                kind=Kind.SWARM,
                yard=text,
                hive=text,
                onset=T0,
                onset_first=T0,
                raised=T0 + number,
                size=1.5,
                unit="kg",
                confidence=0.8,
                reason=text,
                summary=text,
            )
        )
        things.append(
            Advisory(
                id=f"a{number}",
                yard="orchard",
                hive=None,
                raised=T0 + number,
                updated=T0,
                urgency=Urgency.TODAY,
                title=text,
                saw=text,
                means=text,
                do=[text, text],
            )
        )
    store.outbox_put(lines(things), T0)
    drain(sender, store)
    assert store.quarantine_count() == 0
    kept = [" ".join(text.replace("\t", "\n").splitlines()) if "\n" in text else text for text in texts]
    events = {row["id"]: row for row in influx.ask("SELECT * FROM event")}
    assert [events[f"e{n}"]["summary"] for n in range(len(texts))] == kept
    assert [events[f"e{n}"]["reason"] for n in range(len(texts))] == kept
    tags = [text.replace("\t", "_").replace("\r\n", "\n").replace("\n", "_").replace("\\", "_") for text in texts]
    assert [events[f"e{n}"]["hive"] for n in range(len(texts))] == tags
    assert events["e0"]["size"] == 1.5
    advisories = {row["id"]: row for row in influx.ask("SELECT * FROM advisory")}
    assert [advisories[f"a{n}"]["do"] for n in range(len(texts))] == [f"1. {text} 2. {text}" for text in kept]


def test_a_withdrawn_event_and_a_better_hive_day_overwrite_what_was_there(influx, store, sender_of):
    sender = sender_of(influx)
    event = Event(
        id="e1",
        kind=Kind.SWARM,
        yard="orchard",
        hive="o1",
        onset=T0,
        onset_first=T0,
        raised=T0,
        size=2,
        unit="kg",
        confidence=0.7,
        reason="r",
        summary="s",
    )
    taken_back = Event(
        **{name: getattr(event, name) for name in Event.__struct_fields__}
        | {"withdrawn": T0 + HOUR, "withdrawn_because": "the bees came back"}
    )
    day = HiveDay(yard="orchard", hive="o1", date="2025-06-15", start=T0, dusk=T0 + 1, end=T0 + DAY, net_gain=1)
    better = HiveDay(yard="orchard", hive="o1", date="2025-06-15", start=T0, dusk=T0 + 1, end=T0 + DAY, net_gain=1.25)
    for things in ([event, day], [taken_back, better]):
        store.outbox_put(lines(things), T0)
        drain(sender, store)
    (row,) = influx.ask("SELECT * FROM event")
    assert (row["withdrawn"], row["withdrawn_at"], row["withdrawn_because"]) == (
        True,
        T0 + HOUR,
        "the bees came back",
    )
    (row,) = influx.ask("SELECT * FROM hive_day")
    assert (row["net_gain"], row["date"]) == (1.25, "2025-06-15")


def test_a_wrong_token_is_said_once_and_never_shown(influx, store, sender_of, caplog):
    caplog.set_level(logging.DEBUG)
    sender = sender_of(influx, token="bee:not-the-s3cret")
    store.outbox_put(lines(weights(10)), T0)
    for turn in range(20):
        sender.turn(T0 + turn * HOUR)
    assert sender.state.condition is Condition.NOT_ALLOWED
    ours = [record for record in caplog.records if record.name.startswith("hivemon")]
    assert len(ours) == 1
    assert "influx.token_file" in ours[0].getMessage()
    assert "does not accept the token" in describe(store.note(NOTE.name), T0 + DAY)
    assert store.outbox_backlog().points == 10
    for secret in ("not-the-s3cret", influx.password):
        assert secret not in caplog.text
        assert secret not in store.note(NOTE.name)


def test_a_missing_bucket_blames_no_point(influx, store, sender_of):
    sender = sender_of(influx, bucket="nowhere")
    store.outbox_put(lines(weights(10)), T0)
    sender.turn(T0)
    assert sender.state.condition is Condition.NOT_READY
    assert "influx.bucket" in sender.state.detail
    assert (store.outbox_backlog().points, store.quarantine_count()) == (10, 0)


def test_poisoned_points_go_to_quarantine_and_block_nothing(influx, store, sender_of):
    """A field that the server knows as another type, a line that is none, and a time it cannot hold."""
    influx.put(f"reading,yard=orchard,hive=o9,quantity=weight stamped=1i {T0}")
    sender = sender_of(influx)
    good = [r for r in weights(3000) if not r.stamped]
    bad = [
        *lines([r for r in weights(100) if r.stamped][:3]),
        "not a line",
        to_line(Reading(253_402_300_799_999, "orchard", "o1", Quantity.WEIGHT, 1.0)),
    ]
    mixed = lines(good)
    for place, line in zip((0, 700, 701, 1500, len(mixed)), bad, strict=True):
        mixed.insert(place, line)
    store.outbox_put(mixed, T0)
    drain(sender, store)
    (row,) = influx.ask("SELECT count(value) AS n FROM reading WHERE hive = 'o1'")
    assert row["n"] == len(good)
    quarantined = store.quarantined()
    assert sorted(q.payload.decode() for q in quarantined) == sorted(bad)
    assert all("refused this point: HTTP 400: " in q.reason for q in quarantined)
    assert (sender.state.refused, sender.state.accepted) == (5, len(good))


def test_a_server_that_refuses_everything_gets_no_point_blamed(influx, store, sender_of, monkeypatch):
    """Something in between answers 400 to all: the points stay."""
    monkeypatch.setattr(influx, "forward", lambda *_: (400, b'{"message": "go away"}'))
    sender = sender_of(influx)
    store.outbox_put(lines(weights(100)), T0)
    sender.turn(T0)
    assert sender.state.condition is Condition.NOT_READY
    assert "go away" in sender.state.detail
    assert (store.outbox_backlog().points, store.quarantine_count()) == (100, 0)
    monkeypatch.undo()
    monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", influx.token)
    drain(sender, store, now=sender.state.next)
    assert count_values(influx)[1] == 100

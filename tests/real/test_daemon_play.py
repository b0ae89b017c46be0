"""A recording played into a real broker: the daemon ends with what `replay` says of the same file."""

import threading
import time
from pathlib import Path

import msgspec
import pytest
from brokers import free_port, until

from hivemon.config import BrokerSettings, load
from hivemon.daemon import Daemon
from hivemon.errors import LinkError
from hivemon.intake.files import read_logbook, read_readings, write_readings
from hivemon.intake.link import LinkState
from hivemon.intake.play import play
from hivemon.model import DAY
from hivemon.replay import LastVersions, replay
from hivemon.store import Store

RECORDING = Path(__file__).parents[2] / "sample_streams" / "recordings" / "orchard-swarm"
DAYS = 16


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """Return the first days of a recording as a file: enough for swarms and flows to come up."""
    whole = list(read_readings(RECORDING / "readings.csv.gz"))
    start = min(int(x.time[0]) for batch in whole for streams in batch.values() for x in streams.values())
    cut = [
        {yard: {s: x.until(start + DAYS * DAY) for s, x in streams.items()} for yard, streams in batch.items()}
        for batch in whole
    ]
    path = tmp_path_factory.mktemp("recording") / "short.csv.gz"
    write_readings(path, cut)
    return path


def test_played_over_mqtt_the_daemon_says_what_replay_says(mosquitto, tmp_path, short):
    """One fold: the same readings and logbook give the same events, advisories and hive days either way."""
    broker = BrokerSettings(host="127.0.0.1", port=mosquitto.port)
    settings = load(RECORDING / "hivemon.toml")
    store = msgspec.structs.replace(settings.store, path=str(tmp_path / "hivemon.db"))
    settings = msgspec.structs.replace(settings, store=store, broker=broker)
    logbook = read_logbook(RECORDING / "logbook.csv")
    with Store.open(tmp_path / "hivemon.db") as opened:
        opened.add_entries("orchard", logbook)
    daemon = Daemon(settings)
    thread = threading.Thread(target=daemon.run_forever)
    thread.start()
    until(lambda: hasattr(daemon, "link") and daemon.link.status.state is LinkState.UP)
    reached: list[int] = []
    sent = play(short, broker, progress=lambda moment, _: reached.append(moment))
    until(lambda: daemon.status.messages == sent, 30)
    until(lambda: daemon.idle, 30)
    daemon.stop()
    thread.join()
    assert reached == sorted(reached)
    expected = LastVersions()
    for change in replay(settings, read_readings(short), logbook):
        expected.take(change)
    assert expected.events
    with Store.open(tmp_path / "hivemon.db", read_only=True) as opened:
        assert {e.id: e for e in opened.events("orchard")} == {e.id: e for e in expected.events}
        assert {a.id: a for a in opened.advisories("orchard")} == {a.id: a for a in expected.advisories}


def test_a_speed_is_kept(mosquitto, short):
    """An hour at 7,200 times its speed takes half a second."""
    broker = BrokerSettings(host="127.0.0.1", port=mosquitto.port)
    reached: list[int] = []
    began = time.monotonic()
    play(
        short,
        broker,
        speed=7200,
        progress=lambda moment, _: reached.append(moment),
        stopping=lambda: bool(reached) and reached[-1] - reached[0] >= 3_600_000,
    )
    assert 0.4 < time.monotonic() - began < 3


def test_a_broker_that_is_not_there_is_an_error(short):
    with pytest.raises(LinkError, match="nothing listens"):
        play(short, BrokerSettings(host="127.0.0.1", port=free_port()))

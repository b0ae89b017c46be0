"""Servers that restart, forget, are away for long, or are slow: the daemon goes on and loses nothing."""

import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from brokers import Publisher, until

from hivemon.config import BrokerSettings, InfluxSettings, Settings, StoreSettings, YardSettings
from hivemon.daemon import Daemon
from hivemon.intake import link
from hivemon.intake.link import LONGEST_WAIT, Backoff
from hivemon.model import Quantity, Stream
from hivemon.store import Store

YARD = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
NOW = int(time.time())


class Running:
    """A daemon in a thread of this process."""

    def __init__(self, folder: Path, port: int, **more) -> None:
        broker = BrokerSettings(host="127.0.0.1", port=port)
        self._path = folder / "hivemon.db"
        self.daemon = Daemon(Settings(yard=[YARD], store=StoreSettings(path=str(self._path)), broker=broker, **more))
        self._thread = threading.Thread(target=self.daemon.run_forever)

    def __enter__(self):
        self._thread.start()
        until(self.linked)
        return self

    def __exit__(self, *_) -> None:
        self.daemon.stop()
        self._thread.join(20)
        assert not self._thread.is_alive()

    def linked(self) -> bool:
        return hasattr(self.daemon, "link") and self.daemon.link.status.state == "up"

    def stored(self) -> list[int]:
        with Store.open(self._path, read_only=True) as store:
            series = store.series("orchard").get(Stream("o1", Quantity.WEIGHT))
            return [] if series is None else [moment // 1000 - NOW for moment in series.time.tolist()]


def arrives(running: Running, node: Publisher, moment: int) -> None:
    """Publish until it is stored: a broker drops what comes between a new session's beginning and its subscription."""

    def stored() -> bool:
        node.publish_and_wait("hives/orchard/o1", pack(moment))
        time.sleep(0.1)
        return moment in running.stored()

    until(stored)


def pack(moment: int) -> bytes:
    return b'[{"n":"weight","v":41.5,"t":%d}]' % (NOW + moment)


@pytest.fixture
def impatient(monkeypatch):
    """Connect again at once: the waits are tested by themselves."""
    monkeypatch.setattr(link, "FIRST_WAIT", 0.05)
    monkeypatch.setattr(link, "LONGEST_WAIT", 0.1)


@pytest.mark.usefixtures("impatient")
def test_a_broker_that_forgets_every_session_is_subscribed_to_again(mosquitto, tmp_path):
    """What it had not delivered is gone with it, as it would be for anybody; what comes after arrives."""
    with Running(tmp_path, mosquitto.port) as running:
        node = Publisher(mosquitto.port)
        arrives(running, node, -300)
        mosquitto.stop()
        for kept in (tmp_path / "mosquitto").glob("*.db"):
            kept.unlink()
        until(lambda: not running.linked())
        mosquitto.start()
        until(running.linked)
        until(node._client.is_connected)
        arrives(running, node, -200)
        assert running.stored() == [-300, -200]
        node.close()


@pytest.mark.usefixtures("impatient")
def test_what_nodes_keep_while_the_broker_is_away_arrives_when_it_is_back(mosquitto, tmp_path):
    with Running(tmp_path, mosquitto.port) as running:
        node = Publisher(mosquitto.port)
        arrives(running, node, -2_000)
        mosquitto.stop()
        until(lambda: not running.linked())
        for n in range(200):
            node.publish("hives/orchard/o1", pack(-1_000 + n))
        time.sleep(1.0)
        mosquitto.start()
        until(lambda: running.stored() == [-2_000, *range(-1_000, -800)], 30)
        node.close()


def test_after_a_day_without_a_broker_it_is_looked_for_every_minute():
    """A day of failures, by the waits alone: never longer than a minute, and no sum that overflows."""
    waits, passed = Backoff(), 0.0
    while passed < 86_400:
        wait = waits.next(0.0)
        assert 0 < wait <= LONGEST_WAIT
        passed += wait
    assert waits.next(60.0) <= 1.25


def test_a_time_series_server_that_takes_seconds_for_an_answer_holds_up_nothing(mosquitto, tmp_path, monkeypatch):
    asked: list[int] = []

    class Slow(BaseHTTPRequestHandler):
        def do_POST(self):
            asked.append(int(self.headers["Content-Length"]))
            self.rfile.read(asked[-1])
            time.sleep(1.5)
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_):
            """Keep the test's output quiet."""

    monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", "any")
    server = ThreadingHTTPServer(("127.0.0.1", 0), Slow)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    influx = InfluxSettings(url=f"http://127.0.0.1:{server.server_port}")
    with Running(tmp_path, mosquitto.port, influx=influx) as running:
        node = Publisher(mosquitto.port)
        arrives(running, node, -2_000)
        slowest = 0.0
        for n in range(30):
            began = time.monotonic()
            node.publish_and_wait("hives/orchard/o1", pack(-1_000 + n))
            until(lambda: len(running.stored()) == n + 2)  # noqa: B023 - waited for within the turn
            slowest = max(slowest, time.monotonic() - began)
        assert slowest < 1.5
        node.close()
        with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
            until(lambda: store.outbox_backlog().points == 0, 30)
    assert 1 <= len(asked) < 30, "what came meanwhile goes together"
    server.shutdown()
    server.server_close()

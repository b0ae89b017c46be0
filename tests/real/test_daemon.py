"""The daemon whole: real brokers, a real store, real signals, and a real InfluxDB that is not there."""

import json
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from brokers import Publisher, free_port, until

from hivemon.config import BrokerSettings, EmbeddedSettings, InfluxSettings, Settings, StoreSettings, YardSettings
from hivemon.daemon import Daemon, is_running, read_status
from hivemon.errors import LinkError, StoreError
from hivemon.intake.link import LinkState
from hivemon.model import Entry, Event, LogEntry, Quantity, Stream
from hivemon.store import Store

YARD = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
WEIGHT = Quantity.WEIGHT


def configured(folder: Path, **fields) -> Settings:
    return Settings(yard=[YARD], store=StoreSettings(path=str(folder / "hivemon.db")), **fields)


def with_broker(folder: Path, port: int, **fields) -> Settings:
    return configured(folder, broker=BrokerSettings(host="127.0.0.1", port=port), **fields)


def pack(seconds: float, value: float = 41.5, name: str = "weight") -> bytes:
    return json.dumps([{"t": seconds, "n": name, "v": value}]).encode()


class Running:
    """A daemon in a thread of this process."""

    def __init__(self, settings: Settings, **options) -> None:
        self.daemon = Daemon(settings, **options)
        self.failure: BaseException | None = None
        self._thread = threading.Thread(target=self._run)

    def _run(self) -> None:
        try:
            self.daemon.run_forever()
        except BaseException as error:  # noqa: BLE001 - looked at by the test
            self.failure = error

    def __enter__(self):
        self._thread.start()
        until(lambda: self.failure or (hasattr(self.daemon, "link") and self.daemon.link.status.state is LinkState.UP))
        return self

    def __exit__(self, *_):
        self.daemon.stop()
        self._thread.join(10)
        assert not self._thread.is_alive()

    def messages(self) -> int:
        return self.daemon.status.messages


def stored(folder: Path) -> dict[Stream, list[tuple[int, float]]]:
    with Store.open(folder / "hivemon.db", read_only=True) as store:
        return {
            s: list(zip(x.time.tolist(), x.value.tolist(), strict=True)) for s, x in store.series("orchard").items()
        }


def test_readings_from_mosquitto_are_stored_and_its_status_told(mosquitto, publisher, tmp_path):
    now = int(time.time())
    with Running(with_broker(tmp_path, mosquitto.port)) as running:
        for n in range(50):
            publisher.publish("hives/orchard/o1", pack(now - 5000 + n * 60, 40 + n / 10))
        publisher.publish("hives/orchard/o1", b"nonsense")
        until(lambda: running.messages() == 51)
        with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
            until(lambda: read_status(store).link is LinkState.UP)
    assert len(stored(tmp_path)[Stream("o1", WEIGHT)]) == 50
    with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
        status = read_status(store)
        assert (status.messages, status.readings, status.refused, status.running) == (51, 50, 1, False)
        assert status.mqtt == "5"
        assert status.last_message is not None
        assert store.snapshot_before("orchard", 2**60).time == (now - 5000 + 49 * 60) * 1000


def test_without_a_broker_of_its_own_the_daemon_brings_one(tmp_path):
    settings = configured(tmp_path, embedded=EmbeddedSettings(port=free_port()))
    with Running(settings) as running:
        publisher = Publisher(settings.embedded.port)
        publisher.publish_and_wait("hives/orchard", pack(int(time.time()), 18.5, "outside-temperature"))
        until(lambda: running.messages() == 1)
        publisher.close()
    assert list(stored(tmp_path)) == [Stream(None, Quantity.OUTSIDE_TEMPERATURE)]


def test_a_port_that_is_taken_is_an_error_at_the_start(mosquitto, tmp_path):
    with Running(configured(tmp_path, embedded=EmbeddedSettings(port=mosquitto.port))) as running:
        pass
    assert isinstance(running.failure, LinkError)
    assert not is_running(running.daemon.settings)


def test_a_second_daemon_on_the_same_store_is_refused(mosquitto, tmp_path, monkeypatch):
    clock = iter([0.0, 11.0, 11.0, 11.0])
    with Running(with_broker(tmp_path, mosquitto.port)) as first:
        assert is_running(first.daemon.settings)
        second = Daemon(with_broker(tmp_path, mosquitto.port))
        with monkeypatch.context() as patch:
            patch.setattr("hivemon.daemon.engine.time.monotonic", lambda: next(clock))
            with pytest.raises(StoreError, match="another hivemon"):
                second._hold_lock()


def test_nothing_is_acknowledged_while_the_store_is_in_trouble_and_nothing_is_lost(
    mosquitto, publisher, tmp_path, caplog
):
    now = int(time.time())
    with Running(with_broker(tmp_path, mosquitto.port)) as running:
        publisher.publish("hives/orchard/o1", pack(now - 100))
        until(lambda: running.messages() == 1)
        real = running.daemon._taking.take
        failing = threading.Event()
        failing.set()

        def take(*args):
            if failing.is_set():
                raise StoreError("the disk is full", hint="make room")
            return real(*args)

        running.daemon._taking.take = take
        for n in range(20):
            publisher.publish("hives/orchard/o1", pack(now - 90 + n))
        until(lambda: running.daemon.status.trouble)
        time.sleep(0.5)
        assert running.messages() == 1
        assert sum("the disk is full" in record.message for record in caplog.records) == 1
        failing.clear()
        until(lambda: running.messages() == 21)
        until(lambda: not running.daemon.status.trouble)
    assert len(stored(tmp_path)[Stream("o1", WEIGHT)]) == 21


def test_a_fold_that_fails_costs_neither_readings_nor_the_daemon(mosquitto, publisher, tmp_path, monkeypatch):
    now = int(time.time())
    monkeypatch.setattr("hivemon.daemon.judge.advance", lambda *_: 1 / 0)
    with Running(with_broker(tmp_path, mosquitto.port)) as running:
        for n in range(10):
            publisher.publish("hives/orchard/o1", pack(now - 100 + n))
            time.sleep(0.02)
        until(lambda: running.messages() == 10)
    assert len(stored(tmp_path)[Stream("o1", WEIGHT)]) == 10


def test_a_logbook_entry_made_elsewhere_is_noticed_within_two_seconds(mosquitto, publisher, tmp_path):
    now = int(time.time())
    with Running(with_broker(tmp_path, mosquitto.port)) as running:
        publisher.publish("hives/orchard/o1", pack(now - 100))
        until(lambda: running.messages() == 1)
        judge = running.daemon._judges["orchard"]
        until(lambda: not judge.waits)
        with Store.open(tmp_path / "hivemon.db") as other:
            other.add_entry("orchard", LogEntry(time=(now - 60) * 1000, hive="o1", entry=Entry.INSPECT))
        until(lambda: len(judge._logbook) == 1, 2)


def test_what_is_said_is_announced_after_it_is_stored(mosquitto, publisher, tmp_path):
    """A thermometer that says 85 °C for days is a sensor fault; whatever is said must be in the store by then."""
    said: list[tuple[str, bool]] = []

    def on_change(change) -> None:
        if isinstance(change, Event):
            with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
                said.append((change.kind.value, change.id in {e.id for e in store.events("orchard")}))

    now = int(time.time())
    with Running(with_broker(tmp_path, mosquitto.port), on_change=on_change):
        for n in range(3 * 96):
            seconds = now - 3 * 86400 + n * 900
            publisher.publish("hives/orchard/o1", pack(seconds, 85.0, "temperature"))
            publisher.publish("hives/orchard/o1", pack(seconds, 41.0 + (n % 7) / 100))
        until(lambda: said, 20)
    assert all(there for _, there in said)


def test_a_time_series_server_that_is_away_holds_up_nothing(mosquitto, publisher, tmp_path):
    now = int(time.time())
    settings = with_broker(tmp_path, mosquitto.port, influx=InfluxSettings(url=f"http://127.0.0.1:{free_port()}"))
    with Running(settings) as running:
        for n in range(100):
            publisher.publish("hives/orchard/o1", pack(now - 1000 + n))
        until(lambda: running.messages() == 100, 5)
    with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
        assert store.outbox_backlog().points == 100


# ---------------------------------------------------------------- as a process of its own

PROGRAM = (
    "import sys; from pathlib import Path; from hivemon.config import load; from hivemon.daemon import run; "
    "run(load(Path(sys.argv[1])))"
)


def write_config(folder: Path, port: int) -> Path:
    path = folder / "hivemon.toml"
    path.write_text(
        '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
        f'[broker]\nhost = "127.0.0.1"\nport = {port}\n',
    )
    return path


@pytest.fixture
def start():
    """Return a starter of daemon processes; what still runs at the end of the test is killed."""
    running: list[subprocess.Popen] = []

    def started(config: Path) -> subprocess.Popen:
        with (config.parent / "daemon.log").open("a") as log:
            running.append(subprocess.Popen([sys.executable, "-c", PROGRAM, str(config)], stderr=log, stdout=log))
        return running[-1]

    yield started
    for process in running:
        process.kill()
        process.wait()


def linked(config: Path, times: int) -> bool:
    return (config.parent / "daemon.log").read_text().count("linked to the broker") >= times


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_the_daemon_in_order(mosquitto, publisher, tmp_path, start, number):
    config = write_config(tmp_path, mosquitto.port)
    process = start(config)
    until(lambda: linked(config, 1), 60)
    publisher.publish_and_wait("hives/orchard/o1", pack(int(time.time())))
    time.sleep(0.3)
    began = time.monotonic()
    process.send_signal(number)
    assert process.wait(10) == 0
    assert time.monotonic() - began < 4
    assert len(stored(tmp_path)[Stream("o1", WEIGHT)]) == 1
    assert "stopped" in (tmp_path / "daemon.log").read_text().splitlines()[-1]


def test_a_second_signal_stops_it_at_once(mosquitto, tmp_path, start):
    config = write_config(tmp_path, mosquitto.port)
    process = start(config)
    until(lambda: linked(config, 1), 60)
    mosquitto.stop()
    process.send_signal(signal.SIGSTOP)
    process.send_signal(signal.SIGTERM)
    process.send_signal(signal.SIGINT)
    process.send_signal(signal.SIGCONT)
    assert process.wait(2) in (128 + signal.SIGINT, 128 + signal.SIGTERM)

"""The machine's clock and the nodes' clocks go wrong in every way they do; nothing is lost and nothing stands still."""

import json
import threading
import time
from pathlib import Path

import pytest
from brokers import until

from hivemon.config import BrokerSettings, Settings, StoreSettings, YardSettings
from hivemon.daemon import Daemon
from hivemon.daemon.clock import PATIENCE, not_yet
from hivemon.model import DAY, HOUR, MINUTE, Entry, LogEntry, Quantity, Stream
from hivemon.notify.state import ChannelState
from hivemon.store import Store

YARD = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
TRUE = int(time.time() * 1000)


class Clock:
    """A clock that can be set, and goes on by itself."""

    def __init__(self, moment: int = TRUE) -> None:
        self.set(moment)

    def set(self, moment: int) -> None:
        self._moment, self._set_at = moment, time.monotonic()

    def __call__(self) -> int:
        return self._moment + int((time.monotonic() - self._set_at) * 1000)


class Running:
    """A daemon with a clock of its own, in a thread; its link stamps with the same clock."""

    def __init__(self, folder: Path, port: int, clock: Clock) -> None:
        broker = BrokerSettings(host="127.0.0.1", port=port)
        self.path = folder / "hivemon.db"
        settings = Settings(yard=[YARD], store=StoreSettings(path=str(self.path)), broker=broker)
        self.clock = clock
        self.daemon = Daemon(settings, clock=clock)
        self._thread = threading.Thread(target=self.daemon.run_forever)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_) -> None:
        self.daemon.stop()
        self._thread.join(10)
        assert not self._thread.is_alive()

    def linked(self) -> bool:
        return hasattr(self.daemon, "link") and self.daemon.link.status.state == "up"

    def messages(self, number: int) -> None:
        until(lambda: self.daemon.status.messages >= number)

    def stored(self) -> list[tuple[int, float]]:
        with Store.open(self.path, read_only=True) as store:
            series = store.series("orchard").get(Stream("o1", Quantity.WEIGHT))
            return [] if series is None else list(zip(series.time.tolist(), series.value.tolist(), strict=True))

    def set_aside(self) -> list[str]:
        with Store.open(self.path, read_only=True) as store:
            return [message.reason for message in store.quarantined()]


def pack(moment: int | None, value: float = 41.5) -> bytes:
    stamp = {} if moment is None else {"t": moment / 1000}
    return json.dumps([{"n": "weight", "u": "kg", "v": value} | stamp]).encode()


def publish(publisher, moment: int | None, value: float = 41.5) -> None:
    publisher.publish_and_wait("hives/orchard/o1", pack(moment, value))


@pytest.mark.parametrize("step", [-DAY, DAY])
def test_a_clock_set_by_a_day_while_running_stops_nothing(mosquitto, publisher, tmp_path, step):
    """Readings, logbook entries and the status go on at once, and readings with times of their own keep them."""
    with Running(tmp_path, mosquitto.port, Clock()) as running:
        until(running.linked)
        publish(publisher, TRUE - HOUR)
        running.messages(1)
        until(lambda: running.daemon.idle)
        running.clock.set(running.clock() + step)
        written = running.daemon.status.written
        publish(publisher, TRUE - HOUR + 5 * MINUTE)
        running.messages(2)
        until(lambda: running.daemon.idle, 5)
        with Store.open(running.path) as other:
            other.add_entry("orchard", LogEntry(time=TRUE - HOUR, hive="o1", entry=Entry.INSPECT))
        until(lambda: running.daemon._judges["orchard"]._logbook, 5)
        until(lambda: running.daemon.status.written != written, 5)
        expected = [TRUE - HOUR, TRUE - HOUR + 5 * MINUTE]
        if step < 0:  # these times lie in its future: put aside, and taken in once the clock is right again
            assert len(running.stored()) == 1
            running.clock.set(TRUE + MINUTE)
            until(lambda: len(running.stored()) == 2, 5)
        assert [moment for moment, _ in running.stored()] == expected


def test_started_without_the_time_it_waits_for_it_and_loses_nothing(mosquitto, publisher, tmp_path):
    """1970, as boards without a battery for their clock begin; the broker keeps the messages meanwhile."""
    with Running(tmp_path, mosquitto.port, Clock()) as running:  # a first run makes the session
        until(running.linked)
    publish(publisher, TRUE - HOUR)
    publish(publisher, None, 42.0)
    with Running(tmp_path, mosquitto.port, Clock(5_000)) as running:
        until(lambda: "1970" in running.daemon.status.trouble)
        time.sleep(0.5)
        assert not running.linked()
        now = TRUE + MINUTE
        running.clock.set(now)
        running.messages(2)
        (first, second) = running.stored()
        assert first == (TRUE - HOUR, 41.5)
        assert now <= second[0] < now + MINUTE
        assert not running.daemon.status.trouble
        assert running.set_aside() == []


def test_a_stop_while_it_waits_for_the_time_is_heeded(mosquitto, tmp_path):
    with Running(tmp_path, mosquitto.port, Clock(5_000)) as running:
        until(lambda: running.daemon.status.trouble)


@pytest.mark.parametrize(
    ("now", "before", "waited", "waits"),
    [
        pytest.param(5_000, 0, 0, True, id="1970, first run"),
        pytest.param(5_000, TRUE, 10 * PATIENCE, True, id="1970 is wrong for ever"),
        pytest.param(TRUE, 0, 0, False, id="a first run with a good clock"),
        pytest.param(TRUE, TRUE - HOUR, 0, False, id="a later run with a good clock"),
        pytest.param(TRUE - 5 * MINUTE, TRUE, 0, False, id="behind by less than a reading may lie ahead"),
        pytest.param(TRUE - DAY, TRUE, 0, True, id="the time of the last shutdown, or of the system's making"),
        pytest.param(TRUE - DAY, TRUE, PATIENCE, False, id="the clock of the last run was the wrong one"),
    ],
)
def test_when_a_start_waits_for_the_time(now, before, waited, waits):
    assert bool(not_yet(now, before, waited)) is waits


def test_a_node_with_a_broken_clock_is_named_and_disturbs_no_other(mosquitto, publisher, tmp_path):
    """In 2000, in 2036 and stuck; the hive beside it goes on.

    In 1970 too: there its times count from the moment of receipt (RFC 8428 section 4.5.3), here 300 days ahead.
    """
    with Running(tmp_path, mosquitto.port, Clock()) as running:
        until(running.linked)
        for moment in (300 * DAY, 946_684_800_000, 2_085_978_496_000):
            publisher.publish_and_wait("hives/orchard/bad", pack(moment))
        stuck = TRUE - DAY
        for value in (40.0, 41.0, 42.0):
            publisher.publish_and_wait("hives/orchard/bad", pack(stuck, value))
        publish(publisher, TRUE - HOUR)
        running.messages(7)
        assert [moment for moment, _ in running.stored()] == [TRUE - HOUR]
        reasons = "\n".join(running.set_aside())
    assert reasons.count("clock that was never set") == 1
    assert reasons.count("lies in the future") == 2
    assert reasons.count("another value") == 2


def test_a_channel_that_waits_does_not_wait_a_day_longer_since_the_clock_went_back():
    state = ChannelState().failed("away", TRUE)
    assert not state.due(TRUE + 1_000)
    assert state.due(TRUE + MINUTE)
    assert state.due(TRUE - DAY)

"""A device that floods the broker beside hives that do not, and what these notice of it."""

import resource
import signal
import statistics
import threading
import time
from pathlib import Path
from typing import NamedTuple

import paho.mqtt.client as paho
from brokers import Publisher, until
from killing import DaemonProcess
from paho.mqtt.enums import CallbackAPIVersion

from hivemon.store import Store

RATE = 1_000
OTHERS = 5
CONFIG = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"
[pages]
on = false
"""


class Found(NamedTuple):
    """What came of it: waits in seconds, memory in MB, messages a second of the flood."""

    rate: float
    median: float
    worst: float
    lost: int
    memory_before: float
    memory_after: float

    def __str__(self) -> str:
        return (
            f"{self.rate:.0f} messages/s; the others' readings stored after {self.median:.2f} s (median), "
            f"{self.worst:.2f} s (worst), {self.lost} missing; memory {self.memory_before:.0f} -> "
            f"{self.memory_after:.0f} MB"
        )


class Flooded:
    """A daemon process on its own store, and clients."""

    def __init__(self, folder: Path, port: int, *, inside: bool) -> None:
        config = folder / "hivemon.toml"
        broker = f"[embedded]\nport = {port}" if inside else f'[broker]\nhost = "127.0.0.1"\nport = {port}'
        config.write_text(CONFIG + broker)
        self._path = folder / "hivemon.db"
        self._port = port
        self._sign = "embedded broker listens" if inside else "linked to the broker"
        self._daemon = DaemonProcess(config)
        self._stop = threading.Event()
        self._sent = 0

    def run(self, kind: str, seconds: float, room: int | None = None) -> Found:
        """Flood for so long; `room` limits what the daemon may take beyond what it has, in MB (setrlimit(2))."""
        try:
            self._daemon.start(self._sign)
            if room is not None:
                limit = (self._memory("VmData") + room) * 1024**2
                resource.prlimit(self._daemon.pid, resource.RLIMIT_DATA, (int(limit), resource.RLIM_INFINITY))
            return self._measure(kind, seconds)
        finally:
            self._stop.set()
            self._daemon.close()

    def _measure(self, kind: str, seconds: float) -> Found:
        others = Publisher(self._port, name="others")
        self._publish(others, 0)  # hives are taken in, everything is imported
        with Store.open(self._path, read_only=True) as store:
            until(lambda: len(store.latest("orchard")) == OTHERS, 30)
            before = self._memory()
            flood = threading.Thread(target=self._flood, args=(kind,))
            flood.start()
            began, waits, number = time.monotonic(), [], 0
            while time.monotonic() < began + seconds:
                number += 1
                waits.append(self._wait_of_others(store, others, number))
                time.sleep(0.2)
            rate = self._sent / (time.monotonic() - began)
            self._stop.set()
            flood.join()
            after = self._memory()
            lost = sum(len(s.time) != number + 1 for k, s in store.series("orchard").items() if k.hive != "flood")
        others.close()
        assert self._daemon.end(signal.SIGTERM) == 0
        return Found(rate, statistics.median(waits), max(waits), lost, before, after)

    def _publish(self, others: Publisher, number: int) -> None:
        moment = int(time.time()) - 1_000 + number
        for hive in range(OTHERS):
            payload = b'[{"n":"weight","v":41.5,"t":%d}]' % moment
            others.publish(f"hives/orchard/h{hive}", payload)

    def _wait_of_others(self, store: Store, others: Publisher, number: int) -> float:
        """Publish one reading of each and return the seconds until all are stored."""
        began = time.monotonic()
        newest = {key: time_ for key, (time_, _) in store.latest("orchard").items() if key.hive != "flood"}
        self._publish(others, number * 2)
        until(
            lambda: all(t > newest[k] for k, (t, _) in store.latest("orchard").items() if k.hive != "flood"),
            60,
        )
        return time.monotonic() - began

    def _flood(self, kind: str) -> None:
        client = paho.Client(CallbackAPIVersion.VERSION2, "flood", protocol=paho.MQTTv311)
        client.max_inflight_messages_set(1_000)
        client.connect("127.0.0.1", self._port)
        client.loop_start()
        began, first = time.monotonic(), time.time() - 100_000
        while not self._stop.is_set():
            while self._sent < (time.monotonic() - began) * RATE:
                moment = first if kind == "doubles" else first + self._sent / 10
                payload = b"rubbish" * 20 if kind == "rubbish" else b'[{"n":"weight","v":40,"t":%.1f}]' % moment
                client.publish("hives/orchard/flood", payload, 1)
                self._sent += 1
            time.sleep(0.002)
        client.disconnect()
        client.loop_stop()

    def _memory(self, which: str = "VmRSS") -> float:
        """Resident set (or another size) of the daemon, MB (proc(5))."""
        status = Path(f"/proc/{self._daemon.pid}/status").read_text()
        return int(status.split(f"{which}:")[1].split()[0]) / 1024

"""A daemon process that is killed at random moments while nodes publish and people write; and what must be left.

The load is the bundled orchard-swarm recording, moved so that its swarm has just left and is told to people.
"""

import contextlib
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from datetime import datetime
from functools import cache
from pathlib import Path

import msgspec
import paho.mqtt.client as paho
from brokers import free_port, until
from paho.mqtt.enums import CallbackAPIVersion

from hivemon import recordings
from hivemon.config import load
from hivemon.daemon import judge_now
from hivemon.intake.files import read_readings
from hivemon.intake.play import packs
from hivemon.model import DAY, HOUR, Entry, LogEntry, Series
from hivemon.store import Message, Sort, Store

NURSERY = """
import faulthandler, json, os, signal, sys
from pathlib import Path
import amqtt.broker, apprise
import hivemon.notify.by_apprise, hivemon.pages.app, hivemon.store.influx
from hivemon.config import load
from hivemon.daemon import run
for line in sys.stdin:
    config, to, environment = json.loads(line)
    child = os.fork()
    if child == 0:
        os.environ.clear(), os.environ.update(environment)
        log = os.open(to, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.dup2(log, 1), os.dup2(log, 2)
        faulthandler.register(signal.SIGUSR1, file=2)
        run(load(Path(config)))
        os._exit(0)
    print(child, flush=True)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
"""Imports once and forks a daemon for every line, so that five hundred starts do not take an hour."""
START_SECONDS = 60
YARD = "orchard"
RECORDING = recordings.find("orchard-swarm")
SWARM = next(
    int(datetime.fromisoformat(event["onset"]).timestamp() * 1000)
    for event in json.loads(RECORDING.config.with_name("truth.json").read_text())["events"]
    if event["kind"] == "swarm"
)


@cache
def nursery() -> subprocess.Popen:
    """Return the one nursery of these tests; it ends with them, since its input does."""
    return subprocess.Popen([sys.executable, "-c", NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def starved_seconds(pid: int) -> float:
    """Return how long the threads of a process have waited for a processor, the longest of them (schedstats)."""
    waited = [0]
    for path in Path(f"/proc/{pid}/task").glob("*/schedstat"):
        with contextlib.suppress(OSError):  # the thread has ended
            waited.append(int(path.read_text().split()[1]))
    return max(waited) / 1e9


class DaemonProcess:
    """`hivemon run` as a process, with one start after the other."""

    def __init__(self, config: Path) -> None:
        self.config = config
        self.log = config.parent / "daemon.log"
        self.pid = 0
        self._starts = 0
        self._runs = False
        self._nursery = nursery()

    def start(self, sign: str) -> None:
        """Start, and wait until the log shows the sign once more.

        Time in which the process was ready to run and other work had the processors is not held against it.
        """
        self._nursery.stdin.write(json.dumps([str(self.config), str(self.log), dict(os.environ)]) + "\n")
        self._nursery.stdin.flush()
        self.pid = int(self._nursery.stdout.readline())
        self._starts += 1
        self._runs = True
        began, starved = time.monotonic(), 0.0
        while not (self.log.exists() and self.log.read_text().count(sign) >= self._starts):
            starved = max(starved, starved_seconds(self.pid))
            assert time.monotonic() - began - starved < START_SECONDS, (
                f"start {self._starts} did not come:\n{self._at()}"
            )
            time.sleep(0.01)

    def _at(self) -> str:
        """Say what the process waits for (proc(5)), have it write where its threads are, and return its log's end."""
        waits = [
            f"{path.parent.name}: {path.read_text()} {(path.parent / 'wchan').read_text()}"
            for path in Path(f"/proc/{self.pid}/task").glob("*/stat")
        ]
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGUSR1)
        time.sleep(1)
        return "\n".join([*waits, *self.log.read_text().splitlines()[-200:]])

    def end(self, number: int) -> int:
        """Send a signal and return how the process ended."""
        os.kill(self.pid, number)
        code = int(self._nursery.stdout.readline())
        self._runs = False
        return code

    def close(self) -> None:
        """Leave no process behind, whatever has happened."""
        if self._runs:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGKILL)
            self._nursery.stdout.readline()
            self._runs = False


class Nodes:
    """Publishes the recording at QoS 1 and knows what was acknowledged to it."""

    def __init__(self, port: int, rate: float, days: float) -> None:
        self._sent: dict[int, tuple[str, bytes]] = {}
        self._packets: set[int] = set()
        self._rate = rate
        self._days = days
        self._stop = threading.Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2, "nodes", protocol=paho.MQTTv311, clean_session=False)
        self._client.max_inflight_messages_set(50)
        self._client.reconnect_delay_set(0.05, 0.2)
        self._client.on_publish = lambda _client, _data, packet, *_: self._packets.add(packet)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        began = time.monotonic()
        for number, pack in enumerate(moved_packs(self._days)):
            while len(self._sent) - len(self._packets) > 5_000 or time.monotonic() < began + number / self._rate:
                if self._stop.wait(0.001):
                    return
            assert number < 65_000, "packet ids are used again after 65,535"
            sent = self._client.publish(pack.topic, pack.payload, 1)
            self._sent[sent.mid] = (pack.topic, pack.payload)

    def finish(self) -> None:
        """Publish no more, and wait until all that was published is acknowledged."""
        self._stop.set()
        self._thread.join()
        until(lambda: len(self._packets) == len(self._sent), 60)
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def acknowledged(self) -> list[tuple[str, bytes]]:
        """Topic and payload of every message that was acknowledged."""
        return [self._sent[packet] for packet in sorted(self._packets)]


class Scribe:
    """Another process's part: writes into the logbook and queues messages, and knows what was kept."""

    def __init__(self, store: Path) -> None:
        self.kept: list[str] = []
        self.queued: list[str] = []
        self._store = store
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        with Store.open(self._store) as store:
            while not self._stop.wait(0.4):
                number = len(self.kept)
                moment = now() - (number % 20) * DAY
                entry = LogEntry(time=moment, hive=f"o{number % 3 + 1}", entry=Entry.NOTE, note=f"entry {number}")
                store.add_entry(YARD, entry)
                self.kept.append(entry.note)
                message = Message(created=now(), yard=YARD, sort=Sort.TROUBLE, title=f"message {number}", text="...")
                store.queue_message(message, ["phone"])
                self.queued.append(message.title)

    def finish(self) -> None:
        """Write no more."""
        self._stop.set()
        self._thread.join()


def now() -> int:
    return time.time_ns() // 1_000_000


def moved_packs(days: float):
    """The days up to now, of the recording moved by whole days so that its swarm left within the last day or so."""
    (batch,) = list(read_readings(RECORDING.readings))
    by, end = (now() - HOUR - SWARM) // DAY * DAY, now()
    begin = end - days * DAY
    later = {key: Series(s.time + by, s.value) for key, s in batch[YARD].items()}
    wanted = {key: (s.time > begin) & (s.time < end) for key, s in later.items()}
    return packs({YARD: {key: Series(s.time[wanted[key]], s.value[wanted[key]]) for key, s in later.items()}})


def write_config(folder: Path, broker: str) -> Path:
    """A channel and an InfluxDB that nobody answers for: all that is for them must wait."""
    path = folder / "hivemon.toml"
    path.write_text(
        f"{RECORDING.config.read_text()}\n{broker}\n[pages]\non = false\n"
        f'[influx]\nurl = "http://127.0.0.1:{free_port()}"\norg = "o"\nbucket = "b"\n'
        '[notify]\nquiet = ""\n[[channel]]\nname = "phone"\nkind = "apprise"\n',
    )
    return path


def kill_at_random(daemon: DaemonProcess, kills: int, sign: str, seen: dict, seed: int = 9) -> None:
    """Kill and start again at random moments; note what was to be seen in the store in between."""
    chance = random.Random(seed)
    for _ in range(kills):
        time.sleep(chance.uniform(0.02, 0.9))
        assert daemon.end(signal.SIGKILL) == -signal.SIGKILL
        with Store.open(daemon.config.parent / "hivemon.db", read_only=True) as store:
            seen.setdefault("events", set()).update(event.id for event in store.events(YARD))
            seen.setdefault("messages", {}).update({m.id: m for m in store.messages(100_000)})
        daemon.start(sign)


def look_again(folder: Path, nodes: Nodes, scribe: Scribe, seen: dict) -> dict[str, int]:
    """Check that everything acknowledged is there once; return the counts."""
    expected = Counter(readings_in(nodes.acknowledged))
    with Store.open(folder / "hivemon.db", read_only=True) as store:
        assert store.check() == []
        series = store.series(YARD)
        found = Counter(
            (stream.hive, stream.quantity.value, t, v)
            for stream, s in series.items()
            for t, v in zip(s.time.tolist(), s.value.tolist(), strict=True)
        )
        assert found == Counter(set(expected))
        assert sorted(e.note for e in store.entries(YARD)) == sorted(scribe.kept)
        messages = {message.id: message for message in store.messages(100_000)}
        assert seen["messages"].keys() <= messages.keys()
        assert all(message.sent is None for message in messages.values())
        assert {message.title for message in messages.values()} >= set(scribe.queued)
        assert max(Counter((m.sort, m.title, m.text) for m in messages.values()).values()) == 1
        events = {event.id: event for event in store.events(YARD)}
        assert seen["events"] <= events.keys()
        assert standing(store) == standing_after_one_quiet_run(folder, series, store.entries(YARD))
        copies = Counter(line for line in outbox_lines(store) if line.startswith("reading"))
        assert len(copies) == len(found)
        assert set(copies.values()) == {1}
        assert store.quarantine_count() == 0
        return {
            "readings": len(found),
            "logbook entries": len(scribe.kept),
            "events": len(events),
            "unsent messages": len(messages),
            "of them the daemon's own": len(messages) - len(scribe.queued),
            "points for InfluxDB": len(copies),
        }


def readings_in(acknowledged):
    """Yield (hive, quantity, time, value) of every acknowledged pack."""
    for topic, payload in acknowledged:
        records = msgspec.json.decode(payload)
        moment = round(records[0]["bt"] * 1000)
        hive = topic.split("/")[2] if topic.count("/") > 1 else None
        for record in records:
            yield hive, record["n"], moment, float(record["v"])


def standing(store: Store) -> dict[str, tuple]:
    return {e.id: (e.kind, e.hive, e.onset, e.raised, e.size) for e in store.events(YARD, withdrawn=False)}


def standing_after_one_quiet_run(folder: Path, series, entries) -> dict[str, tuple]:
    """What a store with the same readings and entries says that was judged once, in peace."""
    path = folder / "quiet" / "hivemon.db"
    path.parent.mkdir(exist_ok=True)
    config = path.parent / "hivemon.toml"
    config.write_text(RECORDING.config.read_text() + f'\n[store]\npath = "{path}"\n')
    with Store.open(path) as store:
        store.add_series(YARD, series)
        store.add_entries(YARD, entries)
        judge_now(load(config), store)
        return standing(store)


def outbox_lines(store: Store) -> list[str]:
    return [line for batch in store.outbox_peek(10**9) for line in batch.lines]


def listening_port() -> int:
    """Return a free port that no client is ever given, so that one who knocks meanwhile cannot take it, or meet itself.

    Linux gives clients ports from 32768 on (ip(7), ip_local_port_range).
    """
    while True:
        port = random.randint(20_000, 32_000)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


def run_under_kills(
    folder: Path, port: int, broker: str, sign: str, kills: int, rate: float, days: float
) -> dict[str, int]:
    """The whole of it; returns the counts of what was checked."""
    daemon = DaemonProcess(write_config(folder, broker))
    daemon.start(sign)
    nodes, scribe, seen = Nodes(port, rate, days), Scribe(folder / "hivemon.db"), {}
    try:
        kill_at_random(daemon, kills, sign, seen)
        nodes.finish()
        scribe.finish()
        with Store.open(folder / "hivemon.db") as store:
            wanted = len(set(readings_in(nodes.acknowledged)))
            until(lambda: sum(len(s.time) for s in store.series(YARD).values()) >= wanted, 60)
        time.sleep(2.5)  # what was noticed last is judged, and told
        assert daemon.end(signal.SIGTERM) == 0
    finally:
        nodes._stop.set()
        scribe._stop.set()
        daemon.close()
    return look_again(folder, nodes, scribe, seen)

"""4,000 hives on one daemon: how soon readings and events are stored, what it costs, how soon it is back after a crash.

Run as `python tests/bench/bench_fleet.py`; needs mosquitto. Every hive publishes weight, temperature and humidity once
a minute at QoS 1, spread over the minute. A probe among them is looked for in the store's file from outside until it is
there. One hive in twenty has lost a swarm, or has been given a load, just before it fell silent for an hour: what it
sends first then makes the program tell an event, and that is looked for in the same way. Yards lie where it is noon,
near the equator, so that bees may swarm whenever this runs. Processor time and memory are the daemon's own process's,
from /proc.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1] / "real")]

from brokers import Mosquitto, Publisher

from hivemon.config import HiveSettings, YardSettings
from hivemon.fold import YardState, advance, begin
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Series, Stream
from hivemon.rules import Rules
from hivemon.store import Store

YARD = '[[yard]]\nid = "{}"\nlatitude = 5.0\nlongitude = {}\ntimezone = "UTC"\n'
HIVE = '[[hive]]\nid = "{}"\nyard = "{}"\n'
HIVES_A_YARD = 100
HISTORY = DAY
TELLING = 20
"""One hive in so many has something to tell."""
LEFT = np.array([0.0, 0.0, 0.1, 0.5, 1.1, 1.7, 2.1, 2.3, 2.4, 2.5])
"""A swarm's weight gone at each minute, kg: it pours out within ten."""
LOAD_KG = 6.0


class Fleet:
    """A configuration, a store with a day of history, and a daemon that can be started and killed."""

    def __init__(self, folder: Path, hives: int, port: int, now: int, missed: int) -> None:
        self.folder = folder
        self.places = [(f"y{n // HIVES_A_YARD}", f"h{n}") for n in range(hives)]
        self.store = folder / "hivemon.db"
        self.noon = now - now % MINUTE - (missed + 1) * HOUR
        """When all fell silent."""
        yards = sorted({yard for yard, _ in self.places})
        longitude = (DAY / 2 - self.noon % DAY) / HOUR * 15
        text = f'[broker]\nhost = "127.0.0.1"\nport = {port}\n[pages]\non = false\n'
        text += "".join(YARD.format(yard, longitude) for yard in yards)
        text += "".join(HIVE.format(hive, yard) for yard, hive in self.places)
        (folder / "hivemon.toml").write_text(text)
        self._notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._notify.bind(str(folder / "notify"))

    def fill(self, since: int, until: int, step: int) -> None:
        """Write readings for every hive, one each `step`; all in milliseconds."""
        when = np.arange(since, until, step, dtype=np.int64)
        rng = np.random.default_rng(1)
        with Store.open(self.store) as store:
            for yard in sorted({yard for yard, _ in self.places}):
                batch = {}
                for hive in (hive for place, hive in self.places if place == yard):
                    noise = rng.normal(0, 1, (3, len(when)))
                    batch[Stream(hive, Quantity.WEIGHT)] = Series(when, 40 + 0.03 * noise[0])
                    batch[Stream(hive, Quantity.TEMPERATURE)] = Series(when, 34.8 + 0.1 * noise[1])
                    batch[Stream(hive, Quantity.HUMIDITY)] = Series(when, 60 + noise[2])
                store.add_series(yard, batch)

    def happen(self) -> None:
        """Have every telling hive lose a swarm, in every other yard be given a load, in its last minutes."""
        when = self.noon + np.arange(1, len(LEFT) + 1, dtype=np.int64) * MINUTE
        with Store.open(self.store) as store:
            for number, (yard, hive) in enumerate(self.places):
                if telling(number):
                    swarm = number // HIVES_A_YARD % 2 == 0
                    change = -LEFT if swarm else np.where(LEFT > 0, LOAD_KG, 0.0)
                    store.add_series(yard, {Stream(hive, Quantity.WEIGHT): Series(when, 40 + change)})

    def start(self) -> tuple[subprocess.Popen, float]:
        """Start the daemon; return it and the seconds until it said that it is ready."""
        command = [str(Path(sys.executable).with_name("hivemon")), "run", "--config", str(self.folder / "hivemon.toml")]
        began = time.monotonic()
        with (self.folder / "log").open("a") as log:
            process = subprocess.Popen(
                command, env=os.environ | {"NOTIFY_SOCKET": str(self.folder / "notify")}, stderr=log
            )
        while b"READY=1" not in self._notify.recv(4096):
            pass
        return process, time.monotonic() - began

    def judged(self, times: int) -> str:
        """Wait until the daemon has said so often that it has judged what it found; return how long it took."""
        while len(told := re.findall(r"is judged, in (.+)", (self.folder / "log").read_text())) < times:
            time.sleep(0.1)
        return told[-1]


def telling(number: int) -> bool:
    """Whether a hive has something to tell."""
    return number % TELLING == 0


def weight_of(number: int) -> float:
    """Return a hive's weight by now, kg."""
    if not telling(number):
        return 40.0 + (number % 7) / 100
    return 40.0 - LEFT[-1] if number // HIVES_A_YARD % 2 == 0 else 40.0 + LOAD_KG


def pack(number: int, now: float) -> bytes:
    """Return one hive's message."""
    values = {"weight": weight_of(number), "temperature": 34.8, "humidity": 60.0}
    return json.dumps([{"bt": now, "n": name, "v": value} for name, value in values.items()]).encode()


class Looker:
    """Looks into the store's file from outside, as cheaply as can be."""

    def __init__(self, path: Path) -> None:
        self._db = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
        rows = self._db.execute("SELECT hive, id FROM series WHERE quantity = 'weight'")
        self._numbers = dict(rows.fetchall())
        self._seen: set[str] = set()

    def stored(self, hive: str, moment: int) -> bool:
        """Whether a hive's weight of that moment is there."""
        sql = "SELECT 1 FROM reading WHERE series = ? AND time = ?"
        return self._db.execute(sql, (self._numbers[hive], moment)).fetchone() is not None

    def told(self) -> list[tuple[str, str, int]]:
        """Return (kind, hive, raised) of the events not seen so far."""
        new = [row for row in self._db.execute("SELECT id, kind, hive, raised FROM event") if row[0] not in self._seen]
        self._seen.update(row[0] for row in new)
        return [row[1:] for row in new]


class Drive:
    """Publishes for all hives at their pace, and looks how long it takes until what follows is in the store."""

    def __init__(self, fleet: Fleet, publisher: Publisher) -> None:
        self.stored: list[float] = []
        """Seconds from publish to the reading in the store, a probe at a time."""
        self.told: list[float] = []
        """Seconds from publish of the reading that makes the program tell an event to the event in the store."""
        self.kinds: Counter[str] = Counter()
        self._places = fleet.places
        self._publisher = publisher
        self._looker = Looker(fleet.store)
        self._looker.told()
        self._probe: tuple[str, int, float] | None = None
        self._published: dict[tuple[str, int], float] = {}

    def run(self, minutes: float, *, tell: bool) -> None:
        """Publish for some minutes; hives with something to tell speak for the first time in one of them, or not."""
        gap, began, hives = 60 / len(self._places), time.monotonic(), len(self._places)
        for number in range(int(minutes * hives)):
            at, minute = number % hives, number // hives
            if not telling(at) or (tell and minute >= at // TELLING % max(int(minutes), 1)):
                self._publish(at)
            while (left := began + (number + 1) * gap - time.monotonic()) > 0:
                self._look()
                time.sleep(min(left, 0.005))

    def wait(self) -> None:
        """Look for what is still to be told, for a while."""
        end = time.monotonic() + 5
        while time.monotonic() < end:
            self._look()
            time.sleep(0.005)

    def _publish(self, at: int) -> None:
        yard, hive = self._places[at]
        now = round(time.time(), 3)
        self._publisher.publish(f"hives/{yard}/{hive}", pack(at, now))
        moment, published = round(now * 1000), time.monotonic()
        self._probe = self._probe or (hive, moment, published)
        if telling(at):
            self._published[hive, moment] = published

    def _look(self) -> None:
        if self._probe is not None and self._looker.stored(*self._probe[:2]):
            self.stored.append(time.monotonic() - self._probe[2])
            self._probe = None
        for kind, hive, raised in self._looker.told():
            self.kinds[kind] += 1
            self.told.append(time.monotonic() - self._published[hive, raised])


def processor(pid: int) -> float:
    """Return the seconds of processor a process has had (proc(5): utime and stime)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory(pid: int) -> float:
    """Return a process's resident memory, MB."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024


def a_hives_state() -> float:
    """Return kB of memory allocated for a hive in the fold when its windows are full of one-minute readings."""
    full_windows(1)  # what is loaded when it is first needed is no hive's
    tracemalloc.start()
    state = full_windows(20)
    gc.collect()
    allocated, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return allocated / 1000 / len(state.ground.hives)


def full_windows(number: int) -> YardState:
    """Return the state of a yard of so many quiet hives after four days of one-minute readings."""
    hives = [HiveSettings(id=f"h{n}", yard="y") for n in range(number)]
    yard = YardSettings(id="y", latitude=50.0, longitude=5.0, timezone="Europe/Brussels")
    rng, state = np.random.default_rng(1), begin(yard, hives, Rules())
    moment = 1_715_040_000_000
    for hours in (24, 24, 24, 24, *[1] * 12):  # as a daemon that has run for days: little comes at a time
        when = moment + np.arange(0, hours * HOUR, MINUTE, dtype=np.int64)
        moment += hours * HOUR
        batch = {}
        for hive in hives:
            batch[Stream(hive.id, Quantity.WEIGHT)] = Series(when, 40 + rng.normal(0, 0.03, len(when)))
            batch[Stream(hive.id, Quantity.TEMPERATURE)] = Series(when, 34.8 + rng.normal(0, 0.1, len(when)))
            batch[Stream(hive.id, Quantity.HUMIDITY)] = Series(when, 60 + rng.normal(0, 1, len(when)))
        state, _ = advance(state, batch, [])
    return state


def spread(seconds: list[float]) -> str:
    """Say how long things took, and how many they were."""
    middle, late = np.quantile(seconds, (0.5, 0.99))
    return f"{middle:.3f} / {late:.3f} / {max(seconds):.3f} s ({len(seconds)})"


def run() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hives", type=int, default=4000)
    parser.add_argument("--minutes", type=float, default=3.0)
    parser.add_argument(
        "--missed", type=int, default=0, choices=range(23), help="hours of one-minute readings since the last snapshot"
    )
    args = parser.parse_args()
    print(f"memory allocated for a hive, 1-minute windows full    {a_hives_state():.0f} kB")
    with tempfile.TemporaryDirectory(prefix="fleet") as place:
        server = Mosquitto(Path(place))
        server.start()
        fleet = Fleet(Path(place), args.hives, server.port, time.time_ns() // 1_000_000, args.missed)
        kept = fleet.noon
        fleet.fill(kept - HISTORY, kept, 15 * MINUTE)
        fleet.happen()
        process, first = fleet.start()
        print(f"first start, ready after / a day of {args.hives:,} hives judged in   {first:.1f} / {fleet.judged(1)}")
        publisher = Publisher(server.port)
        Drive(fleet, publisher).run(0.5, tell=False)
        drive, shares = Drive(fleet, publisher), []
        for minutes, tell in ((1.0, False), (args.minutes, True)):
            spent, began = processor(process.pid), time.monotonic()
            drive.run(minutes, tell=tell)
            shares.append((processor(process.pid) - spent) / (time.monotonic() - began))
        drive.wait()
        print(f"{args.hives:,} hives x 3 a minute: {shares[0]:.1%} of one core; while events are told {shares[1]:.1%}")
        print(f"  publish to a reading stored, median / p99 / longest  {spread(drive.stored)}")
        print(f"  publish to an event stored, median / p99 / longest   {spread(drive.told)}: {dict(drive.kinds)}")
        print(f"  memory of the daemon {memory(process.pid):.0f} MB")
        process.send_signal(signal.SIGKILL)
        process.wait()
        fleet.fill(kept, kept + args.missed * HOUR, MINUTE)
        again, seconds = fleet.start()
        print(f"start after kill -9, ready after / all judged again in     {seconds:.1f} / {fleet.judged(2)}")
        again.terminate()
        again.wait(60)
        publisher.close()
        server.stop()


if __name__ == "__main__":
    run()

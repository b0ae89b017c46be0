"""A year of 100 hives through the daemon's own parts, in simulated time: memory, growth, live against replay.

    python tests/bench/bench_soak.py [HIVES] [DAYS] [MINUTES]

Messages are translated, committed and folded every three simulated hours, as the daemon does; every month prints what
the process holds and what the file weighs. At the end the same readings are judged at one go in a fresh store, and
every event must be the same.
"""

import json
import math
import random
import sys
import tempfile
import time
from pathlib import Path

from hivemon.config import Settings, StoreSettings, YardSettings
from hivemon.daemon.judge import YardJudge
from hivemon.daemon.taking import Taking
from hivemon.intake.link import Message
from hivemon.model import DAY, HOUR, MINUTE
from hivemon.store import Store

START = 1_735_689_600_000
"""2025-01-01T00:00:00Z."""
STEP = 3 * HOUR
HIVES_A_YARD = 10


def season(day: float) -> float:
    """Return a day's net gain in kg: stores eaten in winter, two flows, a dearth between."""
    if 120 <= day < 150 or 190 <= day < 210:
        return 1.2
    return 0.0 if 90 <= day < 250 else -0.06


class Hive:
    """An invented hive that gains by the season and the sun; every seventh swarms in May."""

    def __init__(self, number: int) -> None:
        self.topic = f"hives/y{number // HIVES_A_YARD}/h{number}"
        self._chance = random.Random(number)
        self._weight = 32 + self._chance.uniform(0, 8)
        self._swarms = 130 + number % 20 if number % 7 == 0 else 10**6

    def pack(self, moment: int, minutes: int) -> bytes:
        day = (moment - START) / DAY
        self._weight += season(day) * minutes / 1440
        if self._swarms <= day < self._swarms + 0.02 and 10 <= (day % 1) * 24 < 24:
            self._weight -= 3.2
            self._swarms = 10**6
        hour = (day % 1) * 24
        weight = self._weight + 0.25 * math.sin((hour - 14) / 24 * 2 * math.pi) + self._chance.gauss(0, 0.01)
        temperature = (34.7 if 60 <= day < 300 else 24.0) + self._chance.gauss(0, 0.15)
        record = [{"bt": moment / 1000, "n": "weight", "u": "kg", "v": round(weight, 2)}]
        record += [{"n": "temperature", "u": "Cel", "v": round(temperature, 1)}]
        record += [{"n": "humidity", "u": "%RH", "v": round(60 + self._chance.gauss(0, 2), 1)}]
        return json.dumps(record).encode()


def memory() -> float:
    """Resident set, MB (proc(5))."""
    return int(Path("/proc/self/status").read_text().split("VmRSS:")[1].split()[0]) / 1024


def configured(path: Path, hives: int) -> Settings:
    yards = [
        YardSettings(id=f"y{n}", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
        for n in range(math.ceil(hives / HIVES_A_YARD))
    ]
    return Settings(yard=yards, store=StoreSettings(path=str(path)))


def live(path: Path, hives: int, days: int, minutes: int) -> None:
    """Go through the time, three hours at a turn; print a line a month."""
    settings = configured(path, hives)
    began, made = time.monotonic(), [Hive(n) for n in range(hives)]
    with Store.open(path) as store:
        judges = {yard.id: YardJudge(settings, yard.id, store) for yard in settings.yard}
        taking = Taking(settings, store, judges)
        for start in range(START, START + days * DAY, STEP):
            moments = range(start, start + STEP, minutes * MINUTE)
            messages = [
                Message(hive.topic, hive.pack(moment, minutes), moment, False, (0, 0))
                for moment in moments
                for hive in made
            ]
            taking.take(messages, start + STEP)
            for judge in judges.values():
                judge.fold()
            day = (start + STEP - START) / DAY
            if day % 30 == 0 or day == days:
                size = path.stat().st_size / 1024**2
                readings = int(day * 1440 / minutes) * hives * 3
                print(
                    f"day {day:.0f}: {memory():.0f} MB held, {readings:,} readings, file {size:.0f} MB "
                    f"({size * 1024**2 / readings:.1f} bytes a reading), {time.monotonic() - began:.0f} s",
                    flush=True,
                )
        for judge in judges.values():
            judge.keep()


def standing(store: Store) -> dict[str, tuple]:
    return {e.id: (e.kind, e.hive, e.onset, e.raised, e.size) for e in store.events(withdrawn=False)}


def replayed(path: Path, fresh: Path, hives: int) -> tuple[int, int]:
    """Judge the stored readings at one go; return how many events stand, and how many differ."""
    settings = configured(fresh, hives)
    with Store.open(path) as lived, Store.open(fresh) as store:
        for yard in settings.yard:
            for adopted in lived.adopted():
                store.adopt(*adopted)
            store.add_series(yard.id, lived.series(yard.id))
            YardJudge(settings, yard.id, store).fold()
        live_, again = standing(lived), standing(store)
    return len(live_), len(set(live_.items()) ^ set(again.items()))


def main() -> None:
    hives, days, minutes = (int(word) for word in (*sys.argv[1:], *("100", "360", "15")[len(sys.argv) - 1 :]))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hivemon.db"
        live(path, hives, days, minutes)
        count, differ = replayed(path, Path(folder) / "fresh.db", hives)
        print(f"{count} events stand; {differ} differ from those of the same readings judged at one go")
        assert not differ


if __name__ == "__main__":
    main()

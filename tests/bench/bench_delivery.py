"""How often people are told things: seasons played through the notifier turn by turn, quarter hour by quarter hour.

python tests/bench/bench_delivery.py [--families NAME ...] [--seeds N] [--show]

--show prints every message, to be read aloud.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from hivemon import config
from hivemon.config_notify import ChannelSettings
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import DAY, HOUR, MINUTE, Advisory, Event, HiveDay, Series
from hivemon.notify.delivery import Delivery
from hivemon.notify.note import MOST_WORDS, words_in
from hivemon.notify.notifier import Notifier
from hivemon.replay import replay
from hivemon.store import Message, Sort, Store
from sample_streams.__main__ import main as make

FAMILIES = ("nothing-happens", "spring-swarms", "flow-dearth-robbing", "heat-wave-brood", "long-season")
STEP = 15 * MINUTE


class Pile:
    """A channel that takes everything."""

    def __init__(self) -> None:
        self.taken: list[Message] = []

    def send(self, message: Message) -> None:
        self.taken.append(message)


def said_at(change) -> int:
    """Return when a change is known."""
    match change:
        case Event():
            return max(change.raised, change.withdrawn or 0)
        case Advisory():
            return change.updated
        case HiveDay():
            return change.end + HOUR
    raise TypeError(change)


def play(folder: Path) -> tuple[list[Message], int, float]:
    """Return every message of a season, its hives, and the seconds a turn took."""
    settings = config.load(folder / "hivemon.toml")
    settings = config.msgspec.structs.replace(settings, channel=[ChannelSettings(name="pile", kind="file", path="x")])
    pile, turns, spent, clock = Pile(), 0, 0.0, [0]
    batches = list(read_readings(folder / "readings.csv.gz"))
    changes = sorted(replay(settings, batches, read_logbook(folder / "logbook.csv")), key=said_at)
    with tempfile.TemporaryDirectory() as place, Store.open(Path(place) / "s.db") as store:
        times = []
        for batch in batches:
            for yard, streams in batch.items():
                store.add_series(yard, {s: Series(x.time[::12], x.value[::12]) for s, x in streams.items()})
                times += [x.time[[0, -1]] for x in streams.values()]
        notifier = Notifier(settings, store, ["pile"])
        delivery = Delivery(store, "pile", pile, lambda: clock[0])
        for now in range(int(min(t[0] for t in times)), int(max(t[1] for t in times)), STEP):
            due = 0
            while due < len(changes) and said_at(changes[due]) <= now:
                due += 1
            keep(store, changes[:due])
            del changes[:due]
            began = time.perf_counter()
            clock[0] = now
            notifier.turn(now)
            delivery.turn()
            spent += time.perf_counter() - began
            turns += 1
    hives = {change.hive for batch in batches for streams in batch.values() for change in streams if change.hive}
    return pile.taken, len(hives), spent / max(turns, 1)


def keep(store: Store, changes: list) -> None:
    """Write what is known by now."""
    if changes:
        with store.transaction():
            store.put_events([c for c in changes if isinstance(c, Event)])
            store.put_advisories([c for c in changes if isinstance(c, Advisory)])
            store.put_hive_days([c for c in changes if isinstance(c, HiveDay)])


def main() -> None:
    """Play the seasons and print a line each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--families", nargs="*", default=FAMILIES)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--show", action="store_true")
    asked = parser.parse_args()
    print(
        f"{'family':22} hives  weeks  notes  calm  words(mean/max of {MOST_WORDS})  now  other  per hive-week  ms/turn"
    )
    for family in asked.families:
        for seed in range(1, asked.seeds + 1):
            with tempfile.TemporaryDirectory() as place:
                folder = Path(place)
                make([family, "--seed", str(seed), "--out", str(folder)])
                report(f"{family} {seed}", *play(folder), show=asked.show)


def report(name: str, messages: list[Message], hives: int, turn: float, *, show: bool) -> None:
    """Print one season's figures."""
    notes = [m for m in messages if m.sort is Sort.NOTE]
    own = [m for m in messages if m.sort is not Sort.NOTE]
    urgent = sum(m.urgent for m in own)
    words = [words_in(m.text) for m in notes]
    weeks = (notes[-1].created - notes[0].created) / (7 * DAY)
    calm = sum("nothing needs you" in m.title for m in notes) / len(notes)
    middle, longest = sum(words) / len(words), max(words)
    rate = len(own) / (hives * weeks)
    print(
        f"{name:22} {hives:5}  {weeks:5.1f}  {len(notes):5}  {calm:4.0%}  {middle:5.0f} /{longest:4}{'':14}{urgent:4}"
        f"  {len(own) - urgent:5}  {rate:13.3f}  {turn * 1000:7.2f}",
    )
    print("    ", dict(Counter(m.reason for m in own)))
    if show:
        for message in messages:
            print(f"\n--- {message.title}\n{message.text}")


if __name__ == "__main__":
    main()

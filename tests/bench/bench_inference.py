"""Detection figures on seasons made by the sample-stream families; run as `python tests/bench/bench_inference.py -h`.

Families are split in two: those looked at while thresholds were chosen, and those held out. Both tables are printed.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections import defaultdict
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from scoring import Score, Tally, score

from hivemon import config, fold
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import Event, Quantity
from sample_streams.__main__ import main as make

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from hivemon.model import LogEntry, Series, Stream

    YardStreams = Mapping[Stream, Series]

DEVELOPED = (
    "spring-swarms",
    "flow-dearth-robbing",
    "heat-wave-brood",
    "nothing-happens",
    "long-season",
    "cheap-scales",
    "desert-fed",
    "careless",
    "southern",
    "snowy-spring",
)
HELD_OUT = ("single-hive", "hourly", "no-outside-sensor")
"""Families that the first rules were made without; single misses on some of their seeds have been looked at since."""


def season(folder: Path) -> Score:
    """Replay one folder and score it, its notes under the folder's name."""
    logbook = read_logbook(folder / "logbook.csv")
    one = judged(folder, json.loads((folder / "truth.json").read_text()), logbook, lambda streams: streams)
    one.notes = [f"{folder.name}: {note}" for note in one.notes]
    return one


def judged(
    folder: Path, truth: dict, logbook: Sequence[LogEntry], heard: Callable[[YardStreams], YardStreams]
) -> Score:
    """Score a folder's readings as they are `heard` against a truth."""
    settings = config.load(folder / "hivemon.toml")
    states, events, weighed = {}, {}, defaultdict(list)
    for batch in read_readings(folder / "readings.csv.gz"):
        for yard, streams in batch.items():
            state = states.get(yard) or fold.begin(
                settings.find_yard(yard),
                settings.hives_of(yard),
                settings.rules,
                settings.units,
            )
            known = heard(streams)
            states[yard], changes = fold.advance(state, known, logbook)
            events |= {c.id: c for c in changes if isinstance(c, Event)}
            for stream in known:
                if stream.quantity is Quantity.WEIGHT:
                    weighed[stream.hive].append(known[stream].time)
    times = {hive: np.concatenate(parts) for hive, parts in weighed.items()}
    return score(truth, list(events.values()), times)


def family(name: str, seeds: range, store: Path) -> Score:
    """Make and score several seasons of a family."""
    total = Score()
    for seed in seeds:
        folder = store / f"{name}-{seed}"
        if not (folder / "truth.json").exists():
            make([name, "--seed", str(seed), "--out", str(folder)])
        total.add(season(folder))
    return total


def show(title: str, total: Score) -> None:
    """Print a table of figures by kind, and one line for all brood trouble together."""
    print(f"\n{title}: {total.hive_days:.0f} hive-days, {total.false_per_season:.2f} false events a hive-season")
    if len(total.seasons) > 1:
        low, high = np.quantile(total.seasons, (0.1, 0.9))
        print(f"  over {len(total.seasons)} seasons: from {low:.2f} to {high:.2f} (one tenth below, one above)")
    if total.returned:
        print(f"  returned swarms withdrawn in 90 minutes: {total.returned_withdrawn} of {total.returned}")
    if total.fleeting:
        print(f"  of the swarms missed, home again before the hive was weighed twice: {total.fleeting}")
    for kind, t in sorted(total.kinds.items()):
        line(kind.value, t)
    line("brood, any", total.brood())


def line(name: str, t: Tally) -> None:
    """Print the figures of one kind, unless there is nothing of it."""
    if not t.asked and not t.told:
        return
    delay = f"{np.median(t.delays):.0f} min" if t.delays else "-"
    print(
        f"  {name:16} true {t.asked:4} found {t.found:4} recall {t.recall:.2f}   told {t.told:4} false {t.false:3}"
        f" (taken back {t.taken_back}) precision {t.precision:.2f}   median delay {delay}"
    )


def reliability(total: Score) -> None:
    """Print of those said with a confidence how many were true."""
    pairs = [pair for t in total.kinds.values() for pair in t.calibration]
    print("\nconfidence said -> share true")
    for low in (0.0, 0.5, 0.6, 0.7, 0.8, 0.9):
        within = [true for said, true in pairs if low <= said < (low + 0.1 if low else 0.5)]
        if within:
            print(f"  {low:.1f}-{low + 0.1 if low else 0.5:.1f}  {np.mean(within):.2f}  of {len(within)}")


def totals(groups: Mapping[str, Score]) -> None:
    """Print the sums of each group with any seasons, and what its confidence was worth."""
    for title, total in groups.items():
        if total.hive_days:
            show(f"ALL {title}", total)
            reliability(total)


def run() -> None:
    """Parse arguments, score, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=[*DEVELOPED, *HELD_OUT])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--notes", action="store_true", help="print every miss and every false event")
    parser.add_argument("--keep", type=Path, help="folder to keep made seasons in")
    args = parser.parse_args()
    with nullcontext(args.keep) if args.keep else tempfile.TemporaryDirectory() as folder:
        tables(args, Path(folder))


def tables(args: argparse.Namespace, store: Path) -> None:
    """Score the families asked for and print their tables."""
    groups = {"looked at while developing": Score(), "held out": Score()}
    for name in args.families:
        one = family(name, range(args.first, args.first + args.seeds), store)
        show(name, one)
        if args.notes:
            print("\n".join(f"    {note}" for note in one.notes))
        groups["held out" if name in HELD_OUT else "looked at while developing"].add(one)
    totals(groups)


if __name__ == "__main__":
    run()

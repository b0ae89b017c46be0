"""What is left of detection when less is measured: seasons of the families developed on, heard through less.

`one`: a single hive of each yard (its scale, its logbook; another with each seed). `hourly`: one reading an hour.
`unseen`: no outside sensor and no rain gauge. Prints the same tables as `bench_inference`, one for each way. A single
hive drawn from many may be the robbed or the weak one, of which the yard's forage is not true: harder than in life.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from bench_inference import DEVELOPED, judged, reliability, show
from scoring import Score

from hivemon.intake.files import read_logbook
from hivemon.model import HOUR, Quantity, Series
from sample_streams.__main__ import main as make

WAYS = ("whole", "one", "hourly", "unseen")


def heard(streams, way: str, hive: str):
    """Return what of a batch of streams is heard in a way."""
    if way == "one":
        return {s: series for s, series in streams.items() if s.hive in (None, hive)}
    if way == "unseen":
        return {s: series for s, series in streams.items() if s.hive is not None}
    if way == "hourly":
        return {s: series if s.quantity is Quantity.RAIN else hourly(series) for s, series in streams.items()}
    return streams


def hourly(series: Series) -> Series:
    """Return the first reading of each hour."""
    first = np.flatnonzero(np.diff(series.time // HOUR, prepend=-1))
    return Series(series.time[first], series.value[first])


def season(folder: Path, way: str, seed: int) -> Score:
    """Replay one folder as it is heard in a way, and score it against what can be asked of that."""
    truth = json.loads((folder / "truth.json").read_text())
    logbook = read_logbook(folder / "logbook.csv")
    hive = sorted(truth["hives"])[seed % len(truth["hives"])]
    if way == "one":
        truth["hives"] = {hive: truth["hives"][hive]}
        truth["events"] = [e for e in truth["events"] if e.get("hive") in (None, hive)]
        logbook = [entry for entry in logbook if entry.hive == hive]
    if way == "hourly":
        truth["interval_minutes"] = 60
    return judged(folder, truth, logbook, lambda streams: heard(streams, way, hive))


def run() -> None:
    """Parse arguments, make each season once, score it in every way, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=DEVELOPED)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first", type=int, default=100)
    args = parser.parse_args()
    totals = {way: Score() for way in WAYS}
    for name in args.families:
        for seed in range(args.first, args.first + args.seeds):
            with tempfile.TemporaryDirectory() as folder:
                make([name, "--seed", str(seed), "--out", folder])
                for way, total in totals.items():
                    total.add(season(Path(folder), way, seed))
    for way, total in totals.items():
        show(way, total)
        reliability(total)


if __name__ == "__main__":
    run()

"""Measures how well swarms and flows are found by sampling interval: the table of firmware-notes/sampling.md.

    python tests/bench/bench_interval.py [--seeds N]

Invented seasons recorded every 5 minutes are thinned to slower sampling; truth and scoring stay the same.
"""

import argparse
import csv
import gzip
import json
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

import bench_inference
from scoring import Score

from hivemon.model import Kind
from sample_streams.__main__ import main as make

INTERVALS = (5, 10, 15, 30, 60)
FAMILIES = ("spring-swarms", "flow-dearth-robbing")


def thin(source: Path, target: Path, minutes: int) -> None:
    """Copy a season, keeping of each stream the first reading of every `minutes`."""
    target.mkdir()
    for name in ("hivemon.toml", "logbook.csv"):
        (target / name).write_bytes((source / name).read_bytes())
    truth = json.loads((source / "truth.json").read_text())
    truth["interval_minutes"] = max(truth["interval_minutes"], minutes)
    (target / "truth.json").write_text(json.dumps(truth))
    seen: dict[tuple[str, ...], str] = {}
    with (
        gzip.open(source / "readings.csv.gz", "rt", newline="") as old,
        gzip.open(target / "readings.csv.gz", "wt", newline="", compresslevel=1) as new,
    ):
        rows = csv.reader(old)
        out = csv.writer(new)
        out.writerow(next(rows))
        for row in rows:
            time = row[0]
            minute = int(time[11:13]) * 60 + int(time[14:16])
            slot = f"{time[:10]} {minute // minutes}"
            if seen.get(tuple(row[1:4])) != slot:
                seen[tuple(row[1:4])] = slot
                out.writerow(row)


def main() -> None:
    """Make the seasons, thin and score them, and print a line per interval."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first", type=int, default=700)
    args = parser.parse_args()
    scores = {minutes: Score() for minutes in INTERVALS}
    with tempfile.TemporaryDirectory() as place:
        for family in FAMILIES:
            for seed in range(args.first, args.first + args.seeds):
                made = Path(place) / f"{family}-{seed}"
                make([family, "--seed", str(seed), "--out", str(made)])
                for minutes in INTERVALS:
                    thin(made, Path(f"{made}-{minutes}"), minutes)
                    scores[minutes].add(bench_inference.season(Path(f"{made}-{minutes}")))
    for minutes, score in scores.items():
        told = []
        for kind in (Kind.SWARM, Kind.FLOW_ONSET, Kind.ROBBING):
            tally = score.kinds[kind]
            told.append(f"{kind.value} {tally.found}/{tally.asked} found, {tally.false} of {tally.told} false")
        print(f"{minutes:3d} min: {'; '.join(told)}; {score.hive_days:.0f} hive-days", flush=True)


if __name__ == "__main__":
    main()

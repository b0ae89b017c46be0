"""Time and memory of `hivemon replay` on a season of ten hives, against pandas.read_csv of the same file.

Prints: rows, seconds of each (best of some rounds, in turn, since a shared machine is not equally fast all the time),
their ratio, by the clock and by processor time, which other work disturbs less; what of it is start-up (the command on
one hour of readings); what a row costs in a third of the season and in the whole of it, start-up taken off, which must
be alike; and the peak memory of both, which must not grow either.
"""

from __future__ import annotations

import argparse
import gzip
import itertools
import json
import math
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import pandas as pd

ROWS_AN_HOUR = 400
"""What ten hives of the season send in an hour."""
ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from sample_streams.__main__ import main as make


def run() -> None:
    """Make the season, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=180)
    parser.add_argument("--folder", type=Path, help="where a made season is, or goes")
    parser.add_argument("--rounds", type=int, default=3)
    args = parser.parse_args()
    folder = args.folder or Path(tempfile.mkdtemp(prefix="season"))
    if not (folder / "readings.csv.gz").exists():
        make(["long-season", "--seed", "1", "--days", str(args.days), "--out", str(folder)])
    whole = folder / "readings.csv.gz"
    with gzip.open(whole, "rt") as lines:
        rows = sum(1 for _ in lines) - 1
    third = _first_part(whole, folder / "third.csv.gz", rows // 3)
    little = _first_part(whole, folder / "little.csv.gz", ROWS_AN_HOUR)
    reading = Cost()
    best = {path: Cost() for path in (whole, third, little)}
    for _ in range(args.rounds):
        reading = reading.best(_measured(lambda: pd.read_csv(whole)))
        best = {path: best[path].best(_replay(folder, path)) for path in best}
    seconds, start = best[whole].seconds, best[little].seconds
    of_third, of_whole = (best[third].seconds - start) / (rows // 3), (seconds - start) / rows
    processor = best[whole].processor / reading.processor
    print(f"rows                       {rows:,}")
    print(f"pandas.read_csv            {reading.seconds:.2f} s, {reading.processor:.2f} s of processor")
    print(f"hivemon replay             {seconds:.2f} s, {best[whole].processor:.2f} s of processor")
    print(f"  start-up                 {start:.2f} s, {best[little].processor:.2f} s of processor")
    print(f"ratio                      {seconds / reading.seconds:.1f}; of processor time {processor:.1f}")
    print(f"a row, third and whole     {of_third * 1e6:.2f} and {of_whole * 1e6:.2f} microseconds")
    print(f"peak memory, whole season  {best[whole].megabytes:.0f} MB")
    print(f"peak memory, a third of it {best[third].megabytes:.0f} MB")


LAUNCHER = """
import json, os, sys, time
start = time.perf_counter()
_, status, usage = os.wait4(os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ), 0)
print(json.dumps([time.perf_counter() - start, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024]))
sys.exit(os.waitstatus_to_exitcode(status))
"""
"""Starts a command from a small process: the peak memory of a command holds that of the process it was forked from."""


class Cost(NamedTuple):
    """What a piece of work took: seconds by the clock and of the processor, and peak resident memory, MB."""

    seconds: float = math.inf
    processor: float = math.inf
    megabytes: float = 0.0

    def best(self, other: Cost) -> Cost:
        """Return the least time of two rounds, and the most memory."""
        return Cost(
            min(self.seconds, other.seconds),
            min(self.processor, other.processor),
            max(self.megabytes, other.megabytes),
        )


def _measured(work) -> Cost:
    start, processor = time.perf_counter(), time.process_time()
    work()
    return Cost(time.perf_counter() - start, time.process_time() - processor)


def _first_part(whole: Path, part: Path, rows: int) -> Path:
    """Write the header and the first rows."""
    with gzip.open(whole, "rt") as lines, gzip.open(part, "wt", compresslevel=6) as out:
        out.writelines(itertools.islice(lines, rows + 1))
    return part


def _replay(folder: Path, readings: Path) -> Cost:
    """Run the command."""
    command = [str(Path(sys.executable).with_name("hivemon")), "replay", "--config", str(folder / "hivemon.toml")]
    command += ["--readings", str(readings), "--logbook", str(folder / "logbook.csv")]
    command += ["--out", str(folder / "events.jsonl")]
    launched = subprocess.run([sys.executable, "-c", LAUNCHER, *command], check=True, stdout=subprocess.PIPE)
    return Cost(*json.loads(launched.stdout.splitlines()[-1]))


if __name__ == "__main__":
    run()

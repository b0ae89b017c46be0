"""Time and memory of `hivemon replay` on a season of ten hives, against pandas.read_csv of the same file.

Prints: rows, seconds of each (best of some rounds, in turn, since a shared machine is not equally fast all the time),
their ratio; what of it is start-up (the command on one hour of readings); what a row costs in a third of the season and
in the whole of it, start-up taken off, which must be alike; and the peak memory of both, which must not grow either.
"""

from __future__ import annotations

import argparse
import gzip
import itertools
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

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
    reading = math.inf
    best = dict.fromkeys((whole, third, little), (math.inf, 0.0))
    for _ in range(args.rounds):
        reading = min(reading, _timed(lambda: pd.read_csv(whole)))
        best = {path: min(best[path], _replay(folder, path)) for path in best}
    seconds, start = best[whole][0], best[little][0]
    of_third, of_whole = (best[third][0] - start) / (rows // 3), (seconds - start) / rows
    print(f"rows                       {rows:,}")
    print(f"pandas.read_csv            {reading:.2f} s")
    print(f"hivemon replay             {seconds:.2f} s, {start:.2f} s of it start-up")
    print(f"ratio                      {seconds / reading:.1f}; without start-up {(seconds - start) / reading:.1f}")
    print(f"a row, third and whole     {of_third * 1e6:.2f} and {of_whole * 1e6:.2f} microseconds")
    print(f"peak memory, whole season  {best[whole][1]:.0f} MB")
    print(f"peak memory, a third of it {best[third][1]:.0f} MB")


def _timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _first_part(whole: Path, part: Path, rows: int) -> Path:
    """Write the header and the first rows."""
    with gzip.open(whole, "rt") as lines, gzip.open(part, "wt", compresslevel=6) as out:
        out.writelines(itertools.islice(lines, rows + 1))
    return part


def _replay(folder: Path, readings: Path) -> tuple[float, float]:
    """Run the command; return seconds and peak resident memory in MB."""
    command = [str(Path(sys.executable).with_name("hivemon")), "replay", "--config", str(folder / "hivemon.toml")]
    command += ["--readings", str(readings), "--logbook", str(folder / "logbook.csv")]
    command += ["--out", str(folder / "events.jsonl")]
    start = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"replay ended with {process.returncode}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


if __name__ == "__main__":
    run()

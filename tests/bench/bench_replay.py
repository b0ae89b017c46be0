"""Time and memory of `hivemon replay` on a season of ten hives, against pandas.read_csv of the same file.

Prints: rows, seconds of each (best of three), their ratio, and the peak memory of replaying the season once and three
times as long, which must not grow with the length of the stream.
"""

from __future__ import annotations

import argparse
import gzip
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pandas as pd

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from sample_streams.__main__ import main as make


def run() -> None:
    """Make the season, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=180)
    parser.add_argument("--folder", type=Path, help="where a made season is, or goes")
    args = parser.parse_args()
    folder = args.folder or Path(tempfile.mkdtemp(prefix="season"))
    if not (folder / "readings.csv.gz").exists():
        make(["long-season", "--seed", "1", "--days", str(args.days), "--out", str(folder)])
    whole = folder / "readings.csv.gz"
    third = _first_part(whole, folder / "third.csv.gz")
    with gzip.open(whole, "rt") as lines:
        rows = sum(1 for _ in lines) - 1
    reading = min(_timed(lambda: pd.read_csv(whole)) for _ in range(3))
    replays = [_replay(folder, whole) for _ in range(3)]
    seconds = min(s for s, _ in replays)
    print(f"rows                       {rows:,}")
    print(f"pandas.read_csv            {reading:.2f} s")
    print(f"hivemon replay             {seconds:.2f} s (whole command, start-up included)")
    print(f"ratio                      {seconds / reading:.1f}")
    print(f"peak memory, whole season  {max(m for _, m in replays):.0f} MB")
    print(f"peak memory, a third of it {_replay(folder, third)[1]:.0f} MB")


def _timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _first_part(whole: Path, part: Path) -> Path:
    """Write the first third of the rows."""
    with gzip.open(whole, "rt") as lines:
        rows = lines.readlines()
    with gzip.open(part, "wt", compresslevel=6) as out:
        out.writelines(rows[: len(rows) // 3])
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

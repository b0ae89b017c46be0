"""What starting costs on a small board: processor time and peak memory of commands, each in a process of its own.

python tests/bench/bench_start.py
"""

import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
RECORDING = ROOT / "sample_streams" / "recordings" / "orchard-swarm"
RUNS = 5


def main() -> None:
    """Print a line for each command: the best of several runs."""
    with tempfile.TemporaryDirectory() as folder:
        config = Path(folder) / "hivemon.toml"
        config.write_text(
            (RECORDING / "hivemon.toml").read_text() + "[embedded]\nport = 18830\n[pages]\nport = 18831\n"
        )
        files = ["--config", str(config)]
        subprocess.run(
            [sys.executable, "-c", CODE, "import", "--readings", str(RECORDING / "readings.csv.gz"), *files], check=True
        )
        for arguments, seconds in (
            (["--help"], None),
            (["overnight", *files], None),
            (["health", *files], None),
            (["run", *files], 20.0),
        ):
            best = min(_one(arguments, seconds) for _ in range(RUNS if seconds is None else 1))
            print(
                f"hivemon {arguments[0]:<10} {best[0]:5.2f} s of processor, {best[1]:4.0f} MB, {best[2]:5.2f} s in all"
            )


CODE = "import sys; from hivemon.cli import main; sys.exit(main(sys.argv[1:]))"


def _one(arguments: list[str], seconds: float | None) -> tuple[float, float, float]:
    began = time.monotonic()
    child = subprocess.Popen(
        [sys.executable, "-c", CODE, *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    if seconds is not None:
        time.sleep(seconds)
        child.send_signal(signal.SIGTERM)
    _, _, used = os.wait4(child.pid, 0)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, time.monotonic() - began


if __name__ == "__main__":
    main()

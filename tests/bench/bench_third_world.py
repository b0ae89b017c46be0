"""Detection figures on seasons made by `third_world`: run as `python tests/bench/bench_third_world.py --help`.

Single misses and false events of every family were looked at, on the seeds in `LOOKED_AT`. So seeds are what is held
out here, not families: only fresh ones count, and nothing in the program may be chosen by looking at their seasons.
Only sums are printed, by family and in all. `--notes` prints single misses and false events and gives its seeds up: add
them to `LOOKED_AT` on that day.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from held_out import arguments, tables
from third_world.families import FAMILIES
from third_world.season import make

LOOKED_AT: frozenset[int] = frozenset(
    {1, 2, 1860, 1861}.union(*(range(first, first + 3) for first in (101, 2101, 2201, 2301)))
)
"""Seeds on which single misses were looked at; these no longer count as held out."""


def run() -> None:
    """Parse arguments, make, score, print."""
    args = arguments(__doc__, FAMILIES, seeds=2, first=2001, retires="gives these seeds up")
    tables(args, make, lambda _, seed: seed in LOOKED_AT, "looked at")


if __name__ == "__main__":
    run()

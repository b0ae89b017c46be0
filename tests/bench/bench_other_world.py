"""Detection figures on seasons made by `other_world`: run as `python tests/bench/bench_other_world.py --help`.

These seasons are held out: nothing in the program may be chosen by looking at them. Only sums are printed, by family
and in all. `--notes` prints single misses and false events; use it on the day a family is given up to development, and
say so in `RETIRED`.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from held_out import arguments, tables
from other_world.families import FAMILIES
from other_world.season import make

RETIRED: tuple[str, ...] = (
    "desert-research",
    "mediterranean",
    "failing",
    "swarm-spring",
    "hobby",
    "white-nights",
    "tropical",
    "migratory",
)
"""Families whose single misses have been looked at; they no longer count as held out."""


def run() -> None:
    """Parse arguments, make, score, print."""
    args = arguments(__doc__, FAMILIES, seeds=3, first=101, retires="retires the family")
    tables(args, make, lambda name, _: name in RETIRED, "retired")


if __name__ == "__main__":
    run()

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

from bench_inference import show, totals
from held_out import arguments, scored, store
from scoring import Score
from third_world.families import FAMILIES
from third_world.season import make

RETIRED: tuple[str, ...] = (
    "desert-weekly",
    "maquis-cheap",
    "rape-and-lime",
    "heather-moor",
    "long-light",
    "gum-tree",
    "rooftop",
    "backyard-hourly",
    "commercial",
    "minute-scale",
    "dull-year",
    "no-outside",
)
"""Families whose single misses have been looked at, on some seeds: all of them."""
LOOKED_AT: tuple[int, ...] = (1, 2, 101, 102, 103, 1860, 1861)
"""Seeds on which they were looked at; these no longer count as held out."""


def run() -> None:
    """Parse arguments, make, score, print."""
    args = arguments(__doc__, FAMILIES, seeds=2, first=2001, retires="gives these seeds up")
    groups = {"looked at": Score(), "held out": Score()}
    with store(args.keep) as where:
        for name in args.families:
            total = Score()
            for seed in args.seeds:
                one = scored(make, name, seed, where)
                total.add(one)
                groups["looked at" if name in RETIRED and seed in LOOKED_AT else "held out"].add(one)
            show(name, total)
            if args.notes:
                print("\n".join(f"    {note}" for note in total.notes))
    totals(groups)


if __name__ == "__main__":
    run()

"""Detection figures on seasons made by `other_world`: run as `python tests/bench/bench_other_world.py --help`.

These seasons are held out: nothing in the program may be chosen by looking at them. Only sums are printed, by family
and in all. `--notes` prints single misses and false events; use it on the day a family is given up to development, and
say so in `RETIRED`.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from bench_inference import reliability, season, show
from other_world.families import FAMILIES
from other_world.season import make
from scoring import Score

RETIRED: tuple[str, ...] = ("desert-research", "mediterranean", "failing", "swarm-spring", "hobby")
"""Families whose single misses have been looked at; they no longer count as held out."""


def family(name: str, seeds: range, store: Path) -> Score:
    """Make and score several seasons of a family."""
    total = Score()
    for seed in seeds:
        folder = store / f"{name}-{seed}"
        make(name, seed, folder)
        one = season(folder)
        one.notes = [f"{name}-{seed}: {note}" for note in one.notes]
        total.add(one)
    return total


def run() -> None:
    """Parse arguments, make, score, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=list(FAMILIES), help=f"of {', '.join(FAMILIES)}")
    parser.add_argument("--seeds", type=int, default=3, help="seasons of each family")
    parser.add_argument("--first", type=int, default=101, help="first seed")
    parser.add_argument(
        "--notes", action="store_true", help="print every miss and every false event: retires the family"
    )
    parser.add_argument("--keep", type=Path, help="folder to keep made seasons in")
    args = parser.parse_args()
    if unknown := set(args.families) - set(FAMILIES):
        parser.error(f"no family is called {', '.join(sorted(unknown))}; there are {', '.join(FAMILIES)}")
    with tempfile.TemporaryDirectory(prefix="otherworld") as made:
        seeds, store = range(args.first, args.first + args.seeds), args.keep or Path(made)
        groups = {"retired": Score(), "held out": Score()}
        for name in args.families:
            one = family(name, seeds, store)
            show(name, one)
            if args.notes:
                print("\n".join(f"    {note}" for note in one.notes))
            groups["retired" if name in RETIRED else "held out"].add(one)
    for title, total in groups.items():
        if total.hive_days:
            show(f"ALL {title}", total)
            reliability(total)


if __name__ == "__main__":
    run()

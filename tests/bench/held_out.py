"""What the benches of `other_world` and `third_world` share: their arguments, and seasons made, scored and printed."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from bench_inference import season, show, totals
from scoring import Score

if TYPE_CHECKING:
    from collections.abc import Callable, Collection


def arguments(
    about: str | None, families: Collection[str], *, seeds: int, first: int, retires: str
) -> argparse.Namespace:
    """Read the command line; `retires` says what is given up by looking at single misses."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("families", nargs="*", default=list(families), help=f"of {', '.join(families)}")
    parser.add_argument("--seeds", type=int, default=seeds, help="seasons of each family")
    parser.add_argument("--first", type=int, default=first, help="first seed")
    parser.add_argument("--notes", action="store_true", help=f"print every miss and every false event: {retires}")
    parser.add_argument("--keep", type=Path, help="folder to keep made seasons in")
    args = parser.parse_args()
    if unknown := set(args.families) - set(families):
        parser.error(f"no family is called {', '.join(sorted(unknown))}; there are {', '.join(families)}")
    args.seeds = range(args.first, args.first + args.seeds)
    return args


def tables(
    args: argparse.Namespace, make: Callable[[str, int, Path], object], given_up: Callable[[str, int], bool], title: str
) -> None:
    """Make and score seasons; print them by family, those `given_up` (family, seed) under a title, and the others."""
    groups = {title: Score(), "held out": Score()}
    with tempfile.TemporaryDirectory(prefix="heldout") as made:
        for name in args.families:
            total = Score()
            for seed in args.seeds:
                folder = (args.keep or Path(made)) / f"{name}-{seed}"
                make(name, seed, folder)
                one = season(folder)
                total.add(one)
                groups[title if given_up(name, seed) else "held out"].add(one)
            show(name, total)
            if args.notes:
                print("\n".join(f"    {note}" for note in total.notes))
    totals(groups)

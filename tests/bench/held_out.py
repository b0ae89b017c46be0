"""What the benches of `other_world` and `third_world` share: their arguments, and one season made and scored."""

from __future__ import annotations

import argparse
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from bench_inference import season

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from scoring import Score


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


@contextmanager
def store(kept: Path | None) -> Iterator[Path]:
    """Give the folder for seasons: the one named, or one that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="heldout") as made:
        yield kept or Path(made)


def scored(make: Callable[[str, int, Path], object], name: str, seed: int, where: Path) -> Score:
    """Make and score one season, its notes under its name."""
    folder = where / f"{name}-{seed}"
    make(name, seed, folder)
    one = season(folder)
    one.notes = [f"{name}-{seed}: {note}" for note in one.notes]
    return one

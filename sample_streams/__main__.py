"""Command line: ``python -m sample_streams`` makes recordings. Exit code 0 done, 2 wrong use."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from . import families, recordings
from .writer import write

if TYPE_CHECKING:
    from .plan import Scenario


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m sample_streams", description=__doc__)
    parser.add_argument("name", nargs="?", help="a family or a committed recording")
    parser.add_argument("--list", action="store_true", help="list families and recordings")
    parser.add_argument("--recordings", action="store_true", help="make the committed recordings again")
    parser.add_argument("--seed", type=int, help="another seed, another season")
    parser.add_argument("--out", type=Path, help="folder to write to (with --recordings: instead of the committed one)")
    parser.add_argument("--days", type=int, help="length in days")
    parser.add_argument("--interval", type=float, help="minutes between readings, 1 to 60")
    return parser


def _scenario(options: argparse.Namespace, seed: int) -> Scenario:
    """The scenario asked for; raises KeyError for an unknown name."""
    if options.name in families.ALL:
        return families.ALL[options.name](seed, options.days, options.interval)
    scenario = recordings.ALL[options.name].scenario
    sampling = replace(scenario.sampling, minutes=options.interval or scenario.sampling.minutes)
    return replace(scenario, days=options.days or scenario.days, sampling=sampling)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns the exit code."""
    parser = _parser()
    options = parser.parse_args(arguments)
    if options.list:
        for name, fixed in recordings.ALL.items():
            print(f"{name:22} recording, seed {fixed.seed}: {fixed.about}")
        for name, family in families.ALL.items():
            print(f"{name:22} family: {(family.__doc__ or '').splitlines()[0]}")
        return 0
    if options.recordings:
        for name in recordings.ALL:
            print(name, recordings.make(name, options.out or recordings.FOLDER))
        return 0
    if options.name is None or options.out is None:
        parser.error("give a NAME and --out DIR, or --list, or --recordings")
    if options.name not in families.ALL and options.name not in recordings.ALL:
        parser.error(f"unknown name {options.name!r}; known: {', '.join([*recordings.ALL, *families.ALL])}")
    if options.days is not None and options.days < 3:
        parser.error("--days must be at least 3")
    if options.interval is not None and not 1 <= options.interval <= 60:
        parser.error("--interval must be from 1 to 60 minutes")
    seed = (
        options.seed
        if options.seed is not None
        else (recordings.ALL[options.name].seed if options.name in recordings.ALL else 1)
    )
    print(options.name, write(_scenario(options, seed), seed, options.out))
    return 0


if __name__ == "__main__":
    sys.exit(main())

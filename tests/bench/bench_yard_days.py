"""How far the yard's day, the gain that flows and dearths are told by, lies from what its colonies truly gained.

Rain, dew and the wood they soak weigh with the hive. Each flying day's gain as known on its evening is held against the
median true gain of the colonies, by weather: rain within the day or the one before (half a millimetre), or none.

    python tests/bench/bench_yard_days.py --first 1500 --seeds 3
"""

from __future__ import annotations

import argparse
import csv
import gzip
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from bench_inference import DEVELOPED, HELD_OUT, season
from scoring import millis

from hivemon.inference import flow
from hivemon.model import DAY, HOUR, Quantity
from sample_streams.__main__ import main as make

if TYPE_CHECKING:
    from hivemon.inference.flow import FlowMemory
    from hivemon.inference.look import Look
    from hivemon.inference.yard_day import YardDay

FAMILIES = [name for name in (*DEVELOPED, *HELD_OUT) if name != "snowy-spring"]
"""Snow lies for weeks, and nobody asks for forage under it."""
FLOW_KG, RAIN_MM = 0.3, 0.5

Seen = list[tuple[int, float, str]]
"""Flying days: when they began, their gain as known on the evening, kg, and the weather."""


def seen_by(folder: Path) -> Seen:
    """Replay a season and return its flying days as the program saw them."""
    found: Seen = []

    def watch(look: Look, memory: FlowMemory, day: YardDay) -> FlowMemory:
        memory = judge(look, memory, day)
        newest = flow.flown_days(memory.days)[-1:]
        if newest and newest[0].start == day.start:
            rain = look.other(Quantity.RAIN, None)
            fell = float(rain.between(day.start - DAY, day.end).value.sum()) >= RAIN_MM
            found.append((day.start, newest[0].net, "no gauge" if not len(rain.time) else "rain" if fell else "dry"))
        return memory

    flow.judge, judge = watch, flow.judge
    try:
        season(folder)
    finally:
        flow.judge = judge
    return found


def true_gains(folder: Path) -> dict[int, float]:
    """Return the median true gain of a season's colonies, kg, by the moment a day began."""
    gains = defaultdict(list)
    with gzip.open(folder / "daily.csv.gz", "rt") as lines:
        for row in csv.DictReader(lines):
            gains[millis(row["dawn"])].append(float(row["forage_gain"]))
    return {dawn: float(np.median(kg)) for dawn, kg in gains.items()}


def main() -> None:
    """Print the errors by weather and forage."""
    parser = argparse.ArgumentParser()
    parser.add_argument("families", nargs="*", default=FAMILIES)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--first", type=int, default=100)
    args = parser.parse_args()
    errors = defaultdict(list)
    with tempfile.TemporaryDirectory() as store:
        for name in args.families:
            for seed in range(args.first, args.first + args.seeds):
                folder = Path(store) / f"{name}-{seed}"
                make([name, "--seed", str(seed), "--out", str(folder)])
                true = true_gains(folder)
                for start, kg, sky in seen_by(folder):
                    dawn = min(true, key=lambda t: abs(t - start))
                    if abs(dawn - start) < 2 * HOUR:
                        forage = "in a flow" if true[dawn] > FLOW_KG else "no flow"
                        errors[forage, sky].append(kg - true[dawn])
    for (forage, sky), found in sorted(errors.items()):
        kg, where = np.array(found), f"{forage:10s} {sky:9s} {len(found):5d} days"
        print(f"{where}: median {np.median(kg):+.3f} kg, standard error {kg.std():.3f} kg")


if __name__ == "__main__":
    main()

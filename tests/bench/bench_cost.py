"""What a hive day costs, quiet and busy, and whether segmentation sleeps. Run as `python tests/bench/bench_cost.py`.

A hive day is 288 five-minute readings of weight, nest temperature and humidity; the yard adds outside temperature.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from unittest import mock

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2])]

from hivemon.config import HiveSettings, YardSettings
from hivemon.fold import advance, begin
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Series, Stream
from hivemon.rules import Rules
from hivemon.signals import steps

YARD = YardSettings(id="y", latitude=50.0, longitude=5.0, timezone="Europe/Brussels")
HIVES = [HiveSettings(id=f"h{n}", yard="y") for n in range(4)]
START = 1_715_040_000_000
DAYS = 20


def streams(*, busy: bool) -> dict[Stream, Series]:
    """Return twenty days of four hives; on busy ones each is opened, fed or drained several times a day."""
    rng = np.random.default_rng(3)
    when = START + np.arange(0, DAYS * DAY, 5 * MINUTE, dtype=np.int64)
    hour = (when % DAY) / HOUR
    made = {Stream(None, Quantity.OUTSIDE_TEMPERATURE): Series(when, 16 + 6 * np.sin((hour - 9) / 12 * np.pi))}
    for hive in HIVES:
        weight = 40 - 0.2 * np.clip(np.minimum(hour - 6, 20 - hour), 0, 1) + rng.normal(0, 0.03, len(when))
        nest = 34.8 + rng.normal(0, 0.1, len(when))
        if busy:
            for moment in np.sort(rng.choice(len(when) - 20, DAYS * 6, replace=False)):
                weight[moment : moment + 4] += rng.normal(0, 8, 4)
                weight[moment:] += rng.choice([-2.0, 1.5, 0.0, 0.6, -0.6])
            nest -= 9.0 * ((when // DAY) % 4 == 3)
        made[Stream(hive.id, Quantity.WEIGHT)] = Series(when, weight)
        made[Stream(hive.id, Quantity.TEMPERATURE)] = Series(when, nest)
        made[Stream(hive.id, Quantity.HUMIDITY)] = Series(when, 60 + rng.normal(0, 1, len(when)))
    return made


def cost(made: dict[Stream, Series]) -> tuple[float, int]:
    """Fold in daily calls; return milliseconds a hive day and how often segmentation ran."""
    with mock.patch.object(steps, "_breakpoints", wraps=steps._breakpoints) as segmentation:
        state, started = begin(YARD, HIVES, Rules()), time.perf_counter()
        for day in range(DAYS):
            part = {n: s.between(START + day * DAY, START + (day + 1) * DAY) for n, s in made.items()}
            state, _ = advance(state, part, [])
        spent = time.perf_counter() - started
    return spent * 1000 / (DAYS * len(HIVES)), segmentation.call_count


def run() -> int:
    """Print the table; fail when segmentation ran on quiet data."""
    cost(streams(busy=False))  # sun times and imports are paid once
    print(f"{'hive days':12} {'ms each':>8} {'segmentations each':>20}")
    counts = {}
    for name in ("quiet", "busy"):
        spent, counts[name] = cost(streams(busy=name == "busy"))
        print(f"{name:12} {spent:8.2f} {counts[name] / (DAYS * len(HIVES)):20.2f}")
    return 1 if counts["quiet"] else 0


if __name__ == "__main__":
    sys.exit(run())

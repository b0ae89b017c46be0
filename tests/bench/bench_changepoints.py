"""The change-point engine against plain ruptures on daily and minute series: same breakpoints, how much faster.

Run as `python tests/bench/bench_changepoints.py`. Plain is `ruptures.Pelt(model="l2", jump=1)`, the library's exact
penalised search as its manual shows it. "As used" is what the fold pays: the gate sees every reading, and the engine
cuts only the three hours around what it let through; plain would have to look at each reading's window.
"""

from __future__ import annotations

import math
import sys
import time
from pathlib import Path

import numpy as np
import ruptures

sys.path[:0] = [str(Path(__file__).parents[2])]

from hivemon.model import HOUR, MINUTE, Series
from hivemon.signals.clean import noise
from hivemon.signals.moves import gate
from hivemon.signals.segmentation import breakpoints
from hivemon.signals.steps import Change, find_change

START = 1_715_040_000_000
LEAST_KG = 0.5


def season(days: int) -> np.ndarray:
    """Daily net gains of a season in units of their noise: levels of 20 to 40 days."""
    rng = np.random.default_rng(5)
    levels = np.repeat(rng.normal(0, 6, days // 30 + 1), 30)[:days]
    return levels + rng.normal(0, 1, days)


def minutes(days: int) -> Series:
    """A hive's weight each minute, kg: drift, noise of 30 g, and a change of 1.5 to 3 kg on every second day."""
    rng = np.random.default_rng(7)
    when = START + np.arange(0, days * 24 * HOUR, MINUTE, dtype=np.int64)
    weight = 40 + 0.3 * np.sin(np.arange(len(when)) / 1440 * 2 * np.pi) + rng.normal(0, 0.03, len(when))
    for day in range(1, days, 2):
        at = day * 1440 + int(rng.integers(600, 900))
        weight[at:] += rng.choice([-1, 1]) * rng.uniform(1.5, 3.0)
    return Series(when, weight)


def plain(values: np.ndarray, penalty: float) -> list[int]:
    """Search as ruptures' manual does."""
    return ruptures.Pelt(model="l2", min_size=1, jump=1).fit(values.reshape(-1, 1)).predict(pen=penalty)


def compare(name: str, values: np.ndarray, penalty: float) -> bool:
    """Time both searches of one series, best of five and of two; print; tell whether they agree."""
    ours, fast = best(lambda: breakpoints(values, penalty), 5)
    theirs, slow = best(lambda: plain(values, penalty), 2)
    same = "same" if ours == theirs else "OTHER"
    print(
        f"{name:36} {len(values):6} {len(ours) - 1:4} {same:6} {1e3 * fast:9.2f} {1e3 * slow:10.1f} {slow / fast:8.0f}"
    )
    return ours == theirs


def best(work, times: int):
    """Return what the work gives and its shortest time."""
    spent = []
    for _ in range(times):
        began = time.perf_counter()
        found = work()
        spent.append(time.perf_counter() - began)
    return found, min(spent)


def _found(window: Series, opened: int) -> Change | None:
    return find_change(window, opened, noise(window.until(opened).value), window)


def as_used(series: Series) -> None:
    """Cost of a fortnight of minutes as the fold meets them, and what it finds."""
    began = time.perf_counter()
    opened = gate(series, 1, LEAST_KG)
    watches = opened[np.concatenate(([True], np.diff(opened) > HOUR))]
    found = [_found(series.between(int(t) - 150 * MINUTE, int(t) + 30 * MINUTE), int(t)) for t in watches]
    spent = time.perf_counter() - began
    sizes = " ".join(f"{change.size:+.1f}" for change in found if change)
    print(f"as used, {len(series.time):,} minutes: {1e3 * spent:.1f} ms, {len(watches)} cut, changes (kg): {sizes}")


def run() -> int:
    """Print the table; fail where the breakpoints differ."""
    print(f"{'series':36} {'length':>6} {'cuts':>4} {'':6} {'engine ms':>9} {'plain ms':>10} {'times':>8}")
    week, agreed = minutes(14), True
    for days in (60, 180, 730):
        agreed &= compare(f"daily net gains, {days} days", season(days), 3 * math.log(days))
    for hours in (3, 12, 24):
        part = week.value[600 : 600 + 60 * hours] / 0.03
        agreed &= compare(f"weight by the minute, {hours} hours", part, 4 * math.log(len(part)) + 6)
    as_used(week)
    return 0 if agreed else 1


if __name__ == "__main__":
    sys.exit(run())

"""Back-test of the winter's advice against published use of food: `python tests/bench/bench_winter.py --winters 200`.

The truth is arithmetic of its own: what a colony eats month by month by published figures, on a scale under which wood
takes up water and on which snow lies and melts. Nothing of `hivemon.advice` is in it. Winters begin on 1 October with a
weighed tare and end on the first day of spring as the colony feels it: when it eats more than it finds no longer.
"""

from __future__ import annotations

import argparse
import statistics
import sys
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2])]

from hivemon.advice import overwinter
from hivemon.advice.decide import advise
from hivemon.advice.larder import larder
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.scene import Scene
from hivemon.config import HiveSettings, YardSettings
from hivemon.model import DAY, HOUR, Advisory, HiveDay

KG_A_MONTH = {
    "mild": (2.0, 1.2, 1.2, 1.2, 1.2, 2.0),
    "temperate": (2.5, 1.5, 1.5, 2.0, 3.0, 4.0),
    "north": (2.0, 1.2, 1.2, 1.5, 3.0, 5.0),
}
"""Kg eaten from October to March. Mild: 1.2 kg a month (Norrström et al. 2021, measured), more at either end (ours).
The others: 1-2 kg a month in early winter, 3-5 in late winter (Seeley & Visscher 1985, from memory); October ours."""
PLACES = {"mild": (44.0, 3.0), "temperate": (51.2, 3.4), "north": (53.0, 18.0)}
WOOD, BEES = 26.5, (1.9, 5.2)
"""Kg: a tare as weighed; 1.2 kg of bees (10,000, handbooks, from memory) to 4.5 (Farrar 1944), 0.7 of pollen."""
FIRST = date(2024, 10, 1)
AHEAD, SETTLED = 45, 61  # days: how far ahead ends are looked at, in winters settled by December


@dataclass(frozen=True)
class Winter:
    """A hive from 1 October to 31 March: by day `food` kg at dawn and `weight` kg on the scale; `kind` of climate."""

    kind: str
    food: np.ndarray
    weight: np.ndarray

    @property
    def ends(self) -> int | None:
        """The day on which the food is gone, from 0; None when it lasts."""
        gone = np.flatnonzero(self.food <= 0.0)
        return int(gone[0]) if len(gone) else None


def winter(kind: str, start: float, seed: int) -> Winter:
    """Return a winter that begins with `start` kg of food; the seed draws appetite, cluster, wood and snow."""
    rng = np.random.default_rng(seed)
    days = [FIRST + timedelta(days=d) for d in range(182)]
    monthly = dict(zip((10, 11, 12, 1, 2, 3), KG_A_MONTH[kind], strict=True))
    appetite = rng.uniform(0.8, 1.2)
    eaten = np.array([monthly[d.month] / 30.4 * appetite for d in days]) * rng.uniform(0.7, 1.3, len(days))
    food = np.maximum(start - np.concatenate([[0.0], np.cumsum(eaten)[:-1]]), 0.0)
    damp = 0.4 * np.sin(np.arange(len(days)) / 29.0 + rng.uniform(0, 6)) + rng.normal(0, 0.05, len(days))
    snow = np.zeros(len(days))
    for fall in rng.choice(len(days), 0 if kind == "mild" else 4, replace=False):
        lies = int(rng.integers(2, 9))
        snow[fall : fall + lies] += rng.uniform(0.3, 2.5) * np.linspace(1, 0, lies)[: len(snow) - fall]
    bees = np.linspace(1.0, 0.75, len(days)) * rng.uniform(*BEES)
    return Winter(kind, food, WOOD + food + bees + damp + snow)


@dataclass
class Found:
    """What the advice said in one winter, in days from 0: first alarm, and day by day the end that was foreseen.

    `use`: what was taken for the use and what it was, kg a day.
    """

    alarm: int | None = None
    end: dict[int, float] = field(default_factory=dict)
    use: list[tuple[float, float]] = field(default_factory=list)


def follow(course: Winter) -> Found:
    """Ask for advice every morning until the food is gone, and keep what it said."""
    latitude, longitude = PLACES[course.kind]
    yard = YardSettings(id="barn", latitude=latitude, longitude=longitude, timezone="UTC")
    hive = HiveSettings(id="b1", yard="barn", brood_boxes=2, tare_kg=WOOD)
    days: list[HiveDay] = []
    standing: dict[str, Advisory] = {}
    found = Found()
    for d in range(1, len(course.weight) if course.ends is None else course.ends):
        days.append(_day(course, d))
        scene = Scene(
            yard=yard, hives=[hive], now=days[-1].end + 2 * HOUR, days={"b1": days[-120:]}, outside_celsius=5.0,
            weights={"b1": float(course.weight[d])}, open=list(standing.values()),
        )  # fmt: skip
        for change in reconcile(scene.open, advise(scene), scene.now):
            standing.pop(change.id, None)
            if change.closed is None:
                standing[change.id] = change
            if found.alarm is None and change.id.split(":")[0] in ("winter-food", "feed"):
                found.alarm = d
        stores = larder(scene, hive)
        assert stores is not None
        found.end[d] = d + overwinter.lasts(scene, stores.food.mean, stores.use.mean)
        if scene.local(scene.now).month in (12, 1):
            found.use.append((stores.use.mean, float(course.food[max(d - 14, 0)] - course.food[d]) / min(d, 14)))
    return found


def _day(course: Winter, d: int) -> HiveDay:
    dawn = datetime.combine(FIRST + timedelta(days=d - 1), time(7), UTC)
    start = round(dawn.timestamp() * 1000)
    gain = float(course.weight[d] - course.weight[d - 1])
    return HiveDay(
        yard="barn", hive="b1", date=(FIRST + timedelta(days=d - 1)).isoformat(), start=start, dusk=start + 9 * HOUR,
        end=start + DAY, net_gain=gain, coverage=1.0,
    )  # fmt: skip


def run() -> None:
    """Make winters, follow each, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--winters", type=int, default=100, help="of each climate")
    args = parser.parse_args()
    for kind, monthly in KG_A_MONTH.items():
        total = sum(monthly)
        courses = [winter(kind, total * (0.5 + i / args.winters), i) for i in range(args.winters)]
        show(kind, courses, [follow(c) for c in courses])


def show(kind: str, courses: list[Winter], found: list[Found]) -> None:
    """Print one climate's figures."""
    ended = [(c.ends, f) for c, f in zip(courses, found, strict=True) if c.ends is not None]
    lead = [end - f.alarm for end, f in ended if f.alarm is not None]
    off = [f.end[end - AHEAD] - end for end, f in ended if end - AHEAD in f.end and end - AHEAD > SETTLED]
    lasted = [(c, f) for c, f in zip(courses, found, strict=True) if c.ends is None]
    needless = [c.food[-1] for c, f in lasted if f.alarm is not None and c.food[-1] > 5.0]
    use = [abs(own - true) / true for f in found for own, true in f.use if true > 0]
    print(
        f"{kind}: {len(ended)} of {len(courses)} run out; {sum(n >= 14 for n in lead)} told two weeks ahead or more,"
        f" {sum(n >= 7 for n in lead)} one week, median {statistics.median(lead or [0]):.0f} days;"
        f" {AHEAD} days before, the end foreseen less the true one: median {statistics.median(off or [0]):+.0f} days,"
        f" within three weeks {sum(abs(o) <= 21 for o in off)} of {len(off)};"
        f" of {len(lasted)} that lasted alarmed with over 5 kg left: {len(needless)};"
        f" use a week within 30 %: {sum(u <= 0.3 for u in use) / max(len(use), 1):.0%}"
    )


if __name__ == "__main__":
    run()

"""Brood trouble from the true nest: cold, hot, and brood that is no longer held."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .bees import Colonies, Fate
    from .nest import Nest
    from .sky import Array, Grid

COLD, HOT = 32.0, 37.2
"""°C; what capped brood bears for long.

Below 32 °C it is malformed (Himmer 1932, cited by Stabentheiner and others 2021); above 37 to 38 °C it suffers (Himmer
1932 and Koeniger 1978, numbers from memory).
"""
EXPECTED = {"swarm-break", "season", "new-swarm", "empty"}
"""Reasons for which a nest without brood is as it should be."""
DOUBTFUL = {"drought"}
"""Reasons that some would call trouble and some would not."""


def brood_rows(n: Nest, c: Colonies, chosen: list[Fate], g: Grid) -> list[dict[str, Any]]:
    """Return truth rows in grid steps."""
    rows: list[dict[str, Any]] = []
    for h, fate in enumerate(chosen):
        rows += _loose(h, n, c, fate, g)
        rows += _beyond(h, n, g, cold=True)
        rows += _beyond(h, n, g, cold=False)
        rows += _swinging(h, n, g)
    return rows


def _spans(mask: NDArray[np.bool_], join: int, least: int) -> list[tuple[int, int]]:
    """Return [start, stop) where `mask` holds, joined over short breaks, of at least some length."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(int), [0]))))
    found: list[tuple[int, int]] = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if found and a - found[-1][1] <= join:
            found[-1] = (found[-1][0], int(b))
        else:
            found.append((int(a), int(b)))
    return [(a, b) for a, b in found if b - a >= least]


def _swing(x: Array, g: Grid) -> float:
    """Return the median over days of the range within a day, °C."""
    per = 1440 // g.dt
    whole = x[: len(x) // per * per].reshape(-1, per)
    return float(np.median(np.ptp(whole, axis=1))) if len(whole) else 0.0


def _loose(h: int, n: Nest, c: Colonies, fate: Fate, g: Grid) -> list[dict[str, Any]]:
    """Return times when brood is gone, by cause: the onset is where the nest's grip has fallen to a half."""
    rows = []
    day = 1440 // g.dt
    for a, b in _spans(n.grip[h] < 0.5, 2 * day, day):
        d = int(g.day[a])
        why = next((x for x in c.why[h][d : d + 15] if x), "") or "small"
        from_start = a < day
        normal = _swing(n.warm[h, max(0, a - 14 * day) : max(0, a - 2 * day)], g)
        then = _swing(n.warm[h, a + 2 * day : min(b, a + 20 * day)], g)
        earlier = np.flatnonzero(n.grip[h, :a] > 0.93)
        seen = then - normal > 1.5 and b - a > 6 * day and not from_start and a > 16 * day
        row: dict[str, Any] = {"kind": "brood-unstable", "hive": h, "at": a, "stop": None if b >= g.n else b}
        row |= {"size": round(then - normal, 3), "unit": "Cel", "why": why, "before_start": from_start, "note": why}
        doubted = why in DOUBTFUL or fate.weak or why == "small"
        row |= {"expected": why in EXPECTED, "clear": bool(seen and not doubted)}
        row["from"] = int(earlier[-1]) if len(earlier) else a
        rows.append(row)
        if why == "swarm-break" and b - a > 22 * day:
            late = row | {"at": a + 12 * day, "expected": False, "clear": False, "goes_on": True}
            rows.append(late | {"note": "the break goes on: no young queen lays"})
        if b < g.n:
            rows.append(row | {"kind": "brood-recovered", "at": b, "stop": b, "note": f"after {why}"})
    return rows


def _beyond(h: int, n: Nest, g: Grid, *, cold: bool) -> list[dict[str, Any]]:
    """Return times when brood that is there is too cold or too hot; clear where nobody could doubt it."""
    hour = max(1, 60 // g.dt)
    x, brooding = n.warm[h], n.grip[h] > 0.3
    rows: list[dict[str, Any]] = []
    for a, b in _spans((x < COLD if cold else x > HOT) & brooding, 30 * hour, 2 * hour):
        worst = float(x[a:b].min() if cold else x[a:b].max())
        deep = int((x[a:b] < COLD - 1.5).sum()) > 10 * hour if cold else int((x[a:b] > HOT + 0.8).sum()) > 4 * hour
        before = x[max(0, a - 8 * 24 * hour) : a]
        fresh = len(before) > 6 * 24 * hour and not ((before < COLD) if cold else (before > HOT)).any()
        row: dict[str, Any] = {"kind": "brood-cold" if cold else "brood-hot", "hive": h, "at": a}
        row |= {"stop": None if b >= g.n else b, "size": round(worst, 2), "unit": "Cel", "expected": False}
        held = bool(n.grip[h, a:b].min() > 0.75)  # else it is brood that ends, not brood that is lost
        row |= {"clear": deep and fresh and held, "before_start": a < 24 * hour}
        row |= {"note": "held too little" if cold else "heat"}
        rows.append(row)
        if b < g.n:
            rows.append(row | {"kind": "brood-recovered", "at": b, "stop": b, "clear": False, "note": "held again"})
    return rows


def _swinging(h: int, n: Nest, g: Grid) -> list[dict[str, Any]]:
    """Return times when the nest swings with the day by more than it once did: some would call that trouble."""
    day = 1440 // g.dt
    whole = n.warm[h, : g.n // day * day].reshape(-1, day)
    swing = np.ptp(whole, axis=1)
    usual = np.array([np.median(swing[max(0, d - 21) : d]) if d > 3 else swing[0] for d in range(len(swing))])
    wide = np.repeat((swing > 1.6) | (swing > usual + 0.8), day)
    rows: list[dict[str, Any]] = []
    for a, b in _spans(wide & (n.grip[h, : len(wide)] > 0.3), 3 * day, day):
        row: dict[str, Any] = {"kind": "brood-unstable", "hive": h, "at": a, "stop": None if b >= len(wide) else b}
        row |= {"size": round(float(swing[a // day : b // day].max()), 2), "unit": "Cel", "why": "weather"}
        row |= {
            "expected": False,
            "clear": False,
            "before_start": a < day,
            "note": "swings with the day, held by few bees or in heat",
        }
        rows.append(row)
        if b < len(wide):
            rows.append(row | {"kind": "brood-recovered", "at": b, "stop": b, "note": "calm again"})
    return rows

"""What really happened: the list of true events and the day-by-day table.

Flow and dearth follow the project's own rule (no threshold is published): from the true net gain of the working hives,
without noise, weather on the lid, robbing or handling, on days with flight. Flow: median gain of 0.3 kg a day over three
flying days, until it falls below 0.1. Dearth: a loss of 0.05 kg a day over five flying days. `clear` tells whether an edge
is plain enough to be scored: both sides well apart.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .grid import DAY, Floats, Grid, Ints

FLOW_START, FLOW_END, DEARTH = 0.3, 0.1, -0.05  # kg a day
FLYING_HOURS = 2.5  # equivalent full-flight hours that make a hive day a flying day; ours

Event = dict[str, Any]


def _means(values: Floats, width: int) -> Floats:
    """Centred means; the ends use what there is."""
    ones = np.ones(width)
    return np.convolve(values, ones, "same") / np.convolve(np.ones(len(values)), ones, "same")


def _runs(start: np.ndarray, stay: np.ndarray) -> list[tuple[int, int]]:
    """Runs [first, last] that begin where `start` holds and go on while `stay` holds."""
    runs, i = [], 0
    while i < len(start):
        if start[i]:
            j = i
            while j + 1 < len(stay) and stay[j + 1]:
                j += 1
            runs.append((i, j))
            i = j
        i += 1
    return runs


def _edge_clear(gain: Floats, first: int, apart: float) -> bool:
    """Whether the four flying days before and after index `first` lie `apart` kg a day from each other."""
    before, after = gain[max(first - 4, 0):first], gain[first:first + 4]
    return len(before) >= 3 and len(after) >= 3 and abs(float(after.mean() - before.mean())) >= apart


def yard_events(yard: str, grid: Grid, dawns: Ints, gains: Floats, hours: Floats) -> list[Event]:
    """True flow and dearth of a yard. `gains`: net gain by hive day of the working hives, shape (hives, days - 1)."""
    flying = np.flatnonzero(hours[:-1] >= FLYING_HOURS)
    if len(flying) < 6:
        return []
    gain = np.median(gains, axis=0)[flying]
    three, five = _means(gain, 3), _means(gain, 5)
    events: list[Event] = []
    for first, last in _runs(three >= FLOW_START, three >= FLOW_END):
        while gain[first] < FLOW_START and first < last:
            first += 1
        while gain[last] < FLOW_END and last > first:
            last -= 1
        if last - first >= 2:
            events += _pair("flow", yard, grid, dawns, flying, gain, first, last, 0.35)
    for first, last in _runs(five <= DEARTH, five <= DEARTH):
        while gain[first] > 0 and first < last:
            first += 1
        while gain[last] > 0 and last > first:
            last -= 1
        if last - first >= 4:
            events += _pair("dearth", yard, grid, dawns, flying, gain, first, last, 0.18)
    return events


def _pair(what: str, yard: str, grid: Grid, dawns: Ints, flying: np.ndarray, gain: Floats, first: int, last: int,
          apart: float) -> list[Event]:
    onset, end = int(dawns[flying[first]]), int(dawns[min(flying[last] + 1, len(dawns) - 1)])
    rate = float(gain[first:last + 1].mean())
    begins_before, goes_on = first == 0, last == len(gain) - 1
    base = {"yard": yard, "hive": None, "size": round(rate, 3), "unit": "kg/d", "flying_days": last - first + 1}
    long = last - first + 1 >= (4 if what == "flow" else 6) and abs(rate) >= (0.4 if what == "flow" else 0.1)
    events = [{"kind": f"{what}-onset", **base, "onset": onset, "end": None if goes_on else end,
               "clear": bool(long and not begins_before and _edge_clear(gain, first, apart)),
               "before_start": begins_before, "note": f"{what} of {round((end - onset) / DAY, 1)} days"}]
    if not goes_on:
        events.append({"kind": f"{what}-end", **base, "onset": end, "end": end,
                       "clear": bool(long and _edge_clear(gain, last + 1, apart)), "before_start": False,
                       "note": f"end of the {what}"})
    return events


def span_events(kind: str, yard: str, hive: str, t: Ints, bad: np.ndarray, size: Floats, unit: str, shortest: float,
                join: float, note: str) -> list[Event]:
    """Stretches of at least `shortest` seconds in which `bad` holds, joined across pauses of up to `join` seconds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bad.astype(np.int8), [0]])))
    spans: list[list[int]] = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        if spans and t[first] - t[spans[-1][1]] <= join:
            spans[-1][1] = int(last)
        else:
            spans.append([int(first), int(last)])
    events = []
    for first, last in spans:
        if t[last] - t[first] >= shortest:
            part = size[first:last + 1]
            events.append({"kind": kind, "yard": yard, "hive": hive, "onset": int(t[first]), "end": int(t[last]),
                           "size": round(float(part.min() if kind == "brood-cold" else part.max()), 2), "unit": unit, "note": note})
    return events

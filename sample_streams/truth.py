"""What really happened: the list of true events and the day-by-day table.

Flow and dearth follow the project's own rule (no threshold is published): from the true net gain of the
working hives, without noise, weather on the lid, robbing or handling, on days with flight. Flow: median
gain of 0.3 kg a day over three flying days, until it falls below 0.1. Dearth: a loss of 0.05 kg a day over
five flying days. `clear` tells whether an edge is plain enough to be scored: both sides well apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .grid import DAY, Floats, Ints

FLOW_START, FLOW_END, DEARTH = 0.3, 0.1, -0.05  # kg a day
FLYING_HOURS = 2.5  # equivalent full-flight hours that make a hive day a flying day; ours

Event = dict[str, Any]


def _means(values: Floats, width: int) -> Floats:
    """Centred means; the ends use what there is."""
    ones = np.ones(width)
    return np.convolve(values, ones, "same") / np.convolve(np.ones(len(values)), ones, "same")


def _runs(start: np.ndarray, stay: np.ndarray) -> list[tuple[int, int]]:
    """Runs [first, last] that begin where `start` holds and go on while `stay` holds."""
    runs: list[tuple[int, int]] = []
    for i in np.flatnonzero(start).tolist():
        if runs and i <= runs[-1][1]:
            continue
        over = np.flatnonzero(~stay[i:])
        runs.append((i, i + int(over[0]) - 1 if len(over) else len(stay) - 1))
    return runs


def _edge_clear(gain: Floats, first: int, apart: float) -> bool:
    """Whether the four flying days before and after index `first` lie `apart` kg a day from each other."""
    before, after = gain[max(first - 4, 0) : first], gain[first : first + 4]
    return len(before) >= 3 and len(after) >= 3 and abs(float(after.mean() - before.mean())) >= apart


@dataclass(frozen=True)
class Regime:
    """A kind of yard event: name, least number of flying days, and what makes an edge clear.

    That is `long` flying days and a mean of at least `strong` kg a day, the two sides `apart` kg a day from each
    other.
    """

    name: str
    least: int
    long: int
    strong: float
    apart: float


FLOW = Regime("flow", 3, 4, 0.4, 0.35)
LEAN = Regime("dearth", 5, 6, 0.1, 0.18)


@dataclass(frozen=True)
class Days:
    """Flying hive days of a yard: `dawns` of all its days, indices `flying`, median true net `gain` kg of each."""

    yard: str
    dawns: Ints
    flying: Ints
    gain: Floats


def yard_events(yard: str, dawns: Ints, gains: Floats, hours: Floats) -> list[Event]:
    """True flow and dearth of a yard. `gains`: net gain by hive day of the working hives, shape (hives, days - 1)."""
    flying = np.flatnonzero(hours[:-1] >= FLYING_HOURS)
    if len(flying) < 6:
        return []
    days = Days(yard, dawns, flying, np.median(gains, axis=0)[flying])
    three, five = _means(days.gain, 3), _means(days.gain, 5)
    events: list[Event] = []
    for first, last in _runs(three >= FLOW_START, three >= FLOW_END):
        run = _trim(days.gain >= FLOW_START, days.gain >= FLOW_END, first, last)
        events += _pair(FLOW, days, *run)
    for first, last in _runs(five <= DEARTH, five <= DEARTH):
        run = _trim(days.gain <= 0, days.gain <= 0, first, last)
        events += _pair(LEAN, days, *run)
    return events


def _trim(at_first: np.ndarray, at_last: np.ndarray, first: int, last: int) -> tuple[int, int]:
    """Shorten a run until its first and last day are of the kind themselves."""
    while first < last and not at_first[first]:
        first += 1
    while last > first and not at_last[last]:
        last -= 1
    return first, last


def _pair(regime: Regime, days: Days, first: int, last: int) -> list[Event]:
    """Onset and, unless it goes on past the recording, end of a run of flying days; none if it is too short."""
    count = last - first + 1
    if count < regime.least:
        return []
    onset, end = int(days.dawns[days.flying[first]]), int(days.dawns[min(days.flying[last] + 1, len(days.dawns) - 1)])
    rate = float(days.gain[first : last + 1].mean())
    plain = count >= regime.long and abs(rate) >= regime.strong
    goes_on = last == len(days.gain) - 1
    base = {"yard": days.yard, "hive": None, "size": round(rate, 3), "unit": "kg/d", "flying_days": count}
    clear = bool(plain and first > 0 and _edge_clear(days.gain, first, regime.apart))
    note = f"{regime.name} of {round((end - onset) / DAY, 1)} days"
    events: list[Event] = [
        {
            "kind": f"{regime.name}-onset",
            **base,
            "onset": onset,
            "end": None if goes_on else end,
            "clear": clear,
            "before_start": first == 0,
            "note": note,
        }
    ]
    if not goes_on:
        clear = bool(plain and _edge_clear(days.gain, last + 1, regime.apart))
        events.append(
            {
                "kind": f"{regime.name}-end",
                **base,
                "onset": end,
                "end": end,
                "clear": clear,
                "before_start": False,
                "note": f"end of the {regime.name}",
            }
        )
    return events


@dataclass(frozen=True)
class Trouble:
    """A kind of stretch: event kind, unit, least seconds it lasts, seconds of pause it bridges, note."""

    kind: str
    unit: str
    shortest: float
    join: float
    note: str


def spans(trouble: Trouble, t: Ints, bad: np.ndarray) -> list[tuple[int, int]]:
    """Index pairs [first, last] of stretches in which `bad` holds, long enough and joined across short pauses."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bad.astype(np.int8), [0]])))
    joined: list[list[int]] = []
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        if joined and t[first] - t[joined[-1][1]] <= trouble.join:
            joined[-1][1] = int(last)
        else:
            joined.append([int(first), int(last)])
    return [(first, last) for first, last in joined if t[last] - t[first] >= trouble.shortest]

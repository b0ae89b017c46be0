"""Flow and dearth of a yard from true gains, by the rule that this project names as its own: no published one is known.

The rule: a flow when the 3-day mean of the median working hive reaches 0.3 kg a day, over when it falls below 0.1 in
flying weather; a dearth when the mean of 5 to 7 flying days loses at least 0.05 kg a day. Where other fair readings
of the rule put an edge elsewhere, the edge is not `clear`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .sky import Array

Run = tuple[int, int | None]
"""First hive day, and the first hive day after, or None while it lasts."""

SHORT_BREAK_DAYS = 7
"""A break up to this long is no longer than the rule's own window."""
FLYING_HOURS = 3.0
"""Hours fit for flight that make a day count (this package's guess)."""


@dataclass(frozen=True)
class Reading:
    """One way to read the rule: daily gains (kg) and whether bees flew, of shape (days,); thresholds in kg a day."""

    gain: Array
    flying: NDArray[np.bool_]
    on: float = 0.3
    off: float = 0.1
    days: int = 3
    loss: float = -0.05
    dearth_days: int = 6


def _edge(x: Array, low: int, high: int, middle: float, rising: bool) -> int:
    """Return the day in [low, high] from which `x` lies most on the other side of `middle`."""
    sign = 1 if rising else -1
    after = np.cumsum(sign * (x[low : high + 1] - middle)[::-1])[::-1]
    return low + int(after.argmax())


def runs(x: Array, window: int, on: float, off: float, above: bool) -> list[Run]:
    """Return runs over consecutive counted days: begun when the mean passes `on`, over when it passes `off`."""
    sign = 1 if above else -1
    y, on, off = sign * x, sign * on, sign * off
    found: list[Run] = []
    start: int | None = None
    last = 0
    for i in range(window - 1, len(y)):
        mean = y[i - window + 1 : i + 1].mean()
        if start is None and mean >= on and i - window + 1 >= last:
            start = _edge(y, max(i - window - 1, last), i, (on + off) / 2 if above else on, rising=True)
        elif start is not None and mean < off and i - start >= window:
            last = _edge(y, max(i - window + 1, start + 1), i, off, rising=False)
            found.append((start, last))
            start = None
    if start is not None:
        found.append((start, None))
    return found


def _by(r: Reading, flow: bool) -> list[Run]:
    """Return runs in hive days; days without flying weather do not count."""
    days = np.flatnonzero(r.flying)
    if len(days) < 8:
        return []
    x = r.gain[days]
    args = (r.days, r.on, r.off, True) if flow else (r.dearth_days, r.loss, r.loss, False)
    return [(int(days[a]), None if b is None else int(days[b])) for a, b in runs(x, *args)]


def _others(r: Reading, wet: Array, every: Array, hours: Array, rain: Array) -> list[Reading]:
    """Return the other fair ways to read the rule: fresh nectar counted, all hives, other hours, other thresholds."""

    def but(**change: Any) -> Reading:
        return replace(r, **change)

    return [
        but(gain=wet),
        but(gain=every),
        but(gain=every, loss=-0.07),
        but(flying=(hours > FLYING_HOURS) & (rain < 2.0)),  # a day of rain is neither flow nor dearth
        but(on=0.37, off=0.14, loss=-0.09),
        but(on=0.24, off=0.06, loss=-0.02),
        but(days=4, dearth_days=7),
        but(dearth_days=5),
        but(flying=hours > 1.5),
        but(flying=hours > 4.5),
        but(gain=r.gain - 0.04),
        but(gain=r.gain + 0.04),
    ]


def yard(gain: Array, wet: Array, every: Array, hours: Array, rain: Array) -> list[dict[str, Any]]:
    """Return truth rows with hive days as `day` and `stop_day`.

    Each array has shape (days,): kg gained by the median working hive, the same with water still in its nectar, by the
    median of all hives, hours fit for flight, mm of rain.
    """
    main = Reading(gain, hours > FLYING_HOURS)
    others = _others(main, wet, every, hours, rain)
    rows: list[dict[str, Any]] = []
    for flow in (True, False):
        name = "flow" if flow else "dearth"
        mine = _by(main, flow)
        theirs = [_by(r, flow) for r in others]
        for start, stop in mine:
            rows += _rows(name, start, stop, gain, hours, theirs)
        _blur(rows, name, mine)
        for other in theirs:
            rows += _vague(name, other, rows)
    return rows


def _blur(rows: list[dict[str, Any]], name: str, mine: list[Run]) -> None:
    """Make both edges of a break not clear where it is no longer than the rule's own window."""
    for (_, stop), (start, _) in pairwise(mine):
        if stop is not None and start - stop <= SHORT_BREAK_DAYS:
            for row in rows:
                if (row["kind"], row["day"]) in {(f"{name}-end", stop), (f"{name}-onset", start)}:
                    row["clear"] = False


def _rows(
    name: str, start: int, stop: int | None, gain: Array, hours: Array, theirs: list[list[Run]]
) -> list[dict[str, Any]]:
    """Return the onset of a run and its end, each clear where all other readings of the rule find it thereabouts."""
    end = len(gain) if stop is None else stop
    fly = hours[start:end] > FLYING_HOURS
    agree = sum(any(abs(a - start) <= 2 for a, _ in other) for other in theirs)
    thin = fly.mean() < 0.5 or fly.sum() < (5 if name == "flow" else 10)  # hardly longer than the rule's own window
    at_once = start <= 3
    base: dict[str, Any] = {"size": round(float(gain[start:end][fly].mean()), 3), "unit": "kg/d"}
    base |= {"hive": None, "flying_days": int(fly.sum()), "before_start": at_once}
    found = [base | {"kind": f"{name}-onset", "day": start, "stop_day": stop}]
    found[0] |= {
        "clear": bool(agree == len(theirs) and not thin and not at_once),
        "note": f"{name} of {end - start} days",
    }
    if stop is not None:
        agree = sum(any(b is not None and abs(b - stop) <= 3 for _, b in other) for other in theirs)
        # A run that ended behind rain: nobody knows on which day.
        grounded = not (hours[max(stop - 3, 0) : stop] > FLYING_HOURS).any()
        clear = bool(agree == len(theirs) and not thin and not grounded)
        row = base | {"kind": f"{name}-end", "day": stop, "stop_day": stop, "before_start": False, "clear": clear}
        found.append(row | {"note": f"end of the {name}"})
        if grounded:
            last = int(np.flatnonzero(hours[:stop] > FLYING_HOURS)[-1]) + 1
            found.append(row | {"day": last, "stop_day": last, "clear": False, "note": "the last day it was seen"})
    return found


def _vague(name: str, other: list[Run], rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return runs of another reading of the rule that no row tells of yet."""
    found: list[dict[str, Any]] = []
    for start, stop in other:
        for kind, day, until in ((f"{name}-onset", start, stop), (f"{name}-end", stop, stop)):
            if day is None or any(r["kind"] == kind and abs(r["day"] - day) <= 1 for r in rows + found):
                continue
            row: dict[str, Any] = {"kind": kind, "hive": None, "day": day, "stop_day": until, "size": 0, "unit": "kg/d"}
            found.append(row | {"clear": False, "before_start": day <= 3, "note": "by some readings of the rule"})
    return found

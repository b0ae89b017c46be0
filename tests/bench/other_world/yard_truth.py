"""Flows and dearths of a yard from noise-free gains, by the project's rule, and which of their edges are plain.

The rule (the project's own; no threshold is published): a flow is a run of days with flight on which the median
working hive gains 0.3 kg a day in the mean of three, over when that falls below 0.1; a dearth is a run on which it
loses 0.05 in the mean of five. An edge is clear when stricter and laxer rules, all hives instead of the working ones,
and the feed's drying counted in put it within two days (an end: three) of the same day.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from .clock import DAWN, PER_DAY, PER_HOUR, Array

if TYPE_CHECKING:
    from numpy.typing import NDArray

FLYING_HOURS = 2.5
"""Hours of full flight that make a day one of flying weather."""
RULES = ((0.3, 0.1, 0.05), (0.2, 0.16, 0.025), (0.42, 0.02, 0.09))
"""Flow from, flow until, dearth from, kg a day: the rule, a lax one, a strict one."""
FEWEST = {"flow": 5, "dearth": 7}
"""Flying days in a run that is plain."""


@dataclass(frozen=True)
class Run:
    """A flow or a dearth: first day, first day after it (None: goes on), mean kg a day, flying days."""

    what: str
    first: int
    stop: int | None
    size: float
    flying: int


def daily(slow: Array) -> Array:
    """Return the change of a slow series from dawn to dawn, shape (days - 1,)."""
    return np.diff(slow[DAWN::PER_DAY])


def flying_days(flight: Array) -> NDArray[np.bool_]:
    """Tell which hive days have flying weather, from the share of full flight, shape (days - 1,)."""
    hours = np.diff(np.cumsum(flight)[DAWN::PER_DAY]) / PER_HOUR
    return hours >= FLYING_HOURS


def runs(gain: Array, flying: NDArray[np.bool_], rule: tuple[float, float, float]) -> list[Run]:
    """Walk the flying days and return the flows and dearths, in order."""
    enough, little, lean = rule
    days = np.flatnonzero(flying)
    g = gain[days]
    found: list[Run] = []
    what, since = "", 0

    def close(at: int | None) -> None:
        if what:
            part = g[since : at if at is not None else len(g)]
            stop = None if at is None else int(days[at])
            found.append(Run(what, int(days[since]), stop, float(part.mean()), len(part)))

    for i in range(len(days) - 2):
        three, five = g[i : i + 3].mean(), g[i : i + 5].mean()
        now = what
        if what != "flow" and three >= enough and g[i] >= enough / 2:
            now = "flow"
        elif what == "flow" and three < little and g[i] < enough:
            now = ""
        if now != "flow" and i + 5 <= len(g):
            if now == "" and five <= -lean and g[i] <= -lean:
                now = "dearth"
            elif now == "dearth" and five > -lean and g[i] > -lean:
                now = ""
        if now != what:
            close(i)
            what, since = now, i
    close(None)
    return found


def edges(found: list[Run]) -> list[tuple[str, int]]:
    """Return the kinds and days of the edges of runs."""
    return [(f"{r.what}-onset", r.first) for r in found] + [
        (f"{r.what}-end", r.stop) for r in found if r.stop is not None
    ]


def judge(variants: list[Array], flying: NDArray[np.bool_], blind: NDArray[np.bool_]) -> list[dict[str, Any]]:
    """Return the yard's events with days for moments.

    Args:
        variants: Daily gains by several readings of the rule; the first is the one that counts.
        flying: Which days had flying weather.
        blind: Days on which the yard was not (or hardly) measured.
    """
    main = runs(variants[0], flying, RULES[0])
    others = [edges(runs(gain, flying, rule)) for gain in variants for rule in RULES]
    events = [e for run in main for e in _both(run, others, flying, blind)]
    known = edges(main)
    for gain in variants:
        for rule in RULES:
            for run in runs(gain, flying, rule):
                if all(k != f"{run.what}-onset" or abs(d - run.first) > 1 for k, d in known):
                    known += edges([run])
                    events += [
                        e | {"clear": False, "note": "by some readings of the rule"}
                        for e in _both(run, [], flying, blind)
                    ]
    return sorted(events, key=lambda e: e["onset"])


def _both(
    run: Run, others: list[list[tuple[str, int]]], flying: NDArray[np.bool_], blind: NDArray[np.bool_]
) -> list[dict[str, Any]]:
    """Return onset and end of a run, each marked clear or not."""
    plain = run.flying >= FEWEST[run.what]
    base = {"hive": None, "size": round(run.size, 3), "unit": "kg/d", "flying_days": run.flying, "before_start": False}
    onset = base | {
        "kind": f"{run.what}-onset",
        "onset": run.first,
        "end": run.stop,
        "before_start": run.first <= 2,
        "clear": plain
        and run.first >= 5
        and _agreed(f"{run.what}-onset", run.first, 2, others)
        and _seen(run.first, blind)
        and int(flying[run.first :].sum()) >= FEWEST[run.what],
        "note": f"{run.what} of {run.flying} flying days",
    }
    if run.stop is None:
        return [onset]
    end = base | {
        "kind": f"{run.what}-end",
        "onset": run.stop,
        "end": run.stop,
        "clear": plain
        and _agreed(f"{run.what}-end", run.stop, 3, others)
        and _seen(run.stop, blind)
        and int(flying[run.stop :].sum()) >= FEWEST[run.what],
        "note": f"end of the {run.what}",
    }
    return [onset, end]


def _agreed(kind: str, day: int, within: int, others: list[list[tuple[str, int]]]) -> bool:
    return all(any(k == kind and abs(d - day) <= within for k, d in known) for known in others)


def _seen(day: int, blind: NDArray[np.bool_]) -> bool:
    return not blind[max(day - 3, 0) : day + 4].any()

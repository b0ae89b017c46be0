"""Scores events against truth, causally: what was raised counts, also when it was taken back later.

Matching: a swarm within 45 minutes (1.5 sampling intervals if longer), flow and dearth onsets within 3 days, their ends
within 4, brood trouble of whatever kind within the failure (from the earliest that anybody could see a nest loosen to 4
days after), robbing within a day. A true event marked not `clear`, or `expected`, is neither asked for nor held against
the program.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from hivemon.model import DAY, HOUR, MINUTE, Event, Kind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    IntArray = NDArray[np.int64]

ONSETS = (Kind.FLOW_ONSET, Kind.DEARTH_ONSET)
ENDS = (Kind.FLOW_END, Kind.DEARTH_END)
BROOD = (Kind.BROOD_COLD, Kind.BROOD_HOT, Kind.BROOD_UNSTABLE)
SCORED = (Kind.SWARM, *ONSETS, *ENDS, *BROOD, Kind.BROOD_RECOVERED, Kind.ROBBING, Kind.OFF_SCALE)


def millis(text: str) -> int:
    """Read an RFC 3339 moment."""
    return round(datetime.fromisoformat(text).timestamp() * 1000)


@dataclass
class Tally:
    """Counts for one kind over many seasons."""

    asked: int = 0
    found: int = 0
    told: int = 0
    false: int = 0
    taken_back: int = 0
    delays: list[float] = field(default_factory=list)
    calibration: list[tuple[float, bool]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Add another tally's counts."""
        for name in ("asked", "found", "told", "false", "taken_back"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.delays += other.delays
        self.calibration += other.calibration

    @property
    def recall(self) -> float:
        """Share of true events that were found; 1 where there were none."""
        return self.found / self.asked if self.asked else 1.0

    @property
    def precision(self) -> float:
        """Share of what was told that was true; 1 where nothing was told."""
        return 1 - self.false / self.told if self.told else 1.0


@dataclass
class Score:
    """Tallies by kind, hive-days seen, the returned swarms, and those missed that were away for no two readings."""

    kinds: dict[Kind, Tally] = field(default_factory=lambda: defaultdict(Tally))
    hive_days: float = 0.0
    returned: int = 0
    returned_withdrawn: int = 0
    fleeting: int = 0
    seasons: list[float] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, other: Score) -> None:
        """Add another season's score."""
        for kind, tally in other.kinds.items():
            self.kinds[kind].add(tally)
        self.hive_days += other.hive_days
        self.seasons += other.seasons or [other.false_per_season]
        self.returned += other.returned
        self.returned_withdrawn += other.returned_withdrawn
        self.fleeting += other.fleeting
        self.notes += other.notes

    def brood(self) -> Tally:
        """Return the tally of all brood trouble: which kind it is called matters less than that it is seen."""
        total = Tally()
        for kind in BROOD:
            total.add(self.kinds.get(kind, Tally()))
        return total

    @property
    def false_per_season(self) -> float:
        """False events of the scored kinds in 180 hive-days."""
        return sum(t.false for t in self.kinds.values()) / max(self.hive_days, 1) * 180


def score(truth: dict, events: list[Event], weighed: Mapping[str, IntArray]) -> Score:
    """Score the last versions of all events of a season against its truth.

    `weighed`: when each hive's weight was read, milliseconds UTC, ascending.
    """
    result = Score()
    hives = len(truth["hives"])
    result.hive_days = hives * (millis(truth["end"]) - millis(truth["start"])) / DAY
    taken: Counter[int] = Counter()
    true = [t for t in truth["events"] if t["kind"] in {k.value for k in SCORED}]
    for event in sorted((e for e in events if e.kind in SCORED), key=lambda e: e.raised):
        _place(event, true, taken, truth, result)
    for number, t in enumerate(true):
        if _wanted(t):
            tally = result.kinds[Kind(t["kind"])]
            tally.asked += 1
            tally.found += taken[number] > 0
            if not taken[number]:
                result.fleeting += _fleeting(t, weighed)
                result.notes.append(f"missed {t['kind']} {t.get('hive')} {t['onset']} {t.get('size')} {t.get('note')}")
    return result


def _place(event: Event, true: list[dict], taken: Counter[int], truth: dict, result: Score) -> None:
    """Match one told event with the nearest true one it fits, or call it false."""
    fits = [n for n, t in enumerate(true) if _fits(event, t, truth)]
    apart = {n: abs(event.onset_first - millis(true[n]["onset"])) for n in fits}
    best = min(fits, key=lambda n: (taken[n] > 0, not _wanted(true[n]), apart[n]), default=None)
    tally = result.kinds[event.kind]
    if best is None:
        tally.told += 1
        tally.false += 1
        tally.taken_back += event.withdrawn is not None
        tally.calibration.append((event.confidence, False))
        back = f" (taken back: {event.withdrawn_because})" if event.withdrawn else ""
        result.notes.append(f"false {event.id} {event.size} {event.confidence} {event.reason}{back}")
        return
    t = true[best]
    first = taken[best] == 0
    taken[best] += 1
    if not _wanted(t) or not first:
        if t.get("returned") and first:
            _returned(event, t, result)
        return
    tally.told += 1
    tally.calibration.append((event.confidence, True))
    tally.delays.append((event.raised - millis(t["onset"])) / MINUTE)
    if t.get("returned"):
        _returned(event, t, result)


def _returned(event: Event, t: dict, result: Score) -> None:
    result.returned += 1
    back = millis(t["returned_at"]) if t.get("returned_at") else millis(t["onset"])
    if event.withdrawn is not None and event.withdrawn <= back + 90 * MINUTE:
        result.returned_withdrawn += 1
    else:
        result.notes.append(f"returned swarm not withdrawn {event.id}")


def _fleeting(t: dict, weighed: Mapping[str, IntArray]) -> bool:
    """Whether a swarm was home again before its hive was weighed twice: one low reading alone is a spike or a hand."""
    if not t.get("returned_at"):
        return False
    out, home = np.searchsorted(weighed[t["hive"]], (millis(t["end"]), millis(t["returned_at"])))
    return bool(home - out < 2)


LEAST_SWARM_KG = 0.7  # what the program sets out to tell


def _wanted(t: dict) -> bool:
    if t["kind"] == Kind.SWARM.value and t["size"] < LEAST_SWARM_KG:
        return False
    return t.get("clear", True) and not t.get("expected", False) and not t.get("before_start", False)


ALLOWED = dict.fromkeys(ONSETS, 3 * DAY) | dict.fromkeys(ENDS, 4 * DAY) | {Kind.BROOD_RECOVERED: 4 * DAY}
"""How far apart told and true may be, for kinds that are matched by their onset alone."""


def _fits(event: Event, t: dict, truth: dict) -> bool:
    same = t["kind"] == event.kind.value or (event.kind in BROOD and t["kind"] in {k.value for k in BROOD})
    if not same or t.get("hive") != event.hive:
        return False
    start, told = millis(t["onset"]), event.onset_first
    end = millis(t["end"]) if t.get("end") else millis(truth["end"])
    if event.kind in ALLOWED:
        vague = event.kind in ONSETS and not _wanted(t) and start - 3 * DAY <= told <= end
        return abs(told - start) <= ALLOWED[event.kind] or vague
    if event.kind is Kind.SWARM:
        return abs(told - start) <= max(45 * MINUTE, round(1.5 * truth["interval_minutes"] * MINUTE))
    if event.kind is Kind.ROBBING:
        return start - DAY <= told <= end + DAY
    return _brood_starts(t, start) - 2 * HOUR <= told <= end + _grace(t)


def _brood_starts(t: dict, start: int) -> int:
    """Return the earliest that anybody could see a nest loosen; a break that only goes on starts where it is told."""
    return min(start, millis(t["loosening_from"])) if t.get("loosening_from") and not t.get("goes_on") else start


def _grace(t: dict) -> int:
    return 4 * DAY if t["kind"] == Kind.BROOD_UNSTABLE.value else 2 * HOUR

"""The beekeeper: visits as runs of random lifts, syrup, supers, harvests, splits, hives carried about, and a logbook.

1 kg of 1:1 syrup settles to at most 0.64 kg, of 2:1 to 0.86 (mass balance on sugar): a fifth to two fifths is lost
over days after feeding.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from .colony import Change

if TYPE_CHECKING:
    from .clock import Clock
    from .plan import KeeperKind, YardPlan
    from .sky import Sky
    from .tracks import Tracks

Line = tuple[float, str, str, float | None, str]
"""Minute, hive, entry, amount, note."""


@dataclass
class Visit:
    """One hive opened: first minute, minutes, and what is done, each with its lasting kg and what of it dries off."""

    hive: int
    start: int
    minutes: int
    acts: list[tuple[str, float, float]] = field(default_factory=list)


def rounds(plan: YardPlan, clock: Clock, sky: Sky, rng: np.random.Generator) -> list[Visit]:
    """Draw a season's visits: fair-weather days, hive after hive, more to do where there is a harvest or a split."""
    kind, found, supers = plan.keeper, [], dict.fromkeys(range(len(plan.hives)), 0)
    day = float(rng.uniform(2, kind.every + 2))
    days = set()
    while day < clock.days - 2:
        days.add(int(day))
        day += max(1.0, rng.normal(kind.every, 0.2 * kind.every))
    for today in sorted(days | set(kind.harvest_days) | set(kind.split_days)):
        noon = today * 288 + 144
        if sky.rain[noon - 24 : noon + 36].sum() > 1.5 and today not in kind.harvest_days:
            continue
        at = today * 1440 + int(rng.normal(11.2, 1.6) * 60)
        for hive in rng.permutation(len(plan.hives)):
            if rng.random() < 0.15 and today not in kind.harvest_days:
                continue
            length = int(np.clip(rng.gamma(3, kind.minutes / 3), 4, 60))
            found.append(Visit(int(hive), at, length, _acts(kind, today, int(hive), supers, rng)))
            at += length + int(rng.integers(2, 12))
    return found


def _acts(
    kind: KeeperKind, day: int, hive: int, supers: dict[int, int], rng: np.random.Generator
) -> list[tuple[str, float, float]]:
    acts: list[tuple[str, float, float]] = [("inspect", float(rng.normal(0, 0.08)), 0.0)]
    if kind.feed and kind.feed_span[0] <= day <= kind.feed_span[1] and rng.random() < 0.9:
        kg = kind.feed * rng.uniform(0.6, 1.3)
        acts.append(("feed", kg, kg * rng.uniform(0.12, 0.38)))
    if day in kind.harvest_days:
        acts.append(("harvest", -rng.uniform(6, 14) - 9 * supers[hive], 0.0))
        supers[hive] = 0
        if rng.random() < 0.5:
            acts.append(("super-on", rng.uniform(5, 8), 0.0))
    elif day in kind.split_days and rng.random() < 0.6:
        acts.append(("split", -rng.uniform(1.8, 6.0), 0.0))
    elif kind.supers and supers[hive] < 3 and rng.random() < 0.25:
        supers[hive] += 1
        acts.append(("super-on", rng.uniform(4, 11), 0.0))
    elif rng.random() < 0.1:
        acts.append(("note", float(rng.normal(0, 1.0)), 0.0))  # a stone, a frame swapped, a lid changed
    return acts


def changes(visits: list[Visit], hive: int, rng: np.random.Generator) -> list[Change]:
    """Return what the splits do to a colony: bees gone, and in half of them the queen too."""
    found = []
    for visit in (v for v in visits if v.hive == hive):
        for act, kg, _ in visit.acts:
            if act == "split":
                again = int(rng.integers(18, 28)) if rng.random() < 0.5 else 0
                found.append(Change(visit.start // 1440, max(0.45, 1 + kg * 0.09), 0, again))
    return found


def handle(track: Tracks, visit: Visit, gross: float, rough: float, rng: np.random.Generator) -> None:
    """Open a hive of `gross` kg: boxes off and on, a hand on the edge, the nest cooled; then the lasting changes."""
    gross = max(gross, 10.0)
    at, left = visit.start, min(visit.minutes, track.clock.minutes - visit.start - 2)
    while left > 0:
        length = min(left, int(rng.integers(1, 6)))
        lift = -rng.uniform(1, 6) - (rng.random() < 0.55) * rng.uniform(0, 0.75 * gross)
        track.mass[at : at + length] += lift + rng.normal(0, 0.4 * rough, length)
        track.mass[at : at + length] += (rng.random(length) < 0.2) * rng.normal(0, 6 * rough, length)
        at, left = at + length, left - length
    dip = -rng.gamma(1.6, 1.2) * min(visit.minutes / 15, 2.0)
    track.push(visit.start, max(dip, -11.0), rise=visit.minutes, fall=rng.uniform(8, 50), damp=-rng.uniform(3, 25))
    for act, wanted, dries in visit.acts:
        kg = max(wanted, min(24.0 - gross, 0.0)) if act == "harvest" else wanted  # nobody takes what is not there
        track.step(min(at, track.clock.minutes - 1), kg)
        if dries:
            lag = rng.uniform(1.2, 4) * 1440
            after = np.arange(track.clock.minutes - at)
            track.mass[at:] -= dries * (1 - np.exp(-after / lag))
        track.handling.append(
            {
                "hive": track.hive,
                "action": act,
                "start": visit.start,
                "end": at,
                "kg": round(kg, 3),
                "settles_kg": round(dries, 3),
                "logged": False,
            }
        )


def lift_off(track: Tracks, minute: int, minutes: int, gross: float, change: float, rng: np.random.Generator) -> None:
    """Take a hive off its scale for a while; what stands there afterwards weighs `change` kg more."""
    stop = min(minute + minutes, track.clock.minutes - 1)
    track.mass[minute:stop] -= gross - rng.uniform(-0.3, 0.8)
    track.step(stop, change)
    track.off.append((minute, stop))
    track.push(minute, -rng.uniform(0.2, 3), rise=min(minutes, 120), fall=rng.uniform(20, 90), damp=-8)
    track.handling.append(
        {
            "hive": track.hive,
            "action": "moved",
            "start": minute,
            "end": stop,
            "kg": round(change, 3),
            "settles_kg": 0.0,
            "logged": False,
        }
    )


def logbook(tracks: list[Tracks], kind: KeeperKind, rng: np.random.Generator) -> list[Line]:
    """Write down what was done as this keeper does, and mark in the truth what was written."""
    lines: list[Line] = []
    for track in tracks:
        for act in track.handling:
            entry, kg = act["action"], act["kg"]
            if kind.log == "none" or (kind.log == "sloppy" and rng.random() < 0.33):
                continue
            late = {"good": rng.uniform(-10, 20), "late": rng.uniform(0, 90), "sloppy": rng.uniform(-60, 90)}[kind.log]
            grain = 30 if kind.log == "sloppy" else 5
            minute = round((act["end"] + late) / grain) * grain
            amount: float | None = round(abs(kg), 1) if entry in ("feed", "super-on", "harvest", "split") else None
            if amount is not None and kind.log == "sloppy":
                amount = None if rng.random() < 0.4 else float(round(amount * rng.uniform(0.7, 1.3)))
            act["logged"] = True
            lines.append((minute, track.hive, entry, amount, ""))
    return sorted(lines, key=lambda line: line[0])

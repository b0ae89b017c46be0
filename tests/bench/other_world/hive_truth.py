"""What truly befell a hive's brood, from its noise-free nest, and what of all its events could be seen in the rows.

Harm begins below 32 °C (Himmer 1932 as cited by Stabentheiner 2021) and above 37 (from memory); when a loose nest
counts as such has no published cut-off: here, when a fourteenth of the brood around the probe is gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, STEP, Array

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .logger import Whole
    from .nest import Nest
    from .plan import HivePlan, LoggerKind
    from .tracks import Tracks

BROOD_KINDS = ("brood-cold", "brood-hot", "brood-unstable")
LOOSE = 0.93


def spells(mask: NDArray[np.bool_], join: int) -> list[tuple[int, int]]:
    """Return first and last-plus-one of the true stretches, those less than `join` apart as one."""
    on = np.flatnonzero(mask)
    if not on.size:
        return []
    cuts = np.flatnonzero(np.diff(on) > join)
    return list(zip(on[np.r_[0, cuts + 1]].tolist(), (on[np.r_[cuts, on.size - 1]] + 1).tolist(), strict=True))


def brood(track: Tracks, nest: Nest, plan: HivePlan) -> None:
    """Note a hive's brood trouble and its ends."""
    t, there = nest.plain, nest.brood > 0.5
    found = []
    for kind, mask, worse, hours in (
        ("brood-cold", (t < 32) & there, t < 31, 8.0),
        ("brood-hot", (t > 37) & there, t > 37.5, 3.0),
    ):
        for first, b in spells(mask, 36 * PER_HOUR):
            a = _edge(t, first, 32.5 if kind == "brood-cold" else 36.5)
            clear = bool((worse & mask)[a:b].sum() >= hours * PER_HOUR)
            size = t[a:b].min() if kind == "brood-cold" else t[a:b].max()
            found.append((a, b, kind, float(size), clear, bool(there[min(b, t.size - 1)])))
    for a, b in spells(nest.brood < LOOSE, 2 * PER_DAY):
        days = t[a : b - (b - a) % PER_DAY].reshape(-1, PER_DAY) if b - a >= PER_DAY else t[a:b].reshape(1, -1)
        swing = days.max(axis=1) - days.min(axis=1)
        gone = (nest.brood[a:b] < 0.3).sum() >= 3 * PER_DAY
        shows = (swing >= 2.5).sum() >= 3 or (days.mean(axis=1) < 31).sum() >= 3
        found.append((a, b, "brood-unstable", float(swing.mean()), bool(gone and shows), True))
    _note(track, plan, sorted(found), t.size)
    for trouble in (x for x in plan.troubles if x.kind in ("chilled", "thirst", "abscond", "poison")):
        # Whoever says early that the hold is going is right, though nobody must.
        start, stop = trouble.day * 1440, (trouble.day + trouble.days + 1) * 1440
        track.event("brood-unstable", start, stop, 0, "Cel", clear=False, note=trouble.kind)
        track.event("brood-recovered", stop, stop, 0, "Cel", clear=False, note=trouble.kind)


def _edge(t: Array, at: int, near: float) -> int:
    """Go back, half a day at most, to where the nest passed `near` on its way out: a probe's noise may pass sooner."""
    outward = t[max(at - PER_DAY // 2, 0) : at + 1]
    outside = outward < near if t[at] < near else outward > near
    inside = np.flatnonzero(~outside)
    return at - (outward.size - 1) + (int(inside[-1]) + 1 if inside.size else 0)


def _note(track: Tracks, plan: HivePlan, found: list[tuple[int, int, str, float, bool, bool]], size: int) -> None:
    """Write the spells down; what follows on another trouble's heels is part of the same story and not asked for.

    Nor is the end of one that ends because no brood is left, as in a hive its bees have given up: nothing recovered.
    """
    until = -10 * PER_DAY
    for a, b, kind, worst, plain, mended in found:
        why = _expected(track, plan, a) if kind == "brood-unstable" else ""
        clear = plain and a > until + 4 * PER_DAY and a < size - 3 * PER_DAY
        until = max(until, b)
        open_end = b >= size - PER_HOUR
        flags = {"expected": bool(why), "why": why, "before_start": a < PER_DAY, "clear": clear}
        track.event(kind, a * STEP, None if open_end else b * STEP, worst, "Cel", note=why or kind, **flags)
        if not open_end:
            mine = flags | {"clear": clear and mended and b < size - 3 * PER_DAY}
            track.event("brood-recovered", b * STEP, b * STEP, worst, "Cel", note=f"end of {kind}", **mine)


def _expected(track: Tracks, plan: HivePlan, at: int) -> str:
    """Say why a loose nest was to be expected at a slow step, or nothing."""
    minute = at * STEP
    for e in track.events:
        if e["kind"] == "swarm" and not e["returned"] and -5 * 1440 <= minute - e["onset"] <= 35 * 1440:
            return "swarm"
    if any(h["action"] == "split" and 0 <= minute - h["start"] <= 35 * 1440 for h in track.handling):
        return "split"
    return "season" if any(t.kind == "late" and minute >= t.day * 1440 for t in plan.troubles) else ""


def faults(track: Tracks, plan: HivePlan, minutes: int) -> None:
    """Note what fails, when hives stood beside their scales, and take back what that hides or feigns."""
    for f in plan.faults:
        start, stop = f.day * 1440, min((f.day + f.days) * 1440, minutes)
        for e in track.events:
            hit = f.quantity == ("temperature" if e["kind"].startswith("brood") else "weight")
            if hit and e["onset"] < stop + 120 and (e["end"] or minutes) > start - 120:
                e["clear"] = False
        if f.quantity == "temperature" and f.kind in ("pulled", "stuck"):
            track.event("brood-unstable", start, stop, 0, "Cel", clear=False, note=f"probe {f.kind}")
            track.event("brood-recovered", stop, stop, 0, "Cel", clear=False, note=f"probe {f.kind}")
        track.event("sensor-fault", start, stop, 0, "", fault=f.kind, quantity=f.quantity, note=f.kind)
    for start, stop in track.off:
        if not any(e["kind"] == "off-scale" and e["onset"] == start for e in track.events):
            track.event("off-scale", start, stop, 0, "kg", clear=False, note="carried by the beekeeper")


def visible(track: Tracks, weight: Whole, temperature: Whole, kind: LoggerKind) -> None:
    """Take `clear` from events that no row could show. `weight`, `temperature`: the seconds of the hive's rows."""
    interval = kind.interval
    for e in track.events:
        if not e.get("clear", False):
            continue
        onset, end = e["onset"], e["end"] if e["end"] is not None else track.clock.minutes
        if e["kind"] in ("swarm", "off-scale"):
            e["clear"] = _at_hand(weight, onset, onset if e["kind"] == "off-scale" else end, interval)
            e["clear"] &= not any(h["start"] - 60 < end and h["end"] + 60 > onset for h in track.handling)
            if e.get("returned"):
                e["clear"] &= e["returned_at"] - end >= 3 * interval
        elif e["kind"] == "robbing":
            e["clear"] &= _share(weight, onset, end, interval) > 0.7
        elif e["kind"].startswith("brood"):
            e["clear"] &= _share(temperature, onset - 1440, max(end, onset + 1440), interval) > 0.7


def _at_hand(seconds: Whole, onset: float, end: float, interval: int) -> bool:
    """Tell whether rows stand close before and after a moment."""
    before, after = np.searchsorted(seconds, [onset * 60, end * 60])
    if before == 0 or after >= seconds.size:
        return False
    return bool(onset - seconds[before - 1] / 60 <= 2 * interval and seconds[after] / 60 - end <= 2 * interval)


def _share(seconds: Whole, onset: float, end: float, interval: int) -> float:
    a, b = np.searchsorted(seconds, [onset * 60, end * 60])
    return float(b - a) / max((end - onset) / interval, 1)

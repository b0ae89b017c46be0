"""What goes wrong with a colony: robbers, lost queens, cold, thirst, poison, and colonies that dwindle and walk out.

A robbed hive loses kilograms in flying hours and nothing at night; no loss rate is published, the range is a guess.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, STEP, Array, Clock, smoothed, wander
from .colony import Change

if TYPE_CHECKING:
    from .plan import HivePlan
    from .sky import Sky
    from .tracks import Tracks


def changes(plan: HivePlan, days: int, rng: np.random.Generator) -> list[Change]:
    """Return what the troubles of a hive do to its colony day by day."""
    found = []
    for t in plan.troubles:
        if t.kind == "queenless":
            found.append(Change(t.day, 1.0, 0, t.days))
        elif t.kind == "late":
            found.append(Change(t.day, 1.0, 0, days))
        elif t.kind == "poison":
            found.append(Change(t.day, 1 - 0.4 * t.strength))
        elif t.kind == "abscond":
            found += [Change(t.day + d, float(rng.uniform(0.8, 0.93)), 0, 400) for d in range(t.days)]
        elif t.kind == "chilled":
            found.append(Change(t.day, 1 - 0.35 * t.strength))
    return found


def hold(plan: HivePlan, clock: Clock, sky: Sky, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return what is lost of a colony's hold on its nest: shares lost against cold and against heat, slow grid."""
    cold, heat = np.zeros(clock.steps), np.zeros(clock.steps)
    for t in plan.troubles:
        span = slice(t.day * PER_DAY + int(rng.uniform(8, 14) * PER_HOUR), min(t.day + t.days, clock.days) * PER_DAY)
        if t.kind == "chilled":
            slide = np.clip(np.arange(cold[span].size) / rng.uniform(1, 48) / PER_HOUR, 0, 1)
            nights = np.clip((20 - sky.temperature[span]) / 12, 0.1, 1)  # too few bees show when it is cold
            cold[span] = np.maximum(cold[span], (0.06 + 0.25 * t.strength) * slide * nights)
        if t.kind == "abscond":
            cold[span] = np.maximum(cold[span], np.linspace(0, 0.5, max(cold[span].size, 1))[: cold[span].size])
            cold[span.stop :] = 0.9
        if t.kind == "thirst":
            heat[span] = np.maximum(heat[span], 0.25 + 0.4 * t.strength)
    return smoothed(cold, 3 * PER_HOUR), smoothed(heat, PER_HOUR)


def rob(track: Tracks, plan: HivePlan, fly: Array, rng: np.random.Generator) -> Array:
    """Return kg robbed by then on the slow grid; note the truth."""
    clock = track.clock
    total = np.zeros(clock.steps)
    for t in (t for t in plan.troubles if t.kind == "robbed"):
        rate = rng.uniform(0.08, 0.18) + 0.3 * t.strength  # kg an hour in full flight
        span = slice(t.day * PER_DAY + int(rng.uniform(9.5, 13) * PER_HOUR), min(t.day + t.days, clock.days) * PER_DAY)
        keen = np.zeros(clock.steps)
        keen[span] = 1
        keen *= np.where(fly > 0.25, fly, 0) * np.exp(wander(rng, clock.steps, PER_HOUR, 0.35))
        robbed = np.cumsum(smoothed(keen, 4) * rate / PER_HOUR)
        robbed = np.minimum(robbed, rng.uniform(5, 14))
        busy = np.flatnonzero(np.diff(robbed) > 0.05 * rate / PER_HOUR)
        if busy.size == 0:
            continue
        track.event(
            "robbing",
            float(busy[0] * STEP),
            float((busy[-1] + 1) * STEP),
            float(robbed[-1]),
            "kg",
            rate=round(rate, 3),
            clear=bool(robbed[-1] >= 1.0),
            note=f"robbed over {t.days} days",
        )
        # Robbers inside weigh something while they are there.
        total += robbed - smoothed(keen, 6) * rng.uniform(0.02, 0.12)
    return total


def poison(track: Tracks, plan: HivePlan, bees: Array, rng: np.random.Generator) -> None:
    """Let the foragers of a poisoned colony not come home: kg lost over a day's flight, no swarm."""
    for t in (t for t in plan.troubles if t.kind == "poison"):
        lost = 0.4 * t.strength * bees[max(t.day - 1, 0)] * 1.05e-4
        parts = rng.gamma(0.6, 1, int(rng.integers(4 * 60, 8 * 60)))
        track.ramp(t.day * 1440 + int(rng.uniform(9, 11) * 60), -lost * parts / parts.sum())


def dwindle(track: Tracks, plan: HivePlan, bees: Array, rng: np.random.Generator) -> None:
    """Let a colony leave in dribs over days and go at last, all that is left at once."""
    for t in (t for t in plan.troubles if t.kind == "abscond"):
        for day in range(t.day, min(t.day + t.days, track.clock.days)):
            lost = max(bees[day - 1] - bees[day], 0) * 1.2e-4
            parts = rng.gamma(0.3, 1, 6 * 60)
            track.ramp(day * 1440 + 10 * 60, -lost * parts / parts.sum())
        last = min(t.day + t.days, track.clock.days - 1)
        at, kg = last * 1440 + int(rng.uniform(10, 15) * 60), bees[last - 1] * 1.4e-4
        length = int(rng.integers(4, 18))
        track.ramp(at, np.full(length, -kg / length))
        track.event(
            "swarm",
            at,
            at + length,
            kg,
            "kg",
            bees=round(kg / 1.4e-4),
            prime=False,
            returned=False,
            returned_at=None,
            nest="none",
            clear=False,
            note="the rest of an absconding colony",
        )

"""The truth of a simulated yard, gathered into one document."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from .brood_truth import brood_events
from .grid import DAY, Floats
from .record import Readings, scale_of, swap_step
from .truth import Event, yard_events

if TYPE_CHECKING:
    from .plan import FaultPlan
    from .yard import Colony, Yard


def stamp(seconds: float) -> str:
    """RFC 3339 in UTC with a Z."""
    return datetime.fromtimestamp(round(seconds), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def daily_gain(yard: Yard, series: Floats) -> Floats:
    """Change of a grid series from each dawn to the next, shape (days - 1,)."""
    return np.diff(np.interp(yard.dawns, yard.grid.t, series))


def _swarm_events(yard: Yard, colony: Colony) -> list[Event]:
    return [
        {
            "kind": "swarm",
            "yard": yard.scenario.place.yard,
            "hive": scale_of(yard, colony.plan.hive, s.onset),
            "onset": s.onset,
            "end": s.end,
            "size": round(s.kg, 3),
            "unit": "kg",
            "bees": round(s.bees),
            "share": round(s.share, 2),
            "prime": s.prime,
            "returned": s.back is not None,
            "returned_at": s.back,
            "nest": s.nest,
            "note": "prime swarm" if s.prime else "afterswarm",
        }
        for s in colony.life.swarms
    ]


def _robbing_events(yard: Yard, colony: Colony) -> list[Event]:
    events = []
    thieves = [h for h, c in yard.colonies.items() if c.life.loot.any()]
    for plan in colony.plan.robbed:
        days = [
            d for d in range(yard.grid.days) if plan.day <= d < plan.day + plan.days and colony.life.robbed[d] > 0.15
        ]
        if not days:
            continue
        busy = (
            (yard.grid.day >= days[0])
            & (yard.grid.day <= days[-1])
            & (yard.forage.flight > 0.1)
            & (yard.grid.hour > plan.hour + 0.3)
        )
        times = yard.grid.t[busy]
        events.append(
            {
                "kind": "robbing",
                "yard": yard.scenario.place.yard,
                "hive": scale_of(yard, colony.plan.hive, float(times[0])),
                "onset": int(times[0]),
                "end": int(times[-1]),
                "size": round(float(colony.life.robbed[days].sum()), 2),
                "unit": "kg",
                "rate": plan.kg,
                "robbers": thieves,
                "clear": bool(colony.life.robbed[days].sum() >= 1.0),
                "note": f"robbed on {len(days)} days, kg/h in full flight: {plan.kg}",
            }
        )
    return events


def _fault_event(yard: Yard, hive: str, plan: FaultPlan) -> Event:
    start = yard.grid.start + plan.day * DAY
    end = None if plan.fault == "jump" else min(start + plan.days * DAY, yard.grid.end)
    kind = "off-scale" if plan.fault == "off-scale" else "unlogged-step" if plan.fault == "jump" else "sensor-fault"
    return {
        "kind": kind,
        "yard": yard.scenario.place.yard,
        "hive": hive,
        "onset": start,
        "end": end,
        "size": round(plan.size, 3),
        "unit": {"clock": "h", "off-scale": "kg", "jump": "kg", "drift": "g/d", "noisy": "g"}.get(plan.fault, "share"),
        "quantity": plan.quantity,
        "fault": plan.fault,
        "note": f"{plan.fault} on {plan.quantity}",
    }


def _unlogged(yard: Yard, colony: Colony) -> list[Event]:
    return [
        {
            "kind": "unlogged-step",
            "yard": yard.scenario.place.yard,
            "hive": scale_of(yard, colony.plan.hive, a.start),
            "onset": a.start,
            "end": a.end,
            "size": round(a.kg, 2),
            "unit": "kg",
            "action": a.action,
            "note": a.action,
        }
        for a in colony.life.acts
        if not a.logged and abs(a.kg) >= 0.3 and a.end < yard.grid.end
    ]


def handling_table(yard: Yard) -> list[dict[str, Any]]:
    """Actual times and weights of all handling."""
    rows: list[dict[str, Any]] = []
    for hive, colony in yard.colonies.items():
        rows += [
            {
                "hive": scale_of(yard, hive, a.start),
                "action": a.action,
                "start": stamp(a.start),
                "end": stamp(a.end),
                "kg": round(a.kg, 3),
                "settles_kg": round(a.settles, 3),
                "logged": a.logged,
            }
            for a in colony.life.acts
            if a.start < yard.grid.end
        ]
    for day, one, other in yard.scenario.swaps:
        at = stamp(yard.grid.start + day * DAY)
        rows += [
            {"hive": h, "action": "moved", "start": at, "end": at, "kg": None, "settles_kg": 0.0, "logged": False}
            for h in (one, other)
        ]
    return sorted(rows, key=lambda r: (r["start"], r["hive"]))


def document(yard: Yard, readings: Readings, seed: int) -> dict[str, Any]:
    """The whole truth as one JSON-ready object; all times RFC 3339 UTC."""
    scenario = yard.scenario
    gains = np.array(
        [daily_gain(yard, c.natural.own) for c in yard.colonies.values() if not c.plan.weak]
        or [daily_gain(yard, c.natural.own) for c in yard.colonies.values()]
    )
    events = yard_events(scenario.place.yard, yard.dawns, gains, yard.forage.hours)
    for hive, colony in yard.colonies.items():
        events += _swarm_events(yard, colony) + _robbing_events(yard, colony) + brood_events(yard, colony)
        events += _unlogged(yard, colony) + [_fault_event(yard, hive, f) for f in colony.plan.faults]
    for day, a, b in scenario.swaps:
        at = yard.grid.start + day * DAY
        events += [
            {
                "kind": "unlogged-step",
                "yard": scenario.place.yard,
                "hive": h,
                "onset": at,
                "end": at,
                "size": round(swap_step(yard, h, at), 2),
                "unit": "kg",
                "action": "moved",
                "note": "hives changed places",
            }
            for h in (a, b)
        ]
    events.sort(key=lambda e: (e["onset"], e["kind"], e["hive"] or ""))
    for event in events:
        for field in ("onset", "end", "returned_at", "loosening_from"):
            if event.get(field) is not None:
                event[field] = stamp(event[field])
    gaps = [{"hive": h, "start": stamp(a), "end": stamp(b)} for h, out in readings.gaps.items() for a, b in out]
    hives = {
        h: {
            "weak": c.plan.weak,
            "robbed": bool(c.plan.robbed),
            "bees": round(c.plan.bees),
            "scale": asdict(c.plan.scale),
        }
        for h, c in yard.colonies.items()
    }
    return {
        "scenario": scenario.name,
        "seed": seed,
        "yard": scenario.place.yard,
        "start": stamp(yard.grid.start),
        "end": stamp(yard.grid.end),
        "interval_minutes": scenario.sampling.minutes,
        "interval_changes": [list(c) for c in scenario.sampling.changes],
        "hives": hives,
        "events": events,
        "handling": handling_table(yard),
        "gaps": gaps,
    }

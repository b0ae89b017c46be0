"""True events of the brood nest: heat, chill and loss of brood, with what explains them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .colony import laying_season
from .grid import DAY, HOUR, Ints
from .nest import course_of
from .record import scale_of
from .truth import Event, Trouble, spans

if TYPE_CHECKING:
    from .yard import Colony, Yard

HOT, COLD = 37.0, 32.0  # °C: sustained above harms sealed brood; below, malformed bees (Himmer 1932 as cited later)


LONGEST_BREAK = 30 * DAY  # without brood warmth so long after the swarm, the queen has failed (derived: 28-30 days)
HEAT = Trouble("brood-hot", "Cel", 2 * HOUR, 30 * HOUR, "nest above 37 °C with brood")
CHILL = Trouble("brood-cold", "Cel", 6 * HOUR, 30 * HOUR, "nest below 32 °C with brood")
LOOSE = Trouble("brood-unstable", "Cel", 2 * DAY, DAY, "brood at the sensor is gone or going; size: swing in a day")


def _brood_event(yard: Yard, colony: Colony, trouble: Trouble, span: tuple[int, int]) -> Event:
    """One stretch of brood trouble, with its worst value and whether it is plain enough to be scored."""
    first, last = span
    t, part = yard.grid.t, colony.nest[first : last + 1]
    hours = (t[last] - t[first]) / HOUR
    swing = float(np.ptp(part[: len(part) // 288 * 288].reshape(-1, 288), axis=1).mean()) if hours >= 24 else 0.0
    worst = {"brood-hot": part.max(), "brood-cold": part.min(), "brood-unstable": swing}[trouble.kind]
    low = colony.plan.set_point - float(part.mean())
    clear = {
        "brood-hot": bool((part > HOT).sum() >= 6 * 12 and worst >= 38.0),
        "brood-cold": bool((part < COLD).sum() >= 12 * 12 and worst <= 30.5),
        "brood-unstable": bool(hours >= 96 and (swing >= 2.0 or low >= 1.5)),
    }[trouble.kind]
    return {
        "kind": trouble.kind,
        "yard": yard.scenario.place.yard,
        "hive": colony.plan.hive,
        "onset": int(t[first]),
        "end": int(t[last]),
        "size": round(float(worst), 2),
        "unit": trouble.unit,
        "clear": clear,
        "note": trouble.note,
    }


def brood_events(yard: Yard, colony: Colony) -> list[Event]:
    """Heat, chill and loss of brood from the true nest; what a swarm or autumn explains is marked `expected`."""
    grid, nest = yard.grid, colony.nest
    firm = colony.hold > 0.9
    hot = (nest > HOT) & (firm | (course_of(grid, colony.plan, "overheat") > 0.25))
    cold = (nest < COLD) & (firm | (course_of(grid, colony.plan, "chill") > 0.25))
    events = [_brood_event(yard, colony, HEAT, s) for s in spans(HEAT, grid.t, hot)]
    events += [_brood_event(yard, colony, CHILL, s) for s in spans(CHILL, grid.t, cold)]
    for span in spans(LOOSE, grid.t, colony.hold < 0.7):
        if firm[max(span[0] - 10 * grid.per_day, 0) : span[0]].sum() >= 3 * grid.per_day:
            events += _explained(yard, colony, _brood_event(yard, colony, LOOSE, span))
    back = [
        {**e, "kind": "brood-recovered", "onset": e["end"], "note": f"end of {e['kind']}"}
        for e in events
        if e["end"] < grid.end - DAY and not e.get("goes_on")
    ]
    for event in events + back:
        event["hive"] = scale_of(yard, colony.plan.hive, event["onset"])
    return events + back


def _explained(yard: Yard, colony: Colony, event: Event) -> list[Event]:
    """A loose nest with its reason; a swarm explains it only until a young queen should long have laid."""
    season = laying_season(yard.grid, yard.scenario.place.latitude)
    left = [s.onset for s in colony.life.swarms if s.back is None and 0 < event["onset"] - s.onset < 45 * DAY]
    autumn = bool(season[int((event["onset"] - yard.grid.start) // DAY)] < 0.3)
    why = "swarm" if left else "season" if autumn else "queenless or brood lost"
    event |= {
        "expected": bool(left or autumn),
        "why": why,
        "loosening_from": _loosening(colony, yard.grid.t, event["onset"]),
    }
    late = max([event["onset"], *(at + LONGEST_BREAK for at in left)])
    if left and event["end"] > late + 3 * DAY:
        after = {**event, "onset": late, "expected": False, "why": "no young queen"}
        return [{**event, "end": late, "goes_on": True}, after]
    return [event]


def _loosening(colony: Colony, t: Ints, onset: float) -> int:
    """When the hold on the nest first slipped below 0.9 before `onset`: the earliest that anybody could see it."""
    upto = int(np.searchsorted(t, onset))
    firm = np.flatnonzero(colony.hold[:upto] >= 0.9)
    return int(t[firm[-1] + 1]) if len(firm) else int(t[0])

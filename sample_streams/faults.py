"""Named sensor faults, applied to the readings of one hive, each leaving its line in the truth.

`stuck` repeats one value; `gap` silence; `spikes` single wild values (size = share of rows); `power-on`
85.0 and -127 in bursts; `drift` size g a day; `jump` a lasting shift of size kg by itself; `noisy` size g
rms; `clock` the node's clock is off by size hours; `off-scale` the hive is not on its scale (size = kg
still read); `low-battery` the voltage falls, then silence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .grid import DAY, HOUR, Floats, Ints, Rng
from .sensor import NOT_FOUND, POWER_ON

if TYPE_CHECKING:
    from .plan import FaultPlan

NAMES = ("stuck", "gap", "spikes", "power-on", "drift", "jump", "noisy", "clock", "off-scale", "low-battery")


@dataclass
class Signals:
    """Readings of a hive by quantity (shape (n,)); `t` true times, `said` stamped times, `sent` which rows exist."""

    t: Ints
    said: Ints
    values: dict[str, Floats]
    sent: dict[str, np.ndarray]


def apply(rng: Rng, origin: int, plan: FaultPlan, signals: Signals) -> None:
    """Change the signals in place. Unknown names raise ValueError naming the known ones."""
    start, end = origin + plan.day * DAY, origin + (plan.day + plan.days) * DAY
    where = (signals.t >= start) & (signals.t < end)
    if plan.fault not in NAMES:
        raise ValueError(f"unknown fault {plan.fault!r}; known are {', '.join(NAMES)}")
    if not where.any():
        return
    if plan.fault in ("gap", "clock", "low-battery", "off-scale"):
        _whole_node(rng, plan, signals, where)
    elif plan.quantity in signals.values:
        _one_quantity(rng, plan, signals, where, start)


def _one_quantity(rng: Rng, plan: FaultPlan, signals: Signals, where: np.ndarray, start: float) -> None:
    values = signals.values[plan.quantity]
    if plan.fault == "stuck":
        values[where] = values[int(np.argmax(where))]
    elif plan.fault == "spikes":
        hit = where & (rng.random(len(values)) < (plan.size or 0.01))
        values[hit] += np.round(rng.choice([-1, 1], int(hit.sum())) * rng.uniform(3, 60, int(hit.sum())), 2)
    elif plan.fault == "power-on":
        hit = where & (rng.random(len(values)) < (plan.size or 0.2))
        values[hit] = rng.choice([POWER_ON, NOT_FOUND], int(hit.sum()))
    elif plan.fault == "drift":
        values[where] += plan.size * 1e-3 * (signals.t[where] - start) / DAY
        values[signals.t >= start + plan.days * DAY] += plan.size * 1e-3 * plan.days
    elif plan.fault == "jump":
        values[signals.t >= start] += plan.size
    elif plan.fault == "noisy":
        values[where] += rng.normal(0, plan.size * 1e-3, int(where.sum()))


def _whole_node(rng: Rng, plan: FaultPlan, signals: Signals, where: np.ndarray) -> None:
    if plan.fault == "clock":
        signals.said[where] += round(plan.size * HOUR)
    elif plan.fault == "off-scale":
        signals.values["weight"][where] = plan.size + rng.normal(0, 0.01, int(where.sum()))
    elif plan.fault == "low-battery":
        if "battery" in signals.values:
            signals.values["battery"][where] -= np.linspace(0.2, 0.9, int(where.sum()))
        late = where & (signals.t > signals.t[where][0] + 0.7 * (signals.t[where][-1] - signals.t[where][0]))
        for sent in signals.sent.values():
            sent[late] = False
    else:
        for name, sent in signals.sent.items():
            if plan.quantity in ("all", "weight") or plan.quantity == name:
                sent[where] = False

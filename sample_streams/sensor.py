"""From what is true to what a cheap sensor says: scale, nest probe, outside sensor.

Load cells: a 200 kg class C3 cell may drift 14 g per 5 °C and creep 49 g in 30 minutes (OIML R 60-1,
derived for this size); uncertified cells drift by tens of g/°C (no published figure: the range -30 to 30
g/°C is this project's). Common digital temperature probes answer 85.0 after power-on and -127 when not
found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .effects import Effect, Settle, Step, total

if TYPE_CHECKING:
    from .grid import Floats, Ints, Rng
    from .plan import Probe, Scale

POWER_ON, NOT_FOUND = 85.0, -127.0
CELL_REFERENCE = 20.0  # °C at which a cell is taken to read right


def creep(weight: list[Effect], scale: Scale) -> list[Effect]:
    """After each change of load of over 3 kg the cell follows by a small share of it over some 15 minutes."""
    steps = [e for e in weight if isinstance(e, Step) and abs(e.size) > 3]
    return [Settle(e.at, scale.creep * e.size, 900.0) for e in steps]


@dataclass(frozen=True)
class Conditions:
    """At each sampling time: `days` since the start, `cell` temperature °C, `wind` m/s."""

    days: Floats
    cell: Floats
    wind: Floats


def scale_says(rng: Rng, scale: Scale, true_kg: Floats, conditions: Conditions) -> Floats:
    """Scale readings in kg: temperature effect of the cell, drift, wind, noise and resolution.

    Reading bursts are averaged by the node, so wind leaves noise growing with the square of its speed.
    """
    result = true_kg + scale.thermal * 1e-3 * (conditions.cell - CELL_REFERENCE) + scale.drift * 1e-3 * conditions.days
    gust = scale.wind * (conditions.wind / 5.0) ** 2
    result = result + rng.normal(0.0, 1.0, len(true_kg)) * np.hypot(scale.noise, gust) * 1e-3
    step = scale.resolution * 1e-3
    rounded: Floats = np.round(result / step) * step
    return rounded


def probe_says(rng: Rng, true_c: Floats, probe: Probe) -> Floats:
    """Nest probe readings in °C, with now and then a power-on value or a lost probe."""
    n = len(true_c)
    result = np.round((true_c + probe.offset + rng.normal(0, probe.noise, n)) / probe.resolution) * probe.resolution
    result = np.where(rng.random(n) < probe.power_on, POWER_ON, result)
    return np.where(rng.random(n) < probe.disconnected, NOT_FOUND, result)


def hygrometer_says(rng: Rng, true_rh: Floats, probe: Probe) -> Floats:
    """In-hive humidity readings in %RH, 0 to 100."""
    noisy = true_rh + probe.rh_offset + rng.normal(0, 0.4, len(true_rh))
    result: Floats = np.clip(np.round(noisy / probe.rh_resolution) * probe.rh_resolution, 0.0, 100.0)
    return result


def settled(weight: list[Effect], scale: Scale, t: Ints) -> Floats:
    """Sum of all weight effects with the cell's creep after them, kg at times `t`."""
    return total(weight + creep(weight, scale), t)

"""What the scale makes of the true weight, and what the loggers lose and invent."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from .sky import Array, Grid, Weather, lag

if TYPE_CHECKING:
    from .places import Family


@dataclass
class Wrong:
    """Sensor faults as truth rows in grid steps."""

    rows: list[dict[str, Any]] = field(default_factory=list)


def weigh(
    true: Array, instead: Array, family: Family, g: Grid, w: Weather, rng: np.random.Generator
) -> tuple[Array, Wrong]:
    """Return readings of the scales before rounding, of shape (hives, steps), kg; `instead` as in `Mishaps`."""
    cell = family.cell
    hives = true.shape[0]
    shown = true + _warmth(hives, family, g, w, rng)
    jumps = np.diff(true, axis=-1, prepend=true[:, :1])
    late = jumps * cell.creep
    shown = shown - late.cumsum(axis=-1) + lag(late.cumsum(axis=-1), 30 / g.dt)
    walk = rng.normal(0, cell.drift / 1000 * np.sqrt(g.dt / 1440), true.shape).cumsum(axis=-1)
    gust = rng.uniform(*cell.gust, (hives, 1)) / 1000 * w.wind**2
    noise = rng.normal(0, 1, true.shape) * np.hypot(rng.uniform(*cell.noise, (hives, 1)) / 1000, gust)
    shown = shown + walk + noise
    shown = np.where(np.isnan(instead), shown, instead)
    wrong = Wrong()
    for h in range(hives):
        _spikes(shown[h], cell.spikes, rng)
        _connector(shown[h], h, family, g, w, wrong, rng)
    return shown, wrong


def _warmth(hives: int, family: Family, g: Grid, w: Weather, rng: np.random.Generator) -> Array:
    """Return the error of the warm and cold cell: it lags the air and follows the sun as it falls on the stand."""
    cell = family.cell
    out = np.zeros((hives, g.n))
    for h in range(hives):
        facing = rng.uniform(8, 16)
        shaded = rng.uniform(0.2, 1.0)
        lit = np.exp(-(((g.solar - facing) / 3.0) ** 2)) * shaded * rng.uniform(*cell.sun)
        metal = lag(w.air + lit * w.sun / 900, rng.uniform(*cell.lag) / g.dt)
        out[h] = rng.uniform(*cell.per_degree) / 1000 * (metal - 20)
    return out


def _spikes(x: Array, share: float, rng: np.random.Generator) -> None:
    """Put in single wild readings of the converter."""
    at = np.flatnonzero(rng.random(len(x)) < share)
    x[at] = np.where(rng.random(len(at)) < 0.4, rng.uniform(-3, 3, len(at)), x[at] + rng.normal(0, 25, len(at)))


def _connector(x: Array, h: int, family: Family, g: Grid, w: Weather, wrong: Wrong, rng: np.random.Generator) -> None:
    """Let water into a connector after heavy rain: the reading wanders by kilograms for days until it has dried."""
    if rng.random() >= family.chances.connector:
        return
    heavy = np.flatnonzero(lag(w.rain, 120 / g.dt) * 60 / g.dt > 1.0)
    heavy = heavy[heavy > g.n // 10]
    if not len(heavy):
        return
    at = int(rng.choice(heavy))
    k = min(g.steps(rng.uniform(1.0, 4.0) * 1440), g.n - at)
    steps = rng.normal(0, 1, k) * (rng.random(k) < 0.02 * g.dt)
    wander = lag(steps.cumsum(), 40 / g.dt) * rng.uniform(0.3, 1.5)
    x[at : at + k] += wander * np.minimum(1, np.arange(k)[::-1] / (k / 4))
    row = {"kind": "sensor-fault", "hive": h, "quantity": "weight", "at": at, "stop": at + k, "size": 0, "unit": "kg"}
    wrong.rows.append(row | {"note": "water in the connector"})


def thermometer(x: Array, h: int, family: Family, g: Grid, wrong: Wrong, rng: np.random.Generator) -> None:
    """Put power-on values (85.0 °C) into a nest temperature, and let some sensors stick or drop out (-127) for days."""
    x[rng.random(len(x)) < 0.00004 * g.dt] = 85.0
    if rng.random() >= family.chances.thermometer:
        return
    at = int(rng.uniform(0.2, 0.9) * g.n)
    stop = min(at + g.steps(rng.uniform(2, 40) * 1440), g.n)
    kind = rng.choice(["stuck", "lost"])
    x[at:stop] = x[at] if kind == "stuck" else -127.0
    row = {"kind": "sensor-fault", "hive": h, "quantity": "temperature", "at": at, "stop": stop, "size": 0}
    wrong.rows.append(row | {"unit": "Cel", "note": str(kind)})

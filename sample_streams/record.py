"""From a simulated yard to readings: sensors, faults, sampling, and the order in which rows arrive."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .effects import Effect, Step
from .faults import Signals, apply
from .grid import DAY, HOUR, Floats, Ints, lag, rng_for
from .sampling import arrivals, dropouts, sample_times
from .sensor import Conditions, hygrometer_says, probe_says, scale_says, settled

if TYPE_CHECKING:
    from .yard import Yard

DECIMALS = {
    "weight": 3,
    "temperature": 2,
    "humidity": 1,
    "battery": 2,
    "outside-temperature": 1,
    "outside-humidity": 0,
    "rain": 1,
}
Gap = tuple[float, float]


@dataclass(frozen=True)
class Series:
    """Rows of one hive (or of the yard, `hive` empty) and quantity in order of sending, with arrival times."""

    hive: str
    quantity: str
    said: Ints
    values: Floats
    arrival: Ints


@dataclass(frozen=True)
class Readings:
    """All series of a yard, and the gaps by hive that befell them by chance."""

    series: list[Series]
    gaps: dict[str, list[Gap]]
    times: dict[str, Ints]


def holders(yard: Yard, hive: str) -> list[tuple[int, int, str]]:
    """Which colony stands on the scale of `hive` when: (from, to, colony) in seconds UTC."""
    now, since, spans = {h: h for h in yard.colonies}, yard.grid.start, []
    for day, a, b in sorted(yard.scenario.swaps):
        at = yard.grid.start + round(day * DAY)
        if hive in (a, b):
            spans.append((since, at, now[hive]))
            since = at
        now[a], now[b] = now[b], now[a]
    return [*spans, (since, yard.grid.end + 1, now[hive])]


def scale_of(yard: Yard, colony: str, t: float) -> str:
    """The hive id under whose name a colony's readings come at time `t` (it differs only after a swap)."""
    t = min(max(t, yard.grid.start), yard.grid.end)
    return next(h for h in yard.colonies for a, b, c in holders(yard, h) if c == colony and a <= t < b)


def _true(yard: Yard, hive: str, t: Ints) -> tuple[Floats, Floats, Floats]:
    """(weight, nest temperature, nest humidity) that stand at the sensors of `hive`, whoever lives there."""
    weight, warm, damp = np.zeros(len(t)), np.zeros(len(t)), np.zeros(len(t))
    for start, end, colony in holders(yard, hive):
        part = slice(int(np.searchsorted(t, start)), int(np.searchsorted(t, end)))
        plan, life = yard.colonies[colony].plan, yard.colonies[colony].life
        loads = settled([e for e in life.weight if not _zeroing(e, life.acts)], plan.scale, t[part])
        weight[part] = yard.weight_at(colony, t[part], []) + loads
        warm[part], damp[part] = yard.nest_at(colony, t[part])
    own = yard.colonies[hive].life
    for effect in (e for e in own.weight if _zeroing(e, own.acts)):
        effect.add(t, weight)
    return weight, warm, damp


def swap_step(yard: Yard, hive: str, at: float) -> float:
    """Kg by which the scale of `hive` jumps when the colonies change places at `at` (seconds UTC)."""
    weight, _, _ = _true(yard, hive, np.array([round(at) - 1, round(at) + 1], dtype=np.int64))
    return float(weight[1] - weight[0])


def _zeroing(effect: Effect, acts: list) -> bool:  # type: ignore[type-arg]
    """Whether a step belongs to the scale (re-zeroed) and not to the hive on it."""
    return isinstance(effect, Step) and any(a.action == "scale-reset" and a.end == effect.at for a in acts)


def _hive_signals(yard: Yard, seed: int, hive: str) -> tuple[Signals, list[Gap]]:
    """Readings of one hive with every sensor ill, before sending."""
    scenario, grid = yard.scenario, yard.grid
    plan = yard.colonies[hive].plan
    name = (scenario.name, hive)
    rng = rng_for(seed, *name, "sensor")
    t = sample_times(rng, grid, scenario.sampling)
    weight, warm, damp = _true(yard, hive, t)
    felt = lag(yard.weather.temperature + plan.scale.sun_on_cell * yard.weather.sun, 1.2 * HOUR / grid.step)
    now = Conditions((t - grid.start) / DAY, np.interp(t, grid.t, felt), np.interp(t, grid.t, yard.weather.wind))
    values = {
        "weight": scale_says(rng, plan.scale, weight, now),
        "temperature": probe_says(rng, warm, plan.probe),
        "humidity": hygrometer_says(rng, damp, plan.probe),
    }
    if scenario.sampling.battery:
        values["battery"] = 4.05 - 0.25 * (t - grid.start) / (180 * DAY) + rng.normal(0, 0.01, len(t))
    keep, gaps = dropouts(rng, grid, scenario.sampling, t)
    signals = Signals(t, t.copy(), values, {q: keep.copy() for q in values})
    for fault in plan.faults:
        apply(rng_for(seed, *name, "fault", fault.fault, str(fault.day)), grid.start, fault, signals)
    return signals, gaps


def _send(yard: Yard, seed: int, hive: str, signals: Signals) -> list[Series]:
    """Series as they arrive: late and doubled rows come further down."""
    sent = []
    rng = rng_for(seed, yard.scenario.name, hive, "sending")
    rows, arrival = arrivals(rng, yard.scenario.sampling, signals.t)
    for quantity, values in signals.values.items():
        ok = signals.sent[quantity][rows]
        sent.append(Series(hive, quantity, signals.said[rows[ok]], values[rows[ok]], arrival[ok]))
    return sent


def _outside(yard: Yard, seed: int) -> list[Series]:
    """The yard's own readings at its sampling interval (at least 5 minutes); rain is mm since the last row."""
    grid, weather = yard.grid, yard.weather
    rng = rng_for(seed, yard.scenario.name, "outside")
    t = sample_times(rng, grid, yard.scenario.sampling)
    t = t[:: max(1, round(600 / max(float(np.median(np.diff(t))), 1)))]
    screen = np.interp(t, grid.t, weather.temperature + 0.0012 * weather.sun)
    fallen = np.interp(t, grid.t, np.concatenate([[0.0], np.cumsum(weather.rain)[:-1]]))
    tips = np.floor(fallen / 0.2) * 0.2
    values = {
        "outside-temperature": screen + rng.normal(0, 0.08, len(t)),
        "outside-humidity": np.clip(np.interp(t, grid.t, weather.humidity) + rng.normal(0, 0.7, len(t)), 0, 100),
        "rain": np.diff(tips, prepend=tips[0]),
    }
    every = {q: np.ones(len(t), dtype=bool) for q in values}
    return _send(yard, seed, "", Signals(t, t.copy(), values, every))


def record(yard: Yard, seed: int) -> Readings:
    """All readings of a yard."""
    series, gaps, times = [], {}, {}
    for hive in yard.colonies:
        signals, gaps[hive] = _hive_signals(yard, seed, hive)
        times[hive] = signals.t
        series += _send(yard, seed, hive, signals)
    if yard.scenario.outside:
        series += _outside(yard, seed)
    return Readings(series, gaps, times)

"""What a cheap scale and a cheap probe make of the truth, minute by minute.

Load cells err by -30 to 30 g a °C; their temperature lags the air's and the sun adds to it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, Array, Clock, smoothed, wander

if TYPE_CHECKING:
    from .plan import Fault, ScaleKind
    from .sky import Sky

POWER_ON = 85.0
DISCONNECTED = -127.0
"""What common one-wire probes say at power-on and when the wire is off."""


Failure = Callable[[Array, np.random.Generator], Array]


def weigh(clock: Clock, sky: Sky, true: Array, kind: ScaleKind, rng: np.random.Generator) -> Array:
    """Return what a scale shows each minute for the true kg of each minute, both of shape (minutes,)."""
    patch = np.exp(-(((clock.hours - rng.uniform(8, 17)) / rng.uniform(0.7, 3)) ** 2))
    heat = sky.temperature + rng.uniform(0, 9) * sky.light * patch
    cell = smoothed(heat, rng.uniform(3, 18)) - 20
    slow_cell = smoothed(heat, 6 * PER_HOUR) - 20
    error = kind.thermal * (0.85 * cell + 0.15 * slow_cell + 0.004 * cell**2)
    error += wander(rng, clock.steps, 4 * PER_DAY, kind.drift) + wander(rng, clock.steps, 5 * PER_HOUR, kind.drift / 4)
    gusts = kind.gusts * (clock.fast(sky.wind) / 5) ** 2 * np.clip(rng.standard_t(2.3, clock.minutes), -15, 15)
    load = smoothed(true, 240)  # cells creep after a load, in hours
    return true + 0.0008 * (load - true) + clock.fast(error) + gusts + rng.normal(0, kind.noise, clock.minutes)


def fail(shown: Array, fault: Fault, air: Array, rng: np.random.Generator) -> Array:
    """Return a sensor's minutes with a failure in them; NaN where nothing is sent. `air` is °C outside, each minute.

    Raises KeyError for a failure that does not exist.
    """
    start, stop = round(fault.day * 1440), min(round((fault.day + fault.days) * 1440), shown.size)
    out = shown.copy()
    good = shown[start:stop]
    if fault.kind == "pulled":  # the probe hangs out of the nest
        out[start:stop] = smoothed(air, 30)[start:stop] + 2
        return out
    out[start:stop] = FAILURES[fault.kind](good, rng)
    if fault.kind == "creep" and good.size:
        out[stop:] += out[stop - 1] - good[-1]  # what has crept stays
    return out


def _now_and_then(share: float, value: float) -> Failure:
    """Return a failure that says `value` in that share of its minutes."""
    return lambda good, rng: np.where(rng.random(good.size) < share, value, good)


def _jumpy(good: Array, rng: np.random.Generator) -> Array:
    """Go up and down by kilograms within hours: a bad contact."""
    levels = np.repeat(rng.normal(0, 2, good.size // 45 + 1), 45)[: good.size]
    return good + levels * (rng.random(good.size) < 0.9)


FAILURES: dict[str, Failure] = {
    "stuck": lambda good, _: np.full(good.size, good[0] if good.size else 0.0),
    "silent": lambda good, _: np.full(good.size, np.nan),
    "full": lambda good, _: np.full(good.size, 99.9),
    "power-on": _now_and_then(0.06, POWER_ON),
    "wire-off": _now_and_then(0.5, DISCONNECTED),
    "zero": _now_and_then(0.3, 0.0),
    "spikes": lambda good, rng: good + (rng.random(good.size) < 0.05) * rng.normal(0, 25, good.size),
    "corner": lambda good, rng: 0.75 * good + rng.normal(0, 0.15, good.size),  # one of four cells gone
    "creep": lambda good, rng: good + np.linspace(0, rng.choice([-1, 1]) * rng.uniform(3, 12), good.size),
    "jumpy": _jumpy,
}
"""What a failing sensor says in its minutes, by the name of the failure; `pulled` needs the air and is apart."""

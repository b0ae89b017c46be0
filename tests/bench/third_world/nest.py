"""Temperature and humidity at the sensor between the brood frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .sky import Array, Grid, Weather, lag

if TYPE_CHECKING:
    from .bees import Colonies, Fate


@dataclass
class Nest:
    """What is true at the sensor, each of shape (hives, steps)."""

    warm: Array
    """°C without noise, visits or swarm excitement."""
    grip: Array
    """How well brood and bees hold the nest at its set point, 0 to 1."""


def nest(c: Colonies, chosen: list[Fate], g: Grid, w: Weather) -> Nest:
    """Return the nest's true temperature.

    With brood it is held near 34.7 °C (32 to 36, mean about 34.5: Becher & Moritz 2009); without, it wanders several °C
    with the outside (Seeley 1985, Winston 1987, from memory), warmer the more bees there are (Cook and others 2022).
    The core of a winter cluster without brood is 20 to 30 °C (Seeley 2010, from memory). A small colony runs out of
    heat on cold nights: by how much is this package's guess.
    """
    adults, brood = (np.asarray(lag(x[:, g.day], 480 / g.dt)) for x in (c.adults, c.brood))
    place = np.array([[f.place] for f in chosen])
    point = np.array([[f.set_point] for f in chosen])
    grip = _step(brood / 3_500) * _step(adults / 2_500)
    felt = lag(w.air, 200 / g.dt)
    crowd = np.sqrt(np.clip(adults, 50, None) / 15_000)
    loose = 33.5 - (33.5 - felt) * np.clip(0.34 / crowd, 0.25, 1.0)
    loose = np.where(adults < 400, felt, loose)
    held = grip * (1 - place)
    warm = held * point + (1 - held) * loose
    power = 27 * (np.clip(adults, 10, None) / 6_000) ** 0.45
    short = np.clip(point - lag(w.air, 400 / g.dt) - power, 0, None)
    warm -= grip * 0.55 * short
    return Nest(warm + _heat(chosen, g, w) * grip, grip)


def _step(x: Array) -> Array:
    """Return a smooth step from 0 to 1 as `x` goes from 0 to 1."""
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)


def _heat(chosen: list[Fate], g: Grid, w: Weather) -> Array:
    """Return how far heat breaks through, °C.

    Bees with water hold out, bees without do not (Ostwald, Smith & Seeley 2016; Lindauer 1954); from which load of air
    and sun on is this package's guess.
    """
    load = lag(w.air + w.sun / 260, 100 / g.dt)
    limit = np.array([[37.0 if f.no_water else 47.0] for f in chosen])
    return np.asarray(np.clip(load - limit, 0, None) * 0.6)


def readings(
    n: Nest,
    c: Colonies,
    opened: Array,
    g: Grid,
    w: Weather,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Return measured temperature (°C) and humidity (%RH), with visits (`opened`, 0 to 1) and swarm excitement.

    A swarm that leaves warms the nest by 1.5 to 3.4 °C for 10 to 20 minutes (Zacepins and others 2016, from memory) or
    cools it by about 2 (Ferrari and others 2008, from memory), or neither at this sensor. Air between frames has 50 to
    80 %RH (Human and others 2006, cited in the COLOSS BEEBOOK), and fanning can take 20 points off in minutes (Sachs &
    Tautz 2017, cited by others).
    """
    shape = n.warm.shape
    chill = lag(opened, 18 / g.dt) * np.clip(34 - w.air, 0, 20) * 0.28
    stir = np.zeros(shape)
    for leave in c.departures:
        rise = rng.uniform(0, 2.6) if leave.kg > 0 else 0.0
        before, after = g.steps(15), g.steps(25)
        stir[leave.hive, max(leave.at - before, 0) : leave.at + 1] += rise
        stir[leave.hive, leave.at + 1 : leave.at + after] -= rng.uniform(0, 1.2)
    noise = lag(rng.normal(0, 1, shape), 90 / g.dt) * np.sqrt(180 / g.dt) * (0.1 + 0.5 * (1 - n.grip))
    warm = n.warm - chill + lag(stir, 8 / g.dt) + noise + rng.normal(0, 0.05, shape)
    base = rng.uniform(52, 68, (shape[0], 1))
    slow = lag(rng.normal(0, 1, shape), 500 / g.dt) * np.sqrt(1000 / g.dt) * 3.5
    fanned = lag(np.maximum(rng.normal(-1.6, 1, shape), 0), 25 / g.dt) * np.sqrt(50 / g.dt) * 20
    damp = n.grip * base + (1 - n.grip) * (0.5 * base + 0.5 * lag(w.humidity, 300 / g.dt)) + slow - fanned
    damp -= lag(opened, 15 / g.dt) * (damp - w.humidity) * 0.6
    return warm, np.clip(damp + rng.normal(0, 0.6, shape), 8, 99)

"""The brood nest: how firmly a colony holds it against the air outside, and what a probe between frames reads.

A nest with brood keeps 32 to 36 °C (Becher & Moritz 2009), broodless ones follow the outside by several degrees.
50 to 80 %RH between frames is usual (Human et al. 2006 as cited by the COLOSS BEEBOOK).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, Array, Clock, smoothed, wander

if TYPE_CHECKING:
    from .colony import Colony
    from .sky import Sky

ENOUGH_BROOD = 10000 / 1.7
"""Cells with which a probe well placed is surrounded by brood."""


@dataclass
class Nest:
    """A nest on the slow grid: °C without and with noise, %RH, and how much brood there is at the probe, 0 to 1."""

    plain: Array
    temperature: Array
    humidity: Array
    brood: Array


def keep(
    clock: Clock, sky: Sky, colony: Colony, lost: tuple[Array, Array], clumsy: float, rng: np.random.Generator
) -> Nest:
    """Keep a nest through the season. `lost`: hold lost against cold and heat; `clumsy`: how far off the probe is."""
    days = (np.arange(clock.days) + 0.5) * PER_DAY
    at = np.arange(clock.steps)
    brood = np.interp(at, days, np.clip(colony.brood / ENOUGH_BROOD, 0, 1))
    bees = np.interp(at, days, colony.bees)
    firm = (1 - 0.013 * clumsy * rng.uniform(0.6, 1.6)) * bees / (bees + 60)
    loose = rng.uniform(0.55, 0.85) * bees / (bees + 1500)
    hold = (brood * firm + (1 - brood) * loose) * (1 - lost[0])
    goal = rng.uniform(34.2, 35.2) - 0.25 * (clumsy - 1)
    air = smoothed(sky.temperature + 5 * sky.light, 3 * PER_HOUR)
    goal_now = goal - (1 - brood) * rng.uniform(0, 3)
    plain = goal_now + (1 - hold) * (air - goal_now)
    hot = np.clip(sky.temperature + 8 * sky.light + 3 - goal, 0, None)
    plain = plain + lost[1] * smoothed(hot, 2 * PER_HOUR)
    unrest = (0.06 + 0.08 * clumsy) * (1 + 3 * (1 - brood))
    noise = wander(rng, clock.steps, 9.0, 0.6) + wander(rng, clock.steps, 20 * PER_HOUR, 0.8)
    return Nest(plain, plain + unrest * noise, _damp(clock, sky, brood, rng), brood)


def _damp(clock: Clock, sky: Sky, brood: Array, rng: np.random.Generator) -> Array:
    base = rng.uniform(52, 70)
    sway = wander(rng, clock.steps, 30 * PER_HOUR, 3) + wander(rng, clock.steps, 4.0, 1.2)
    pull = (0.12 + 0.35 * (1 - brood)) * (smoothed(sky.humidity, 6 * PER_HOUR) - base)
    venting = -rng.uniform(2, 8) * smoothed((sky.temperature > 28).astype(float), 4)
    return np.clip(base + sway + pull + venting, 8, 99)

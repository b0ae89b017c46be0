"""A colony by the day: eggs, brood, adults, foragers, as a queue of brood that hatches 21 days on.

Worker development takes 21 days (Morse, Cornell Coop. Ext., revised 1996).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .clock import Array

HATCH = 21
"""Days from egg to adult worker."""


@dataclass
class Change:
    """What happens to a colony on a day: the share of bees that stays, and for how long no eggs are laid from when."""

    day: int
    stays: float = 1.0
    eggs_stop: int = 0
    """First day from `day` without eggs (may be negative: a queen slims before she swarms)."""
    eggs_again: int = 0
    """First day from `day` with eggs again; equal to `eggs_stop`: no break."""


@dataclass
class Colony:
    """A colony over the days: adult bees, brood cells, foragers, each of shape (days,)."""

    bees: Array
    brood: Array
    foragers: Array
    changes: list[Change] = field(default_factory=list)


def live(days: int, bees: float, season: Array, changes: list[Change], rng: np.random.Generator) -> Colony:
    """Run a colony through the days. `season` is laying relative to what keeps `bees` in balance, shape (days,)."""
    life = rng.uniform(30, 38)  # days a summer bee lives
    eggs = bees / life * season * np.exp(rng.normal(0, 0.06, days))
    for change in changes:
        eggs[max(change.day + change.eggs_stop, 0) : max(change.day + change.eggs_again, 0)] = 0
    laid = np.concatenate([np.full(HATCH, bees / life * season[0]), eggs])
    adults, brood, now = np.zeros(days), np.zeros(days), bees
    stays = {c.day: c.stays for c in changes}
    for day in range(days):
        now = (now * (1 - 1 / life) + 0.93 * laid[day]) * stays.get(day, 1.0)
        adults[day] = now
        brood[day] = laid[day + 1 : day + HATCH + 1].sum()
    share = np.clip(0.33 + 0.05 * rng.normal(), 0.22, 0.45)  # of the bees forage
    return Colony(adults, brood, adults * share * np.clip(adults / (adults + 2500), 0.3, 1), changes)

"""When a swarm leaves, how it leaves, and what the nest sensor sees of it.

Exit lasts 5 to 20 minutes (Winston 1987; Seeley 2010, from memory). Share of workers: mean 0.75 (Rangel & Seeley 2012,
doi 10.1007/s00040-012-0239-5) against "about half" in older texts: drawn per swarm, three of four from the measured
mean. Mass per bee with its honey load 130 to 165 mg, load 30 to 45 mg (Combs 1972; Otis 1982, from memory). Nest:
rise of 1.5 to 3.4 °C over 10-20 min (Zacepins et al. 2016, from memory), fall from about 35 to 33 °C (Ferrari et al.
2008, from memory), or nothing: drawn per swarm. Afterswarms 7 to 14 days later (Winston 1987, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from .effects import Bump, Effect, Ramp
from .forage import fine_hours
from .grid import DAY, Grid, Rng

if TYPE_CHECKING:
    from .plan import SwarmPlan
    from .weather import Weather

EMPTY_BEE = 0.115e-3  # kg; published 100-115 mg (Winston 1987; Otis 1982, from memory)


@dataclass(frozen=True)
class Swarm:
    """One swarm: leaves from `onset` to `end` (seconds UTC), `back` when it returned (or None)."""

    day: int
    onset: float
    end: float
    share: float
    bee_kg: float
    nest: str
    prime: bool
    back: float | None
    requeens: bool
    bees: float = 0.0
    kg: float = 0.0

    def of(self, bees: float) -> Swarm:
        """The same swarm with its size, from a hive that holds `bees` workers (at most 30,000 leave)."""
        leaving = min(self.share * bees, 30000.0)
        return replace(self, bees=leaving, kg=leaving * self.bee_kg)

    def effects(self, rng: Rng) -> tuple[list[Effect], list[Effect]]:
        """(weight effects in kg, nest temperature effects in °C)."""
        weight: list[Effect] = [Ramp(self.onset, self.end, -self.kg)]
        nest: list[Effect] = []
        if self.back is not None:
            weight.append(Ramp(self.back, self.back + rng.uniform(600, 1500), 0.97 * self.kg))
        if self.nest == "rise":
            lead = rng.uniform(600, 1200)
            nest.append(Bump(self.onset - lead, lead + 240, rng.uniform(900, 2400), rng.uniform(1.5, 3.4)))
        elif self.nest == "fall":
            nest.append(Bump(self.onset, rng.uniform(600, 1200), rng.uniform(2400, 5400), -rng.uniform(1.2, 2.2)))
        return weight, nest


def _share(rng: Rng) -> float:
    measured = rng.random() < 0.75
    return float(np.clip(rng.normal(0.75, 0.06) if measured else rng.normal(0.5, 0.06), 0.35, 0.9))


def _moment(rng: Rng, grid: Grid, weather: Weather, first: float, last: float) -> float | None:
    fit = fine_hours(grid, weather, first, last)
    if fit.max() < 0.05:
        return None
    odds = np.where(fit > 0.3 * fit.max(), fit, 0.0)
    return float(grid.t[rng.choice(len(odds), p=odds / odds.sum())] + rng.uniform(0, 300))


def _one(rng: Rng, grid: Grid, plan: SwarmPlan, at: float, *, prime: bool) -> Swarm:
    end = at + rng.uniform(300, 1200)
    returned = plan.returned and prime
    share = plan.share if plan.share is not None else _share(rng)
    nest = plan.nest or str(rng.choice(["rise", "fall", "none"], p=[0.5, 0.25, 0.25]))
    return Swarm(
        int((at - grid.start) // DAY),
        at,
        end,
        share if prime else float(rng.uniform(0.2, 0.45)),
        float(rng.uniform(0.130e-3, 0.160e-3)),
        nest,
        prime,
        end + rng.uniform(15 * 60, 70 * 60) if returned else None,
        plan.requeens and not plan.after,
    )


def schedule(rng: Rng, grid: Grid, weather: Weather, plans: tuple[SwarmPlan, ...]) -> list[Swarm]:
    """Swarms in order of time, sizes still unknown; a plan for which no fine hour comes is dropped.

    A swarm that bad weather put off moves the next one too: a colony does not leave while it is out.
    """
    swarms: list[Swarm] = []
    for plan in plans:
        day = max([plan.day, *(s.day + 1 for s in swarms)])
        at = _moment(rng, grid, weather, day, day + 1) if plan.window < 1 else None
        if at is None:
            at = _moment(rng, grid, weather, day, day + max(plan.window, 1.0))
        if at is None:
            continue
        swarms.append(_one(rng, grid, plan, at, prime=True))
        later = (at - grid.start) // DAY + rng.integers(7, 11)
        for i in range(plan.after):
            again = _moment(rng, grid, weather, float(later), float(later + 4))
            if again is None:
                break
            last = plan.requeens and i == plan.after - 1
            swarms.append(replace(_one(rng, grid, plan, again, prime=False), requeens=last))
            later = (again - grid.start) // DAY + rng.integers(1, 5)
    return sorted(swarms, key=lambda s: s.onset)

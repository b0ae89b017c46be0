"""A colony day by day: bees, brood, stores, what comes in and what is eaten.

Development 21 days egg to adult worker, sealed from about day 9 (Morse, Cornell). Eating about 0.15-0.3 kg a day in a
summer dearth (derived from Seeley 1985's budget) and about 0.04 kg a day in winter (Norrström et al. 2021). Pollen
20-30 kg a year, all of it eaten within the year (Seeley 1985, from memory), about 130 mg for each bee reared (from
memory), a reserve of about a kilo kept by collecting less when it is full (Camazine 1993, from memory). The rest of the
constants are our own, tuned to those figures.

Mass is balanced: beside woodware a hive weighs what bees, brood, stores, pollen and the water in nectar weigh, and
nothing else stays in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from .swarm import EMPTY_BEE, Swarm
from .weather import season_angle

if TYPE_CHECKING:
    from .acts import Act
    from .effects import Effect
    from .forage import Forage, Setting
    from .grid import Floats, Grid, Rng
    from .handling import Visitor
    from .plan import HivePlan

REFERENCE_FORAGERS = 9000.0  # the "strong hive" for which forage is stated
RIPE = 0.82  # sugar share of ripe honey at 18 % water
BROOD_DAYS, SEALED_FROM = 21, 9
POLLEN_A_BEE = 0.13e-3
BREAD_LEAST, BREAD_FULL = 0.5, 1.5  # kg of stored pollen: below the first they collect all they can, at the second none
POLLEN_EATEN = slice(3, SEALED_FROM)  # days of the larva, for which nurses eat pollen
CELL_KG = np.interp(np.arange(BROOD_DAYS) + 0.5, [0, 3, 6, SEALED_FROM, BROOD_DAYS], [0, 0, 3e-5, 1.5e-4, EMPTY_BEE])
"""Kg of brood in a cell by days of age: nothing to speak of as an egg, 150 mg when sealed, less at birth (memory)."""


@dataclass
class State:
    """What changes from day to day: adult `bees`, `cells` laid on each of the last 21 days, kg of stores, boxes.

    `stores` is honey, `bread` stored pollen.
    """

    bees: float
    cells: Floats
    stores: float
    supers: int
    super_honey: float = 0.0
    queen: bool = True
    lays_again: int | None = None
    bread: float = (BREAD_LEAST + BREAD_FULL) / 2

    @property
    def brood(self) -> float:
        """All brood, cells."""
        return float(self.cells.sum())

    @property
    def bodies(self) -> float:
        """Bees and brood, kg."""
        return self.bees * EMPTY_BEE + float(self.cells @ CELL_KG)


@dataclass
class Life:
    """A colony's days (arrays of shape (days,)) and what happened in it.

    `gross` nectar kg brought in, `sugar` its share, `eaten` kg of honey, `pollen` kg brought in, `grown` kg that bodies
    gained on what was eaten, before `deaths` kg in the field, `bread_eaten` kg of pollen, `robbed` and `loot` kg,
    `bees`, `foragers`, `brood`, `sealed` counts; in the evening `stores` and `bread` kg.
    """

    gross: Floats
    sugar: Floats
    eaten: Floats
    pollen: Floats
    bread_eaten: Floats
    grown: Floats
    deaths: Floats
    robbed: Floats
    loot: Floats
    bees: Floats
    foragers: Floats
    brood: Floats
    sealed: Floats
    stores: Floats
    bread: Floats
    laying: Floats
    weight: list[Effect] = field(default_factory=list)
    nest: list[Effect] = field(default_factory=list)
    humidity: list[Effect] = field(default_factory=list)
    swarms: list[Swarm] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)


def laying_season(grid: Grid, latitude: float) -> Floats:
    """Share of her best that a queen lays by season: most in early summer, none from mid October to late winter.

    In warm latitudes (below 35 degrees) the season is longer. Our own curve, shape (days,).
    """
    noon = season_angle(grid, latitude)[grid.per_day // 2 :: grid.per_day][: grid.days]
    floor = 0.35 if abs(latitude) > 35 else 0.55
    return np.clip(floor - 0.75 * np.cos(noon + 0.6), 0.0, 1.0)


def begin(plan: HivePlan, season: float) -> State:
    """The colony on the evening before the first day, as if she had laid evenly for three weeks."""
    cells = np.full(BROOD_DAYS, plan.laying * season * min(1.0, plan.bees / 14000.0))
    return State(plan.bees, cells, plan.stores, plan.supers)


@dataclass(frozen=True)
class Fate:
    """What befalls a colony: its `swarms`, daily `survival` share of brood, and `loot` kg a day from others."""

    swarms: list[Swarm]
    survival: Floats
    loot: Floats


@dataclass(frozen=True)
class Today:
    """A day in a colony: scenario day, season 0..1, nectar kg a strong hive gets, this hive's luck with it."""

    day: int
    season: float
    nectar: float
    luck: float


def _laid(rng: Rng, plan: HivePlan, state: State, today: Today, swarms: list[Swarm]) -> float:
    """Eggs of one day: season, help, forage; fewer in the week before she leaves; none until her daughter lays."""
    day = today.day
    if state.lays_again is not None and day >= state.lays_again:
        state.queen, state.lays_again = True, None
    if not state.queen or any(p.kind == "queenless" and p.day <= day < p.day + p.days for p in plan.nest):
        return 0.0
    leaving = any(s.prime and s.back is None and 0 <= s.day - day <= 6 for s in swarms)
    help_ = min(1.0, state.bees / 14000.0)
    mood = (0.6 + 0.4 * min(1.0, today.nectar / 0.8)) * (0.35 if leaving else 1.0)
    return plan.laying * today.season * help_ * mood * float(rng.normal(1.0, 0.05))


def _swarms_today(rng: Rng, state: State, life: Life, day: int, swarms: list[Swarm]) -> None:
    """Let today's swarms leave: bees, their honey, and the queen's laying."""
    for planned in (s for s in swarms if s.day == day):
        swarm = planned.of(state.bees)
        weight, nest = swarm.effects(rng)
        life.weight += weight
        life.nest += nest
        life.swarms.append(swarm)
        if swarm.back is not None:
            continue
        state.bees -= swarm.bees
        state.stores = max(state.stores - swarm.bees * (swarm.bee_kg - EMPTY_BEE), 0.2)
        state.queen = False
        wait = rng.uniform(16, 25) if swarm.prime else rng.uniform(9, 15)
        state.lays_again = day + int(wait) if swarm.requeens else None


def _age(state: State, laid: float, survival: float, winter: float) -> float:
    """One day older: returns kg of bees that died (in the field). Summer bees live about 28 adult days."""
    born = float(state.cells[-1]) * 0.95
    state.cells = np.concatenate([[laid], state.cells[:-1]]) * survival
    dead = state.bees / (28.0 + 110.0 * winter)
    state.bees = max(state.bees + born - dead, 300.0)
    return dead * 0.9 * EMPTY_BEE


def empty_life(days: int, loot: Floats) -> Life:
    """A life to be filled in day by day; `loot` is known beforehand."""
    names = [f.name for f in fields(Life) if f.name not in ("loot", "weight", "nest", "humidity", "swarms", "acts")]
    zeros: dict[str, Any] = {name: np.zeros(days) for name in names}
    return Life(loot=loot, **zeros)


def live(rng: Rng, setting: Setting, plan: HivePlan, fate: Fate, visitor: Visitor) -> Life:
    """Run a colony through the season."""
    days = setting.grid.days
    season = laying_season(setting.grid, setting.latitude)
    state = begin(plan, float(season[0]))
    luck = np.exp(rng.normal(0.0, 0.13, days))
    life = empty_life(days, fate.loot)
    for d in range(days):
        today = Today(d, float(season[d]), float(setting.forage.nectar[d]), float(luck[d]))
        life.laying[d] = _laid(rng, plan, state, today, fate.swarms)
        _take_in(setting.forage, plan, state, life, today)
        before = state.bodies
        life.deaths[d] = _age(state, float(life.laying[d]), float(fate.survival[d]), 1.0 - min(1.0, today.season * 3))
        life.grown[d] = state.bodies - before + life.deaths[d]
        rate = sum(r.kg for r in plan.robbed if r.day <= d < r.day + r.days)
        life.robbed[d] = min(rate * setting.raid_hours[d], 0.85 * state.stores)
        honey = life.gross[d] * life.sugar[d] / RIPE
        gain = honey + fate.loot[d] - life.eaten[d] - life.robbed[d]
        state.stores = max(state.stores + gain, 0.0)
        state.super_honey = min(max(state.super_honey + (0.85 * gain if state.supers else 0.0), 0.0), state.stores)
        _swarms_today(rng, state, life, d, fate.swarms)
        _handle(rng, life, visitor.visit(d, state, today.nectar))
        life.stores[d], life.bread[d] = state.stores, state.bread
    return life


def _take_in(forage: Forage, plan: HivePlan, state: State, life: Life, today: Today) -> None:
    """Fill in today's counts, nectar, pollen and food eaten."""
    d = today.day
    foragers = state.bees * (0.30 if state.bees > 12000 else 0.22)
    life.bees[d], life.foragers[d], life.brood[d] = state.bees, foragers, state.brood
    life.sealed[d] = state.cells[SEALED_FROM:].sum()
    life.gross[d] = today.nectar * foragers / REFERENCE_FORAGERS * plan.vigour * today.luck
    life.sugar[d] = forage.sugar[d]
    honey = life.gross[d] * life.sugar[d] / RIPE
    need = 3.8e-6 * state.bees + 3.0e-6 * state.brood + 0.7e-6 * foragers * forage.hours[d]
    life.eaten[d] = min(need, state.stores + honey + 0.8 * life.loot[d])
    _pollen(state, life, d, float(forage.pollen[d]))


def _pollen(state: State, life: Life, day: int, flight: float) -> None:
    """Bring in what laying and reserve call for, on a fine day up to twice the need; feed the larvae of it."""
    wanted = 2 * min(max((BREAD_FULL - state.bread) / (BREAD_FULL - BREAD_LEAST), 0.0), 1.0)
    life.pollen[day] = POLLEN_A_BEE * life.laying[day] * flight * wanted
    need = POLLEN_A_BEE * float(state.cells[POLLEN_EATEN].mean())
    life.bread_eaten[day] = min(need, state.bread + life.pollen[day])
    state.bread += life.pollen[day] - life.bread_eaten[day]


def _handle(rng: Rng, life: Life, acts: list[Act]) -> None:
    """Keep today's handling and what the sensors will see of it."""
    for act in acts:
        life.acts.append(act)
        weight, nest, humidity = act.effects(rng)
        life.weight += weight
        life.nest += nest
        life.humidity += humidity


def robbers_loot(grid: Grid, lives: dict[str, Life], plans: tuple[HivePlan, ...]) -> dict[str, Floats]:
    """Kg a day that each strong hive gains from the robbed ones, by hive id; stronger hives take more."""
    loot = {p.hive: np.zeros(grid.days) for p in plans}
    thieves = [p for p in plans if not p.robbed and not p.weak]
    weights = np.array([p.bees for p in thieves])
    for victim in (p for p in plans if p.robbed and thieves):
        taken = lives[victim.hive].robbed * victim.robbed[0].inside
        for thief, w in zip(thieves, weights / weights.sum(), strict=True):
            loot[thief.hive] += taken * w
    return loot

"""A whole yard simulated from its scenario: weather, forage and each colony, before any sensor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .colony import Life, live, robbers_loot
from .effects import Effect, total
from .forage import Forage, make_forage
from .grid import Floats, Grid, Ints, rng_for
from .handling import Visitor, visit_days
from .intraday import Habit, Natural, natural_weight
from .lid import film, snow, wood
from .nest import brood_survival, control, heat_excess, nest_humidity, nest_temperature
from .plan import HivePlan, Scenario
from .sun import crossings
from .swarm import schedule
from .weather import Weather, make_weather


@dataclass(frozen=True)
class Colony:
    """One colony: its days (`life`) and, on the grid, natural weight, nest, lid water and brood control."""

    plan: HivePlan
    life: Life
    natural: Natural
    nest: Floats
    humidity: Floats
    lid: Floats
    hold: Floats
    heat: Floats
    start_kg: float


@dataclass(frozen=True)
class Yard:
    """Everything true about a yard over the grid."""

    scenario: Scenario
    grid: Grid
    weather: Weather
    forage: Forage
    colonies: dict[str, Colony]
    dawns: Ints

    def weight_at(self, hive: str, t: Ints, effects: list[Effect]) -> Floats:
        """True kg on the scale of a colony at times `t`: boxes, stores, bees, lid water, moisture, and `effects`."""
        colony = self.colonies[hive]
        slow = np.interp(t, self.grid.t, colony.natural.total + colony.lid)
        return colony.start_kg + slow + total(effects, t)

    def nest_at(self, hive: str, t: Ints) -> tuple[Floats, Floats]:
        """(temperature °C, humidity %RH) at the sensor of a colony at times `t`."""
        colony = self.colonies[hive]
        warm = np.interp(t, self.grid.t, colony.nest) + total(colony.life.nest, t)
        damp = np.interp(t, self.grid.t, colony.humidity) + total(colony.life.humidity, t)
        return warm, np.clip(damp, 5.0, 100.0)


def start_weight(plan: HivePlan) -> float:
    """Kg at the start: floor and lids 6.5, a box with drawn frames 10, a super 7.2, stores, bees and brood."""
    return 6.5 + 10.0 * plan.brood_boxes + 7.2 * plan.supers + plan.stores + plan.bees * 1.15e-4 + 0.12e-3 * 12 * plan.laying


def simulate(scenario: Scenario, seed: int) -> Yard:
    """Simulate a yard. The same scenario and seed give the same yard."""
    place = scenario.place
    grid = Grid.at(scenario.first, place.longitude, scenario.days)
    weather = make_weather(rng_for(seed, scenario.name, "weather"), grid, place.latitude, place.longitude, scenario.climate)
    forage = make_forage(rng_for(seed, scenario.name, "forage"), grid, weather, scenario.land)
    lives = _lives(scenario, seed, grid, weather, forage)
    colonies = {p.hive: _colony(scenario, seed, grid, weather, forage, p, lives[p.hive]) for p in scenario.hives}
    return Yard(scenario, grid, weather, forage, colonies, crossings(grid, weather.height, rising=True))


def _lives(scenario: Scenario, seed: int, grid: Grid, weather: Weather, forage: Forage) -> dict[str, Life]:
    """All colonies day by day; the robbed first, then the others with what they took."""
    visits = visit_days(rng_for(seed, scenario.name, "visits"), scenario.keeper, grid.days, forage.hours)
    warmth = np.array([weather.temperature[grid.day == d].max() - 2 for d in range(grid.days)])
    lives: dict[str, Life] = {}
    loot = {p.hive: np.zeros(grid.days) for p in scenario.hives}
    turn = {p.hive: 9.8 + 6.0 * i / max(len(scenario.hives), 6) for i, p in enumerate(scenario.hives)}
    for plan in sorted(scenario.hives, key=lambda p: not p.robbed):
        if not plan.robbed and any(p.robbed for p in scenario.hives) and not any(v.any() for v in loot.values()):
            loot = robbers_loot(grid, lives, scenario.hives)
        name = (scenario.name, plan.hive)
        swarms = schedule(rng_for(seed, *name, "swarm"), grid, weather, plan.swarms)
        visitor = Visitor(rng_for(seed, *name, "keeper"), grid, plan, scenario.keeper, forage.hours, warmth, visits,
                          turn[plan.hive])
        lives[plan.hive] = live(rng_for(seed, *name, "life"), grid, scenario.place.latitude, plan, forage, swarms, visitor,
                                brood_survival(grid, weather, plan), loot[plan.hive])
    return lives


def _colony(scenario: Scenario, seed: int, grid: Grid, weather: Weather, forage: Forage, plan: HivePlan, life: Life) -> Colony:
    """A colony's series on the grid."""
    name = (scenario.name, plan.hive)
    habit = Habit.drawn(rng_for(seed, *name, "habit"))
    natural = natural_weight(rng_for(seed, *name, "weight"), grid, weather, forage, life, habit)
    rng = rng_for(seed, *name, "nest")
    nest = nest_temperature(rng, grid, weather, plan, life)
    humidity = nest_humidity(rng, grid, weather, plan, life, natural.water)
    lid = film(grid, weather, plan.scale) + snow(grid, weather, plan.scale) + wood(grid, weather, plan.scale)
    return Colony(plan, life, natural, nest, humidity, lid, control(grid, plan, life), heat_excess(grid, weather, plan),
                  start_weight(plan))

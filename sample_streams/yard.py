"""A whole yard simulated from its scenario: weather, forage and each colony, before any sensor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .colony import Fate, Life, begin, laying_season, live, robbers_loot
from .effects import Effect, total
from .forage import Forage, Setting, make_forage, setting_of
from .grid import Floats, Grid, Ints, rng_for
from .handling import Visitor, visit_days
from .intraday import Habit, Natural, natural_weight
from .lid import film, snow, wood
from .nest import brood_survival, control, heat_excess, nest_humidity, nest_temperature
from .sun import crossings
from .swarm import schedule
from .weather import Weather, make_weather

if TYPE_CHECKING:
    from .plan import HivePlan, Scenario


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


def start_weight(plan: HivePlan, season: float) -> float:
    """Kg at the start: floor and lids 6.5, a box with drawn frames 10, a super 7.2; food, bees and brood."""
    wood, colony = 6.5 + 10.0 * plan.brood_boxes + 7.2 * plan.supers, begin(plan, season)
    return wood + colony.stores + colony.bread + colony.bodies


def simulate(scenario: Scenario, seed: int) -> Yard:
    """Simulate a yard. The same scenario and seed give the same yard."""
    place = scenario.place
    grid = Grid.at(scenario.first, place.longitude, scenario.days)
    rng = rng_for(seed, scenario.name, "weather")
    weather = make_weather(rng, grid, place.latitude, place.longitude, scenario.climate)
    forage = make_forage(rng_for(seed, scenario.name, "forage"), grid, weather, scenario.land)
    raid_hour = next((r.hour for p in scenario.hives for r in p.robbed), None)
    setting = setting_of(grid, weather, forage, place.latitude, raid_hour)
    lives = _lives(scenario, seed, setting)
    colonies = {p.hive: _colony(scenario, seed, setting, p, lives[p.hive]) for p in scenario.hives}
    return Yard(scenario, grid, weather, forage, colonies, crossings(grid, weather.height, rising=True))


def _lives(scenario: Scenario, seed: int, setting: Setting) -> dict[str, Life]:
    """All colonies day by day; the robbed first, then the others with what they took."""
    grid, weather = setting.grid, setting.weather
    visits = visit_days(rng_for(seed, scenario.name, "visits"), scenario.keeper, grid.days, setting.forage.hours)
    turn = {p.hive: 9.8 + 6.0 * i / max(len(scenario.hives), 6) for i, p in enumerate(scenario.hives)}
    lives: dict[str, Life] = {}

    def run(plan: HivePlan, loot: Floats) -> None:
        name = (scenario.name, plan.hive)
        swarms = schedule(rng_for(seed, *name, "swarm"), grid, weather, plan.swarms)
        visitor = Visitor(rng_for(seed, *name, "keeper"), setting, plan, scenario.keeper, (visits, turn[plan.hive]))
        fate = Fate(swarms, brood_survival(grid, weather, plan), loot)
        lives[plan.hive] = live(rng_for(seed, *name, "life"), setting, plan, fate, visitor)

    for plan in (p for p in scenario.hives if p.robbed):
        run(plan, np.zeros(grid.days))
    loot = robbers_loot(grid, lives, scenario.hives)
    for plan in (p for p in scenario.hives if not p.robbed):
        run(plan, loot[plan.hive])
    return lives


def _colony(scenario: Scenario, seed: int, setting: Setting, plan: HivePlan, life: Life) -> Colony:
    """A colony's series on the grid."""
    name, grid, weather = (scenario.name, plan.hive), setting.grid, setting.weather
    habit = Habit.drawn(rng_for(seed, *name, "habit"), plan.busy)
    natural = natural_weight(rng_for(seed, *name, "weight"), setting, life, habit)
    rng = rng_for(seed, *name, "nest")
    nest = nest_temperature(rng, grid, weather, plan, life)
    humidity = nest_humidity(rng, setting, plan, life, natural.water)
    lid = film(grid, weather, plan.scale) + snow(grid, weather, plan.scale) + wood(grid, weather, plan.scale)
    hold, heat = control(grid, life), heat_excess(grid, weather, plan)
    start = start_weight(plan, float(laying_season(grid, setting.latitude)[0]))
    return Colony(plan, life, natural, nest, humidity, lid, hold, heat, start)

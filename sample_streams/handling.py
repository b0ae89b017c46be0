"""What a beekeeper does to a hive, what the sensors see of it, and what gets into the logbook.

Masses: medium super with drawn frames 6.5-8 kg empty, 12-16 kg of honey full; deep frames of bees and brood 2-3 kg each
(extension, from memory). Syrup: evaporation after feeding follows the sugar share (derived: 1:1 settles to at most
0.64 of its mass, 2:1 to 0.86).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .effects import Bump, Effect, Levels, Settle, Step
from .grid import DAY, HOUR, Floats, Grid, Rng, ramp
from .plan import ActPlan, HivePlan, Keeper

if TYPE_CHECKING:
    from .colony import State

SUPER_KG = 15.0  # honey a super holds
LOGBOOK = {"inspect", "super-on", "super-off", "harvest", "feed", "split", "combine", "requeen", "mite-wash", "treat",
           "scale-reset", "moved", "note"}


@dataclass(frozen=True)
class Act:
    """One handling: `start` and `end` seconds UTC, lasting change of the scale `kg`, and how it is logged.

    `action` is a logbook entry word, or `lid-load`, `lid-unload`, `relevel`, `lifted`, which no logbook word fits.
    `settles`: further lasting change by evaporation (kg, negative).
    """

    action: str
    start: float
    end: float
    kg: float
    open_hive: bool
    boxes: int
    cool: float
    logged: bool = True
    settles: float = 0.0
    mites: int | None = None

    def effects(self, rng: Rng) -> tuple[list[Effect], list[Effect], list[Effect]]:
        """Effects on (weight kg, nest temperature °C, nest humidity %RH)."""
        weight: list[Effect] = [Step(self.end, self.kg)]
        if self.end - self.start > 60:
            weight.append(_chaos(rng, self.start, self.end, self.boxes if self.open_hive else 0))
        if self.settles:
            weight.append(Settle(self.end + 4 * HOUR, self.settles, rng.uniform(1.2, 3.0) * DAY))
        nest: list[Effect] = []
        humid: list[Effect] = []
        if self.open_hive:
            length = self.end - self.start
            nest.append(Bump(self.start, length, rng.uniform(1200, 3000), -self.cool * rng.uniform(0.4, 1.2)))
            humid.append(Bump(self.start, length, rng.uniform(900, 2400), -rng.uniform(8, 24)))
        return weight, nest, humid


def _chaos(rng: Rng, start: float, end: float, boxes: int) -> Levels:
    """Levels while somebody works: lid off, boxes off, frames out, hands and tools on; held 1 to 4 minutes each."""
    edges = [start]
    while edges[-1] < end:
        edges.append(edges[-1] + float(rng.uniform(60, 240)))
    edges[-1] = end
    if len(edges) == 2:
        edges = [start, (start + end) / 2, end]
    sizes = []
    off = 0.0
    for i in range(len(edges) - 1):
        if boxes and i < boxes:
            off -= float(rng.uniform(5, 16)) * (i > 0)
        lid = -float(rng.uniform(1.5, 5.0)) if boxes else -float(rng.uniform(0.5, 3.0))
        hands = float(rng.choice([0.0, rng.uniform(0.5, 6.0), -rng.uniform(1.0, 3.0)]))
        back = 1 - ramp(i / (len(edges) - 1), 0.6, 0.95)
        sizes.append(lid + hands + off * float(back))
    return Levels(tuple(edges), tuple(sizes))


class Visitor:
    """The beekeeper of one hive: decides each day what is done, changes the colony and returns the acts."""

    def __init__(self, rng: Rng, grid: Grid, plan: HivePlan, keeper: Keeper, hours: Floats, warmth: Floats,
                 visit_days: set[int], turn: float) -> None:
        """`hours` of full flight and midday `warmth` °C by day; `visit_days`: days on which the yard is
        inspected; `turn`: solar hour at which this hive's turn comes."""
        self.rng, self.grid, self.plan, self.keeper = rng, grid, plan, keeper
        self.hours, self.warmth, self.visit_days = hours, warmth, visit_days
        self.turn = self.clock = turn
        self.done: set[int] = set()

    def visit(self, day: int, state: State, nectar: float) -> list[Act]:
        """Acts of one day, in order of time."""
        self.clock = float(min(self.turn + self.rng.uniform(0.0, 0.3), 17.0))
        acts: list[Act] = []
        for i, order in enumerate(self.plan.acts):
            if int(order.day) == day and i not in self.done:
                self.done.add(i)
                acts += self._ordered(day, state, order)
        acts += self._routine(day, state, nectar)
        if self.rng.random() < self.keeper.surprises:
            acts += self._surprise(day)
        return sorted(acts, key=lambda a: a.start)

    def _act(self, day: int, action: str, minutes: float, kg: float, open_hive: bool = True, hour: float | None = None,
             logged: bool | None = None, boxes: int = 1, settles: float = 0.0, mites: int | None = None) -> Act:
        start = self.grid.start + day * DAY + (self.clock if hour is None else hour) * HOUR + self.rng.uniform(0, 600)
        if hour is None:
            self.clock += (minutes + 8) / 60
        cool = float(np.clip((34.5 - self.warmth[day]) / 5.0, 0.4, 5.0))
        written = (self.rng.random() >= self.keeper.missing) if logged is None else logged
        return Act(action, float(start), float(start + minutes * 60), kg, open_hive, boxes, cool,
                   bool(written and action in LOGBOOK), settles, mites)

    def _routine(self, day: int, state: State, nectar: float) -> list[Act]:
        keeper, acts = self.keeper, []
        if day in self.visit_days and self.hours[day] > 1.0:
            acts.append(self._act(day, "inspect", self.rng.uniform(12, 35), float(self.rng.normal(0, 0.05)),
                                  boxes=1 + state.supers))
            if keeper.supers and not self.plan.weak and self._wants_super(state, nectar):
                acts.append(self.super_on(day, state))
        if keeper.mite_wash_every and day % int(keeper.mite_wash_every) == 9 and self.hours[day] > 1.0:
            state.bees -= 300
            acts.append(self._act(day, "mite-wash", 12, -0.035, mites=int(self.rng.poisson(4))))
        if keeper.harvest_day is not None and day == int(keeper.harvest_day) and state.supers:
            acts.append(self.harvest(day, state))
        hungry = state.stores < keeper.feed_below and nectar < 0.5 and day % 5 == 2
        weekly = keeper.feed_every is not None and day % int(keeper.feed_every) == 3
        if hungry or weekly:
            acts.append(self.feed(day, state, keeper.feed_kg))
        return acts

    @staticmethod
    def _wants_super(state: State, nectar: float) -> bool:
        room = SUPER_KG * state.supers - state.super_honey
        return nectar > 0.6 and room < 7.0 and state.bees > 14000 and state.supers < 6

    def super_on(self, day: int, state: State, logged: bool | None = None, hour: float | None = None) -> Act:
        """A super of drawn comb is added."""
        state.supers += 1
        return self._act(day, "super-on", self.rng.uniform(3, 8), float(self.rng.uniform(6.5, 8.0)), logged=logged, hour=hour)

    def harvest(self, day: int, state: State, logged: bool | None = None, hour: float | None = None) -> Act:
        """All supers are taken off with their honey."""
        honey, boxes = min(state.super_honey, state.stores * 0.9), state.supers
        state.stores -= honey
        state.super_honey, state.supers = 0.0, 0
        return self._act(day, "harvest", self.rng.uniform(12, 30), -(honey + 7.2 * boxes), boxes=1 + boxes, logged=logged,
                         hour=hour)

    def feed(self, day: int, state: State, kg: float, logged: bool | None = None) -> Act:
        """Syrup in the evening; most of its water evaporates over days."""
        sugar = self.keeper.syrup_sugar
        state.stores += 0.95 * kg * sugar
        return self._act(day, "feed", self.rng.uniform(3, 7), kg, open_hive=False, hour=float(self.rng.uniform(16.0, 18.5)),
                         settles=-kg * (1 - 1.2 * sugar), logged=logged)

    def split(self, day: int, state: State, frames: int, logged: bool | None = None, hour: float | None = None) -> Act:
        """Frames of bees and brood are taken (about 2,400 bees a frame) and empty ones hung in their place."""
        each = float(self.rng.uniform(1.9, 2.8))
        state.bees = max(state.bees - 2000.0 * frames, 3000.0)
        state.cells = state.cells * max(0.3, 1 - 0.11 * frames)
        state.stores = max(state.stores - 0.8 * frames, 0.3)
        return self._act(day, "split", self.rng.uniform(12, 28), -frames * (each - 0.6), logged=logged, hour=hour)

    def _ordered(self, day: int, state: State, order: ActPlan) -> list[Act]:
        """Acts that the scenario orders by name."""
        kg, log, hour = order.kg, order.logged, order.hour
        if order.action == "super-on":
            return [self.super_on(day, state, log, hour)]
        if order.action == "harvest":
            return [self.harvest(day, state, log, hour)] if state.supers else []
        if order.action == "feed":
            return [self.feed(day, state, kg or self.keeper.feed_kg, log)]
        if order.action == "split":
            return [self.split(day, state, int(kg or 3), log, hour)]
        if order.action == "lid-load":
            return self._lid_load(day, hour, kg or 4.0, order.hours)
        if order.action == "relevel":
            return [self._act(day, "relevel", 0.5, kg or 0.3, open_hive=False, hour=hour, logged=False)]
        if order.action == "scale-reset":
            return [self._act(day, "scale-reset", 2, kg or -5.0, open_hive=False, hour=hour, logged=log)]
        if order.action == "treat":
            return [self._act(day, "treat", 6, 0.08, logged=log, hour=hour)]
        if order.action == "inspect":
            return [self._act(day, "inspect", self.rng.uniform(12, 35), float(self.rng.normal(0, 0.05)), hour=hour, logged=log,
                              boxes=1 + state.supers)]
        raise ValueError(f"unknown handling {order.action!r} ordered for hive {self.plan.hive}: see Visitor._ordered")

    def _lid_load(self, day: int, hour: float, kg: float, hours: float) -> list[Act]:
        on = self._act(day, "lid-load", 0.3, kg, open_hive=False, hour=hour, logged=False)
        off = self._act(day, "lid-unload", 0.3, -kg, open_hive=False, hour=hour + max(hours, 0.5), logged=False)
        return [on, off]

    def _surprise(self, day: int) -> list[Act]:
        if self.rng.random() < 0.6:
            hours = float(self.rng.choice([0.7, 5.0, 30.0, 90.0]))
            return self._lid_load(day, float(self.rng.uniform(8, 18)), float(self.rng.uniform(1.0, 6.0)), hours)
        kg = float(self.rng.choice([-1, 1]) * self.rng.uniform(0.15, 0.7))
        return [self._act(day, "relevel", 0.5, kg, open_hive=False, hour=float(self.rng.uniform(9, 18)), logged=False)]


def visit_days(rng: Rng, keeper: Keeper, days: int, hours: Floats) -> set[int]:
    """Days on which the yard is inspected: about every so often, put off to a day with flight."""
    chosen: set[int] = set()
    day = float(rng.uniform(1, max(keeper.inspect_every, 2)))
    while keeper.inspect_every > 0 and day < days:
        fit = next((d for d in range(int(day), min(int(day) + 5, days)) if hours[d] > 2.5), int(day))
        chosen.add(fit)
        day = fit + keeper.inspect_every * rng.uniform(0.75, 1.3)
    return chosen

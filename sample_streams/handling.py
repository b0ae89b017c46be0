"""What a beekeeper does to a hive, what the sensors see of it, and what gets into the logbook.

Masses: medium super with drawn frames 6.5-8 kg empty, 12-16 kg of honey full; deep frames of bees and brood
2-3 kg each (extension, from memory). Syrup: what is left on the scale is what is stored (derived: 1:1 settles to at
most 0.64 of its mass, 2:1 to 0.86).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .acts import LOGBOOK, Act
from .grid import DAY, HOUR, Floats, Rng

if TYPE_CHECKING:
    from collections.abc import Callable

    from .colony import State
    from .forage import Setting
    from .plan import ActPlan, HivePlan, Keeper

SUPER_KG = 15.0  # honey a super holds
STORED = 0.95  # kg of stores from a kg of sugar fed (US extension, from memory); the rest is spent on the work


@dataclass(frozen=True)
class Job:
    """A piece of work before it has a time: see Act for the fields; `minutes` it takes."""

    action: str
    minutes: float
    kg: float
    open_hive: bool = True
    boxes: int = 1
    settles: float = 0.0
    mites: int | None = None
    lifted: float = 0.0


@dataclass(frozen=True)
class When:
    """Solar `hour` of a job (None: as the round of the yard comes by) and whether it is logged (None: by habit)."""

    hour: float | None = None
    logged: bool | None = None


ROUND = When()


class Visitor:
    """The beekeeper of one hive: decides each day what is done, changes the colony and returns the acts."""

    def __init__(
        self, rng: Rng, setting: Setting, plan: HivePlan, keeper: Keeper, round_: tuple[set[int], float]
    ) -> None:
        """`round_`: days on which the yard is inspected, and the solar hour at which this hive's turn comes."""
        self.rng, self.setting, self.plan, self.keeper = rng, setting, plan, keeper
        self.visit_days, self.turn = round_
        self.clock = self.turn
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

    def _act(self, day: int, job: Job, when: When = ROUND) -> Act:
        hour = self.clock if when.hour is None else when.hour
        start = float(self.setting.grid.start + day * DAY + hour * HOUR + self.rng.uniform(0, 600))
        if when.hour is None:
            self.clock += (job.minutes + 8) / 60
        cool = float(np.clip((36.5 - self.setting.warmest[day]) / 5.0, 0.4, 5.0))
        written = (self.rng.random() >= self.keeper.missing) if when.logged is None else when.logged
        logged = bool(written and job.action in LOGBOOK)
        end = start + float(job.minutes) * 60
        return Act(
            job.action,
            start,
            end,
            float(job.kg),
            job.open_hive,
            job.boxes,
            cool,
            logged,
            job.settles,
            job.mites,
            job.lifted,
        )

    def _inspection(self, state: State) -> Job:
        return Job("inspect", self.rng.uniform(12, 35), self.rng.normal(0, 0.05), boxes=1 + state.supers)

    def _routine(self, day: int, state: State, nectar: float) -> list[Act]:
        keeper, acts = self.keeper, []
        open_weather = self.setting.forage.hours[day] > 1.0
        if day in self.visit_days and open_weather:
            acts.append(self._act(day, self._inspection(state)))
            if keeper.supers and not self.plan.weak and self._wants_super(state, nectar):
                acts.append(self.super_on(day, state))
        if keeper.mite_wash_every and day % int(keeper.mite_wash_every) == 9 and open_weather:
            state.bees -= 300
            acts.append(self._act(day, Job("mite-wash", 12, -0.035, mites=int(self.rng.poisson(4)))))
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

    def super_on(self, day: int, state: State, when: When = ROUND) -> Act:
        """A super of drawn comb is added."""
        state.supers += 1
        return self._act(day, Job("super-on", self.rng.uniform(3, 8), self.rng.uniform(6.5, 8.0)), when)

    def harvest(self, day: int, state: State, when: When = ROUND) -> Act:
        """All supers are taken off with their honey."""
        honey, boxes = min(state.super_honey, state.stores * 0.9), state.supers
        state.stores -= honey
        state.super_honey, state.supers = 0.0, 0
        return self._act(day, Job("harvest", self.rng.uniform(12, 30), -(honey + 7.2 * boxes), boxes=1 + boxes), when)

    def feed(self, day: int, state: State, kg: float, when: When = ROUND) -> Act:
        """Syrup in the evening; most of its water evaporates over days."""
        stored = STORED * self.keeper.syrup_sugar * kg
        state.stores += stored
        job = Job("feed", self.rng.uniform(3, 7), kg, open_hive=False, settles=stored - kg)
        return self._act(day, job, When(float(self.rng.uniform(16.0, 18.5)), when.logged))

    def split(self, day: int, state: State, frames: int, when: When = ROUND) -> Act:
        """Frames of bees and brood are taken (about 2,000 bees a frame) and empty ones hung in their place."""
        each = float(self.rng.uniform(1.9, 2.8))
        state.bees = max(state.bees - 2000.0 * frames, 3000.0)
        state.cells = state.cells * max(0.3, 1 - 0.11 * frames)
        state.stores = max(state.stores - 0.8 * frames, 0.3)
        return self._act(day, Job("split", self.rng.uniform(12, 28), -frames * (each - 0.6)), when)

    def _ordered(self, day: int, state: State, order: ActPlan) -> list[Act]:
        """Acts that the scenario orders by name; ValueError for an unknown name."""
        when = When(order.hour, order.logged)
        works: dict[str, Callable[[], list[Act]]] = {
            "super-on": lambda: [self.super_on(day, state, when)],
            "harvest": lambda: [self.harvest(day, state, when)] if state.supers else [],
            "feed": lambda: [self.feed(day, state, order.kg or self.keeper.feed_kg, when)],
            "split": lambda: [self.split(day, state, int(order.kg or 3), when)],
            "lid-load": lambda: self._lid_load(day, order.hour, order.kg or 4.0, order.hours),
            "relevel": lambda: [
                self._act(day, Job("relevel", 0.5, order.kg or 0.3, open_hive=False), When(order.hour, logged=False))
            ],
            "scale-reset": lambda: [self._act(day, Job("scale-reset", 2, order.kg or -5.0, open_hive=False), when)],
            "treat": lambda: [self._act(day, Job("treat", 6, 0.08), when)],
            "inspect": lambda: [self._act(day, self._inspection(state), when)],
            "moved": lambda: [self._moved(day, state, when)],
            "combine": lambda: [self._combine(day, state, when)],
            "requeen": lambda: [self._requeen(day, state, when)],
            "super-off": lambda: [self._super_off(day, state, when)],
        }
        if order.action not in works:
            raise ValueError(f"unknown handling {order.action!r} for hive {self.plan.hive}; known: {', '.join(works)}")
        return works[order.action]()

    def _moved(self, day: int, state: State, when: When) -> Act:
        """Lifted off the scale and set down again, a little differently."""
        load = 22.0 + state.stores + 7.2 * state.supers
        job = Job("moved", self.rng.uniform(3, 12), self.rng.normal(0, 0.3), open_hive=False, lifted=load)
        return self._act(day, job, when)

    def _combine(self, day: int, state: State, when: When) -> Act:
        """A box with another colony is set on top."""
        state.bees += 8000
        state.stores += 3.0
        return self._act(day, Job("combine", 9, self.rng.uniform(13, 17)), when)

    def _requeen(self, day: int, state: State, when: When) -> Act:
        """A new queen, who lays after some days."""
        state.queen, state.lays_again = False, day + int(self.rng.integers(4, 8))
        return self._act(day, Job("requeen", 14, 0.0), when)

    def _super_off(self, day: int, state: State, when: When) -> Act:
        """An empty super is taken off, if there is one; else the hive is only opened."""
        kg = -float(self.rng.uniform(6.5, 8.0)) if state.supers else 0.0
        state.supers = max(state.supers - 1, 0)
        return self._act(day, Job("super-off", 8, kg), when)

    def _lid_load(self, day: int, hour: float, kg: float, hours: float) -> list[Act]:
        on = self._act(day, Job("lid-load", 0.3, kg, open_hive=False), When(hour, logged=False))
        off = self._act(day, Job("lid-unload", 0.3, -kg, open_hive=False), When(hour + max(hours, 0.5), logged=False))
        return [on, off]

    def _surprise(self, day: int) -> list[Act]:
        if self.rng.random() < 0.6:
            hours = float(self.rng.choice([0.7, 5.0, 30.0, 90.0]))
            return self._lid_load(day, float(self.rng.uniform(8, 18)), float(self.rng.uniform(1.0, 6.0)), hours)
        kg = float(self.rng.choice([-1, 1]) * self.rng.uniform(0.15, 0.7))
        return [
            self._act(day, Job("relevel", 0.5, kg, open_hive=False), When(float(self.rng.uniform(9, 18)), logged=False))
        ]


def visit_days(rng: Rng, keeper: Keeper, days: int, hours: Floats) -> set[int]:
    """Days on which the yard is inspected: about every so often, put off to a day with flight."""
    chosen: set[int] = set()
    day = float(rng.uniform(1, max(keeper.inspect_every, 2)))
    while keeper.inspect_every > 0 and day < days:
        fit = next((d for d in range(int(day), min(int(day) + 5, days)) if hours[d] > 2.5), int(day))
        chosen.add(fit)
        day = fit + keeper.inspect_every * rng.uniform(0.75, 1.3)
    return chosen

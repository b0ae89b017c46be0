"""What people do to the hives, and what of it they write down."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .bees import Colonies
    from .day import Natural
    from .places import Family
    from .sky import Array, Grid, Weather


@dataclass
class Work:
    """One piece of handling of one hive; `start` and `stop` are grid steps (fractions allowed)."""

    hive: int
    action: str
    start: float
    stop: float
    kg: float = 0.0
    settles: float = 0.0
    """kg that go by evaporation over the next days (negative)."""
    rough: float = 1.0
    """How far boxes and lid are lifted: 0 not at all, 1 a whole inspection."""
    logged: bool = True
    entry: str = ""
    note: str = ""


@dataclass
class Book:
    """All work of a season, and the logbook's lines (ms, hive, entry, amount, note)."""

    works: list[Work] = field(default_factory=list)
    lines: list[tuple[int, int, str, float | None, str]] = field(default_factory=list)


class Beekeeper:
    """Somebody's season with the hives: visits on fair afternoons, decided hive by hive."""

    def __init__(
        self, family: Family, g: Grid, w: Weather, c: Colonies, nat: Natural, rng: np.random.Generator
    ) -> None:
        self.family, self.g, self.w, self.c, self.nat, self.rng = family, g, w, c, nat, rng
        self.k = family.keeper
        hives = c.adults.shape[0]
        self.book = Book()
        self.supers: list[list[float]] = [[] for _ in range(hives)]
        self.taken = np.zeros(hives)
        self.start_stores = np.asarray(rng.uniform(family.stores[0], family.stores[1], hives))
        self.split_done = np.zeros(hives, dtype=bool)
        self.jar = np.zeros(hives)
        self.treated = 0

    def run(self) -> Book:
        """Make all visits in order of time."""
        d = float(self.rng.uniform(2, self.k.every[1]))
        while d < self.g.days - 2:
            day = self._fair(int(d))
            if day is not None:
                self._visit(day)
            d = (day or d) + self.rng.uniform(*self.k.every)
        return self.book

    def _fair(self, d: int) -> int | None:
        """Return the first of three days with a dry midday that is warm enough to open hives."""
        for day in range(d, min(d + 3, self.g.days - 1)):
            s = (self.g.day == day) & (self.g.solar > 10) & (self.g.solar < 16)
            if s.any() and self.w.rain[s].sum() < 0.5 and self.w.air[s].mean() > 11:
                return day
        return None

    def _visit(self, day: int) -> None:
        noon = np.flatnonzero((self.g.day == day) & (self.g.solar > 9.5))
        if not len(noon):
            return
        at = float(noon[0]) + self.rng.uniform(0, 5 * 60 / self.g.dt)
        for h in self.rng.permutation(len(self.supers)):
            at = self._hive(int(h), day, at) + self.rng.uniform(2, 8) / self.g.dt
        if self.rng.random() < self.k.shuffle and len(self.supers) > 1:
            self._shuffle(at)
        if self.k.treats and self.treated < 2 and day > self.g.days * (0.55 + 0.25 * self.treated):
            self.treated += 1
            for h in range(len(self.supers)):
                self._do(Work(h, "treat", at, at + 3 / self.g.dt, 0.02, rough=0.2, entry="treat"))

    def stores(self, h: int, day: int) -> float:
        """Return kg of food in the hive at the dawn of a day."""
        i = min(int(self.g.dawn[day]), self.g.n - 1)
        return float(self.start_stores[h] + self.nat.ripe[h, i] + self.taken[h])

    def _hive(self, h: int, day: int, at: float) -> float:
        rng, k, g = self.rng, self.k, self.g
        stop = at + rng.uniform(*k.minutes) / g.dt
        alive = self.c.adults[h, day] > 1_500
        self._do(Work(h, "inspect", at, stop, float(rng.normal(0, 0.09)), entry="inspect"))
        stores = self.stores(h, day)
        room = 14 + sum(9 if kg < 7 else 14 for kg in self.supers[h])
        feed = alive and (stores < 3.0 or rng.random() < k.feed_weekly)
        if alive and stores > room * 0.75 and k.supers and len(self.supers[h]) < 4 and rng.random() < 0.85:
            kg = float(rng.uniform(5, 10))
            self.supers[h].append(kg)
            self._do(Work(h, "super-on", at, stop, kg, entry="super-on"))
            feed = False
        elif self.supers[h] and k.harvests and self._over(h, day) and rng.random() < 0.6:
            self._harvest(h, stop, stores)
            feed = False
        if feed:
            self._feed(h, day, stop, stores)
        if not self.split_done[h] and self.c.adults[h, day] > 22_000 and rng.random() < k.split:
            self._split(h, at, stop)
        if rng.random() < k.sloppy:
            self._sloppy(h, stop)
        return stop

    def _over(self, h: int, day: int) -> bool:
        """Say whether little has come in for a week."""
        i, j = self.g.dawn[max(day - 7, 0)], self.g.dawn[day]
        return bool(self.nat.ripe[h, j] - self.nat.ripe[h, i] < 0.6)

    def _harvest(self, h: int, at: float, stores: float) -> None:
        boxes = sum(self.supers[h])
        honey = min(max(stores - self.rng.uniform(8, 13), 0.0), 24.0 * len(self.supers[h]))
        if honey < 4:
            return
        self.taken[h] -= honey
        self.supers[h] = []
        stop = at + self.rng.uniform(5, 15) / self.g.dt
        self._do(Work(h, "harvest", at, stop, -(boxes + honey), entry="harvest"))
        if self.rng.random() < self.k.wet_back:
            later = at + (self.rng.integers(1, 4) * 1440 + self.rng.uniform(300, 480)) / self.g.dt
            off = later + self.rng.integers(4, 12) * 1440 / self.g.dt
            wet = float(self.rng.uniform(0.3, 0.9))
            self._do(Work(h, "super-on", later, later + 5 / self.g.dt, boxes + wet, rough=0.3, entry="super-on"))
            self._do(Work(h, "super-off", off, off + 8 / self.g.dt, -boxes, rough=0.6, entry="super-off"))

    def _feed(self, h: int, day: int, at: float, stores: float) -> None:
        kg = float(self.rng.uniform(*self.k.feed_kg)) + (2.0 if stores < 2 else 0.0)
        cold = self.w.air[self.g.day == day].mean() < 9
        water = 0.1 if cold else max(0.0, 1 - self.k.sugar / 0.82)
        self.taken[h] += kg * (1 - water)
        jar = float(self.rng.uniform(0.4, 0.9)) if self.rng.random() < 0.4 else 0.0
        net = kg + jar - self.jar[h]
        self.jar[h] = jar
        note = "candy" if cold else ""
        self._do(Work(h, "feed", at, at + 4 / self.g.dt, net, -kg * water, 0.4, entry="feed", note=note))

    def _split(self, h: int, at: float, stop: float) -> None:
        self.split_done[h] = True
        kg = -float(self.rng.uniform(1.2, 6.0))
        self.taken[h] += kg * 0.4
        self._do(Work(h, "split", at, stop, kg, entry="split"))

    def _shuffle(self, at: float) -> None:
        """Change two hives on their scales; each then stands on the other's cell (boxes and bees apart by some kg)."""
        a, b = self.rng.choice(len(self.supers), 2, replace=False)
        kg = float(self.rng.uniform(-9, 9))
        stop = at + self.rng.uniform(4, 20) / self.g.dt
        self._do(Work(int(a), "moved", at, stop, kg, rough=3.0, entry="moved"))
        self._do(Work(int(b), "moved", at, stop, -kg, rough=3.0, entry="moved"))

    def _sloppy(self, h: int, at: float) -> None:
        """Move a brick, leave a lid off for a day, re-zero a scale, or mend it in place."""
        g, rng = self.g, self.rng
        what = rng.choice(["brick", "lid", "zero", "mend"], p=[0.45, 0.2, 0.2, 0.15])
        stop = at + 3 / g.dt
        if what == "brick":
            self._do(
                Work(h, "brick", at, stop, float(rng.choice([-1, 1]) * rng.uniform(1.5, 4)), rough=0.0, logged=False)
            )
        elif what == "lid":
            kg, back = float(rng.uniform(1.5, 4)), at + rng.uniform(600, 2600) / g.dt
            self._do(Work(h, "lid", at, stop, -kg, rough=0.2, logged=False))
            self._do(Work(h, "lid", back, back + 2 / g.dt, kg, rough=0.2, logged=False))
        elif what == "zero":
            self._do(Work(h, "scale-reset", at, stop, float(rng.normal(0, 4)), rough=0.0, entry="scale-reset"))
        else:
            kg = float(rng.normal(0, 1.5))
            self._do(Work(h, "scale-mended", at, at + 30 / g.dt, kg, rough=3.0, entry="scale-reset", note="new cell"))

    def _do(self, work: Work) -> None:
        """Add work, and perhaps a line in the logbook: late, roughly, of the wrong hive, or not at all."""
        if work.start > self.g.n - 3:
            return
        k, rng = self.k, self.rng
        work.logged = work.logged and bool(work.entry) and bool(rng.random() < k.logs)
        self.book.works.append(work)
        if not work.logged:
            return
        late = rng.normal(k.late * 0.5, k.late)
        ms = round((self.g.ms(work.start) + late * 60_000) / 300_000) * 300_000
        hives = len(self.supers)
        hive = int(rng.integers(hives)) if rng.random() < k.wrong_hive else work.hive
        amount = None
        if work.entry in {"super-on", "super-off", "harvest", "feed", "split"} and rng.random() < 0.8:
            amount = round(abs(work.kg) * rng.uniform(0.85, 1.15), int(rng.integers(0, 2)))
        self.book.lines.append((ms, hive, work.entry, amount, work.note))


def disturb(book: Book, hives: int, g: Grid, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return kg that handling adds (hives, steps), chaos of lifted boxes included, and how far hives are open."""
    kg, opened = np.zeros((hives, g.n)), np.zeros((hives, g.n))
    t = np.arange(g.n)
    for work in book.works:
        i, j = int(np.ceil(work.start)), min(int(np.ceil(work.stop)), g.n - 1)
        kg[work.hive, j:] += work.kg
        if work.settles:
            kg[work.hive, j:] += work.settles * (1 - np.exp(-(t[j:] - j) * g.dt / (2.5 * 1440)))
        if work.rough > 0 and j > i:
            lifted = -rng.uniform(1.0, 14, j - i) * min(work.rough, 1.0) + rng.normal(0, 1.5, j - i)
            kg[work.hive, i:j] += np.where(rng.random(j - i) < 0.2, rng.uniform(0, 4, j - i), lifted)
            opened[work.hive, i:j] = np.maximum(opened[work.hive, i:j], min(work.rough, 1.0))
    return kg, opened

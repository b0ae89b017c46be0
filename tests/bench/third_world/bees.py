"""Colonies by the day: brood, house bees, foragers, queens, swarms; and the fates that are drawn for them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .places import Family
    from .sky import Array, Grid, Weather

BEE_KG = 0.000_105
"""A forager with little in her crop (Winston 1987, from memory: 100 to 115 mg)."""
SWARM_BEE_KG = (0.000_125, 0.000_145)
"""A swarm's bee with honey in her crop (Combs 1972 and Otis 1982, from memory: 130 to 165 mg; not all are full)."""
TYPICAL_BEE_KG = 0.000_135
"""Between the two, to count the bees of a swarm by its weight."""
AFTERSWARM_BEE_KG = (0.000_115, 0.000_13)
"""An afterswarm's bee: engorged less than a prime swarm's (order: Otis, Winston & Taylor 1981; figures: a guess)."""
STAGES = 21
"""Days from egg to adult worker (Morse, Cornell Coop. Ext., revised 1996)."""
LARVA = 3
"""Days from egg to larva (from memory): from then on brood must be kept warm."""


@dataclass
class Departure:
    """Bees that leave (or come, when `kg` is negative) at grid step `at` over `minutes`."""

    hive: int
    at: int
    minutes: float
    kg: float
    kind: str
    """`prime`, `after`, `abscond` or `arrive`."""
    returned_at: int | None = None


@dataclass
class Fate:
    """What befalls one colony; days are hive days, None for never."""

    weak: bool = False
    empty: bool = False
    adults: float = 15_000
    laying: float = 1_500
    swarms: bool = False
    swarm_day: int = 0
    mating_fails: bool = False
    queen_dies: int | None = None
    requeened: int | None = None
    supersedes: int | None = None
    absconds: int | None = None
    arrives: int | None = None
    place: float = 0.04
    """Share of the outside that the nest sensor feels although brood is all about it."""
    set_point: float = 34.7
    no_water: bool = False


@dataclass
class Colonies:
    """Daily states, each of shape (hives, days), and what left."""

    adults: Array
    foragers: Array
    brood: Array
    """Larvae and pupae (3 to 21 days old)."""
    why: list[list[str]]
    """Why there is little brood on that day, of shape (hives, days).

    Of `empty`, `new-swarm`, `swarm-break`, `queen-lost`, `season`, `drought`, `absconded`; nothing where there is
    brood.
    """
    departures: list[Departure] = field(default_factory=list)


def fates(family: Family, hives: int, days: int, rng: np.random.Generator) -> list[Fate]:
    """Draw what befalls each colony."""
    c = family.chances
    found = []
    for _ in range(hives):
        f = Fate(weak=bool(rng.random() < family.weak), adults=rng.uniform(*family.adults))
        f.laying = rng.uniform(*family.laying)
        if f.weak:
            f.adults, f.laying = f.adults * 0.4, f.laying * 0.4
        f.swarms = not f.weak and bool(rng.random() < c.swarm)
        f.swarm_day = int(rng.uniform(*c.swarm_days))
        f.mating_fails = bool(rng.random() < 0.12)
        if rng.random() < c.queen_lost and not f.swarms:
            f.queen_dies = int(rng.uniform(0.15, 0.75) * days)
            if rng.random() < 0.5:
                f.requeened = f.queen_dies + int(rng.uniform(24, 50))
        if rng.random() < c.supersede:
            f.supersedes = int(rng.uniform(0.2, 0.8) * days)
        if rng.random() < c.abscond:
            f.absconds = int(rng.uniform(0.4, 0.9) * days)
        f.place = float(rng.choice([0.02, 0.04, 0.07, 0.14], p=[0.35, 0.35, 0.2, 0.1]))
        f.set_point = rng.uniform(34.2, 35.2)
        f.no_water = bool(rng.random() < c.no_water)
        found.append(f)
    if rng.random() < c.swarm_in and hives > 1:
        found[-1] = Fate(empty=True, arrives=int(rng.uniform(0.15, 0.5) * days), laying=rng.uniform(*family.laying))
    return found


def live(family: Family, chosen: list[Fate], forage: Array, g: Grid, w: Weather, rng: np.random.Generator) -> Colonies:
    """Let the colonies live through the season; `forage` (days,) is kg a day of ripe stores for a strong colony."""
    shape = (len(chosen), g.days)
    out = Colonies(np.zeros(shape), np.zeros(shape), np.zeros(shape), [["" for _ in range(g.days)] for _ in chosen])
    warmth = g.per_day(w.air) / np.maximum(g.per_day(np.ones(g.n)), 1)
    flying = g.per_day((w.fly > 0.45).astype(float)) * g.dt / 60
    for h, fate in enumerate(chosen):
        _Life(family, fate, h, g, w, rng).run(out, forage, warmth, flying)
    return out


class _Life:
    """One colony, day after day."""

    def __init__(self, family: Family, fate: Fate, h: int, g: Grid, w: Weather, rng: np.random.Generator) -> None:
        self.family, self.fate, self.h, self.g, self.w, self.rng = family, fate, h, g, w, rng
        self.house = 0.0 if fate.empty else fate.adults * 0.65
        self.field = 0.0 if fate.empty else fate.adults * 0.35
        self.ages = np.zeros(STAGES)
        self.lays_from = 0
        self.queen = not fate.empty
        self.after_day = -1
        self.why_not = ""

    def run(self, out: Colonies, forage: Array, warmth: Array, flying: Array) -> None:
        """Fill this colony's rows."""
        smooth, fed = float(warmth[:6].mean()), float(forage[:8].mean())
        first = self._eggs(0, smooth, fed)[0]
        if not self.fate.empty:
            self.ages[:] = first
        for d in range(self.g.days):
            smooth += (float(warmth[d]) - smooth) / 8
            fed += (float(forage[d]) - fed) / 8
            eggs, why = self._eggs(d, smooth, fed)
            self._day(eggs, float(flying[d]))
            self._fates(d, float(flying[d]), out)
            h = self.h
            out.adults[h, d] = self.house + self.field
            out.foragers[h, d] = self.field
            out.brood[h, d] = self.ages[LARVA:].sum()
            out.why[h][d] = why or (self.why_not if out.brood[h, d] < 9_000 else "")

    def _eggs(self, d: int, warmth: float, fed: float) -> tuple[float, str]:
        """Return eggs of this day and why there are few, from warmth (°C) and ripe stores (kg a day) of late days."""
        if not self.queen or d < self.lays_from:
            return 0.0, self.why_not or ("empty" if self.fate.arrives is not None else "queen-lost")
        adults = self.house + self.field
        season = 1 / (1 + np.exp(-(warmth - 7.5) / 1.3))
        sky = self._length(d)
        food = 0.45 + 0.55 * min(fed / 0.35, 1.0)
        if self.family.chances.drought_break and fed < 0.06:
            food *= 0.03
            why = "drought"
        else:
            why = ""
        eggs = self.fate.laying * season * sky * food * min(1.0, adults / 9_000)
        if season * sky < 0.15:
            why = "season"
        if eggs > 200:
            self.why_not = ""
        return float(eggs), why

    def _length(self, d: int) -> float:
        """Return how far the length of the day lets the queen lay in a place with a winter (this package's guess)."""
        if abs(self.family.latitude) < 30:
            return 1.0
        doy = float(self.g.doy[self.g.dawn[d]])
        south = self.family.latitude < 0
        phase = np.cos(2 * np.pi * (doy - (338 if south else 155)) / 365.25)
        return float(np.clip(0.62 + 0.55 * phase, 0.04, 1.0))

    def _day(self, eggs: float, flying: float) -> None:
        """Let brood age and hatch, house bees turn foragers and foragers die; the more brood, the shorter a bee's life.

        Shares a day are this package's guess: in full summer a forager lasts about a week, without brood or flight half
        a year.
        """
        born = self.ages[-1]
        self.ages = np.roll(self.ages, 1)
        self.ages[0] = eggs
        young = min(1.0, self.ages.sum() / max(self.house + self.field, 1) / 0.5)
        flown = min(flying / 8, 1.0)
        out = self.house * (0.004 + 0.012 * flown + 0.036 * young)
        self.house += born * 0.93 - out - self.house * 0.003
        self.field += out - self.field * (0.005 + 0.025 * young + flown * (0.02 + 0.07 * young))

    def _fates(self, d: int, flying: float, out: Colonies) -> None:
        """Let happen what is due on this day, given hours of flying weather."""
        f = self.fate
        if f.swarms and d >= f.swarm_day and flying > 3 and d < f.swarm_day + 40:
            self._prime(d, out)
        elif d >= self.after_day > 0 and flying > 3:
            self._after(d, out)
        if f.queen_dies == d:
            self.queen, self.why_not = False, "queen-lost"
        if f.requeened == d and not self.queen:
            self.queen, self.lays_from = True, d + 5
        if f.supersedes == d and self.queen:
            self.lays_from = d + int(self.rng.integers(0, 9))
        if f.absconds is not None and d >= f.absconds and flying > 4 and self.house > 2_000:
            self._abscond(d, out)
        if f.arrives is not None and d >= f.arrives and flying > 4 and not self.queen:
            self._arrive(d, out)

    def _moment(self, d: int) -> int | None:
        """Return a step of day `d` fit for swarming: warm, dry and calm, between 10 and about 15 by the sun.

        Burgett & Morse 1974 for the hours, Winston 1987 for the weather, both from memory.
        """
        steps = np.flatnonzero(self.g.day == d)
        s = self.g.solar[steps]
        fit = steps[
            (s > 10) & (s < 15.3) & (self.w.fly[steps] > 0.6) & (self.w.air[steps] > 15) & (self.w.wind[steps] < 5.5)
        ]
        return int(self.rng.choice(fit)) if len(fit) > self.g.steps(20) else None

    def _prime(self, d: int, out: Colonies) -> None:
        """Let a prime swarm leave, or leave and come back after about an hour at most.

        The share that goes lies about the textbooks' half and below the 0.75 of Rangel & Seeley 2012; the exit takes 5
        to 20 minutes, an afterswarm follows after 7 to 14 days (Winston 1987, from memory), a young queen lays after 16
        to 25 days (stages of Morse 1996, mating times from memory).
        """
        adults = self.house + self.field
        if adults < 16_000:
            return
        at = self._moment(d)
        if at is None:
            return
        share = self.rng.uniform(0.45, 0.72)
        minutes = self.rng.uniform(6, 16)
        kg = share * adults * self.rng.uniform(*SWARM_BEE_KG)
        back = self.rng.random() < self.family.chances.returns
        stop = at + self.g.steps(minutes + self.rng.uniform(8, 50)) if back else None
        out.departures.append(Departure(self.h, at, minutes, kg, "prime", stop))
        if back:
            self.fate.swarm_day = d + int(self.rng.integers(1, 5))
            self.fate.swarms = self.rng.random() < 0.75
            return
        self.fate.swarms = False
        self._lose(share)
        self.why_not = "swarm-break"
        self.ages[:4] *= 0.3
        self.lays_from = d + int(self.rng.uniform(17, 27))
        if self.fate.mating_fails:
            self.queen = False
        if self.rng.random() < self.family.chances.after and self.house + self.field > 6_000:
            self.after_day = d + int(self.rng.uniform(7, 11))

    def _after(self, d: int, out: Colonies) -> None:
        at = self._moment(d)
        if at is None:
            return
        self.after_day = -1
        share = self.rng.uniform(0.25, 0.5)
        kg = share * (self.house + self.field) * self.rng.uniform(*AFTERSWARM_BEE_KG)
        out.departures.append(Departure(self.h, at, self.rng.uniform(4, 10), kg, "after"))
        self._lose(share)
        if self.rng.random() < 0.3:
            self.after_day = d + int(self.rng.integers(1, 4))

    def _abscond(self, d: int, out: Colonies) -> None:
        at = self._moment(d)
        if at is None:
            return
        kg = 0.97 * (self.house + self.field) * self.rng.uniform(*SWARM_BEE_KG)
        out.departures.append(Departure(self.h, at, self.rng.uniform(8, 20), kg, "abscond"))
        self._lose(0.985)
        self.ages[:] = 0
        self.queen, self.why_not = False, "absconded"

    def _arrive(self, d: int, out: Colonies) -> None:
        at = self._moment(d)
        if at is None:
            return
        bees = self.rng.uniform(8_000, 18_000)
        out.departures.append(Departure(self.h, at, self.rng.uniform(6, 15), -bees * TYPICAL_BEE_KG, "arrive"))
        self.house, self.field = bees * 0.6, bees * 0.4
        self.queen, self.lays_from, self.why_not = True, d + 4, "new-swarm"

    def _lose(self, share: float) -> None:
        self.house *= 1 - share
        self.field *= 1 - share * 0.9

"""Swarms: a few thousand bees decide within minutes, on the first fair day, and now and then come home.

Exit of 5 to 20 minutes (Winston 1987; Seeley 2010, from memory), here 3 to 20; mostly 10 to 15 o'clock by the sun
(Burgett & Morse 1974, from memory), seldom below 16 to 18 °C. The nest may warm by 1.5 to 3.4 °C (Zacepins et al. 2016,
from memory) or cool by 2 (Ferrari et al. 2008, from memory). Afterswarms 8 to 10 days on, 7 to 14 in all, later ones
1 to 4 days apart (Winston 1987, from memory). 130 to 165 mg a bee with her honey (Combs 1972; Otis 1982, from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, STEP, Array, Clock
from .colony import Change

if TYPE_CHECKING:
    from .plan import SwarmWish
    from .sky import Sky
    from .tracks import Tracks

EGGS_AGAIN = (17, 27)
"""Days from a prime swarm to new eggs (derived from 16 days of a queen's making and her mating)."""


def moment(clock: Clock, sky: Sky, fly: Array, day: int, rng: np.random.Generator) -> int | None:
    """Return the minute of the first good hour for a swarm on or after a day, or None within ten days."""
    for today in range(day, min(day + 10, clock.days - 1)):
        span = slice(today * PER_DAY, (today + 1) * PER_DAY)
        hours = clock.hours[span]
        fair = (
            (hours > 9.7) & (hours < 15.8) & (fly[span] > 0.55) & (sky.temperature[span] > 16.5) & (sky.rain[span] == 0)
        )
        if fair.sum() >= 10:
            odds = np.where(fair, np.exp(-(((hours - 12.3) / 1.8) ** 2)), 0)
            return int((span.start + rng.choice(PER_DAY, p=odds / odds.sum())) * STEP + rng.integers(STEP))
    return None


def plan_days(
    clock: Clock, sky: Sky, fly: Array, wish: SwarmWish, bees: Array, rng: np.random.Generator
) -> list[tuple[int, float, Change]]:
    """Return (minute, kg, change of the colony) of a prime swarm and its afterswarms. `bees` by day without it."""
    found: list[tuple[int, float, Change]] = []
    at, left, kg = moment(clock, sky, fly, wish.day, rng), 1.0, wish.kg
    for number in range(1 + wish.after):
        if at is None:
            break
        day = at // (24 * 60)
        there = bees[day] * left
        kg = min(kg, there * (0.8 if number == 0 else 0.5) * 1.4e-4)
        share = kg / 1.45e-4 / there
        again = int(rng.integers(*EGGS_AGAIN)) if number == 0 else 0
        change = Change(day) if wish.returns else Change(day, 1 - share, -4 if again else 0, again)
        found.append((at, kg, change))
        left *= 1 - share
        later = day + int(rng.integers(8, 12) if number == 0 else rng.integers(1, 5))
        at, kg = moment(clock, sky, fly, later, rng), float(rng.uniform(0.4, 1.6))
    return found


def leave(track: Tracks, minute: int, kg: float, *, prime: bool, returns: bool, rng: np.random.Generator) -> None:
    """Let a swarm go (and come home), with what the nest's sensor sees of it, and note the truth."""
    length = int(rng.integers(3, 21))
    parts = rng.gamma(1.2, 1, length) * np.sin(np.linspace(0.25, np.pi - 0.2, length))
    track.ramp(minute, -kg * parts / parts.sum())
    nest = str(rng.choice(["rise", "fall", "none", "rise then fall"], p=[0.35, 0.2, 0.25, 0.2]))
    if "rise" in nest:
        lead = int(rng.integers(3, 20))
        track.push(
            max(minute - lead, 0), rng.uniform(0.8, 3.4), rise=lead + length / 2, fall=rng.uniform(6, 30), damp=6
        )
    if "fall" in nest:
        track.push(minute + 2, -rng.uniform(0.8, 2.6), rise=length + 4, fall=rng.uniform(10, 70), damp=-8)
    back = None
    if returns:
        back = minute + length + int(rng.integers(12, 55))
        home = rng.gamma(1.5, 1, int(rng.integers(5, 22)))
        track.ramp(back, kg * rng.uniform(0.9, 1.0) * home / home.sum())
    track.event(
        "swarm",
        minute,
        minute + length,
        kg,
        "kg",
        bees=round(kg / 1.45e-4),
        prime=prime,
        returned=returns,
        returned_at=back,
        nest=nest,
        clear=True,
        note="returned swarm" if returns else "prime swarm" if prime else "afterswarm",
    )

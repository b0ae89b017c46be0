"""How much room honey and fresh nectar take, and when the supers on a hive are full."""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import NamedTuple

from hivemon.advice.passage import Income, until_used_up

MOISTURE = 0.18
"""Water in ripe honey, share by mass: US average 17.2 % (White et al. 1962), usual limit 18.6 to 20 %."""
RIPE_KG_PER_LITRE = 1.4145
"""Density of honey at 18 % water, 20 °C: specific gravity 1.4171 (White 1975, from memory) x 0.9982."""
_SYRUP_DENSITY = ((0.0, 0.9982), (0.2, 1.081), (0.3, 1.127), (0.4, 1.176), (0.5, 1.2296), (0.6, 1.2865), (0.671, 1.333))
"""Share of sucrose by mass and kg/L at 20 °C (ICUMSA and CRC tables as repeated; 60 % from memory; last: Mohos)."""
DOUBT = 1.28
"""Standard deviations on either side that hold 80 % of a normal distribution."""


def syrup_density(sugar: float) -> float:
    """Return the density at 20 °C, kg/L, of a sucrose solution of `sugar` (share by mass, 0 to 0.671), interpolated.

    Raises:
        ValueError: when `sugar` is outside that span.
    """
    shares = [share for share, _ in _SYRUP_DENSITY]
    if not shares[0] <= sugar <= shares[-1]:
        raise ValueError(f"no sucrose solution holds {sugar:.0%} sugar at 20 °C (0 to 67 %)")
    i = min(bisect_right(shares, sugar), len(shares) - 1)
    (low, at_low), (high, at_high) = _SYRUP_DENSITY[i - 1], _SYRUP_DENSITY[i]
    return at_low + (at_high - at_low) * (sugar - low) / (high - low)


def nectar_per_honey(sugar: float) -> float:
    """Return the kg of nectar of `sugar` (share by mass) in one kg of ripe honey: mass balance on sugar, no losses."""
    return (1 - MOISTURE) / sugar


def fresh_room_ratio(sugar: float) -> float:
    """Return the room of nectar of `sugar` (share by mass) against the room of the ripe honey it becomes."""
    return nectar_per_honey(sugar) / syrup_density(sugar) * RIPE_KG_PER_LITRE


class Filling(NamedTuple):
    """What is known about the room on one hive. Masses in kg of ripe honey, rates in kg a day."""

    capacity_low: float
    capacity_high: float
    gained_low: float
    """Least honey that went into that room since it was empty."""
    gained_high: float
    rate: float
    rate_sd: float
    """Standard deviation of the rate."""
    good_day: float
    """Honey that a good day's nectar makes, eaten or kept: on such a day the room runs out, never on the mean one."""
    uneven: float
    """How unlike the days are, as a share of what nectar makes of honey on a mean one."""
    eaten: float
    """Honey eaten a day."""


SHADE_EARLY = 0.4
"""The chance of being used up that is called likely: the best date where a day late costs half as much again as a day
early (the newsvendor's quantile: Arrow, Harris & Marschak 1951, from memory). That it does is our rule."""


class DaysLeft(NamedTuple):
    """Days until the room is used up, at the earliest, likely and at the latest; infinite when nothing comes in."""

    earliest: float
    likely: float
    latest: float

    def later(self, days: float) -> DaysLeft:
        """Return the same as seen so many days later, never below 0."""
        return DaysLeft(*(max(d - days, 0.0) for d in self))


def days_left(filling: Filling, *, fresh_low: float, fresh_high: float) -> DaysLeft:
    """Return when the room is full.

    A day's nectar, on the evening of that day, takes `fresh_low` to `fresh_high` times the room of the honey it
    becomes; the rest is ripe. The net gain of whole days is taken as honey: in a steady flow as much water dries off a
    day as comes in. What is likely lies in the middle of every span, and follows the days as uneven as they are
    (`passage`); the ends take a good day and the rate's doubt, `DOUBT` standard deviations, against each other.
    """
    fast = max(filling.rate + DOUBT * filling.rate_sd, 0.0)
    slow = max(filling.rate - DOUBT * filling.rate_sd, 0.0)
    earliest = _until_full(filling.capacity_low, filling.gained_high, fast, filling.good_day * (fresh_high - 1))
    likely = max(earliest, _likely(filling, (fresh_low + fresh_high) / 2))
    latest = _until_full(filling.capacity_high, filling.gained_low, slow, filling.good_day * (fresh_low - 1))
    return DaysLeft(earliest, likely, max(likely, latest))


def _likely(filling: Filling, fresh: float) -> float:
    """Return the days after which the middle of the room is likely used up; the mean's, where that is far off."""
    room = (filling.capacity_low + filling.capacity_high - filling.gained_low - filling.gained_high) / 2
    if filling.rate <= 0:
        return math.inf
    income = Income(filling.rate + filling.eaten, filling.uneven, filling.eaten)
    found = until_used_up(room, income, fresh, SHADE_EARLY)
    return min(found, _until_full(room, 0.0, filling.rate, 0.0))


def _until_full(capacity: float, gained: float, rate: float, extra: float) -> float:
    """Return days until `gained` + rate x days, plus the `extra` room of what is fresh, reaches `capacity`."""
    if rate <= 0:
        return math.inf
    return max((capacity - gained - extra) / rate, 0.0)

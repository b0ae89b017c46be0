"""Stores, use and syrup: the arithmetic of feeding. Masses kg, volumes L, spans days."""

from __future__ import annotations

import math
from typing import NamedTuple

from hivemon.advice.room import DOUBT, syrup_density

THIN_WATER = 1.0
"""Water per sugar by mass of thin syrup, 1:1, for spring and summer (extension, from memory)."""
THICK_WATER = 0.63
"""Water per sugar by mass of thick syrup for autumn: 1 kg to 630 mL (National Bee Unit, Best Practice Guideline 7)."""
INVERSION = 1.0526
"""kg of simple sugars from 1 kg sucrose: (342.30 + 18.02) / 342.30, molar masses."""


class Syrup(NamedTuple):
    """A batch of syrup: sugar and water in kg (a kg of water is a litre), their share of sugar, mass and volume."""

    sugar: float
    water: float
    share: float
    mass: float
    litres: float


def syrup(sugar: float, water_per_sugar: float) -> Syrup:
    """Return the syrup made of `sugar` kg and water in proportion by mass. Raises ValueError beyond saturation."""
    water = sugar * water_per_sugar
    mass = sugar + water
    share = 1 / (1 + water_per_sugar)
    return Syrup(sugar, water, share, mass, mass / syrup_density(share))


def settled_mass(sugar: float, moisture: float = 0.18) -> float:
    """Return the most that a feed of `sugar` kg can leave on the scale once ripened, kg: the upper bound, no losses."""
    return sugar * INVERSION / (1 - moisture)


def sugar_for(stores: float, stores_per_sugar: float) -> float:
    """Return the sugar, kg, that adds `stores` kg, to the next half kg; 0 when nothing is needed."""
    return max(math.ceil(stores / stores_per_sugar * 2) / 2, 0.0)


class Estimate(NamedTuple):
    """A mean and its standard deviation."""

    mean: float
    sd: float

    @property
    def low(self) -> float:
        """The lower end of the span that holds 80 %."""
        return self.mean - DOUBT * self.sd

    @property
    def high(self) -> float:
        """The upper end of the same span."""
        return self.mean + DOUBT * self.sd

    def minus(self, other: Estimate) -> Estimate:
        """Return the difference of two independent estimates."""
        return Estimate(self.mean - other.mean, math.hypot(self.sd, other.sd))

    def combined(self, other: Estimate) -> Estimate:
        """Return what two independent estimates of the same tell together, each weighed by 1 / sd².

        One without doubt (somebody set it to 0) counts alone.
        """
        if self.sd <= 0 or other.sd <= 0:
            return min(self, other, key=lambda estimate: estimate.sd)
        mine, theirs = self.sd**-2, other.sd**-2
        return Estimate((self.mean * mine + other.mean * theirs) / (mine + theirs), (mine + theirs) ** -0.5)


def stores(weight: float, woodware: Estimate, colony: Estimate) -> Estimate:
    """Return the food in a hive of gross `weight`, kg: what is neither wood nor bees, brood and pollen."""
    return Estimate(weight, 0.0).minus(woodware).minus(colony)


class Lasts(NamedTuple):
    """Days that food lasts: short, as expected, long."""

    short: float
    expected: float
    long: float


def lasts(food: Estimate, use: Estimate) -> Lasts:
    """Return how long `food` (kg) lasts at `use` (kg a day), the ends of each span taken against each other."""
    least = max(use.low, 0.01)
    return Lasts(
        max(food.low, 0.0) / max(use.high, 0.01),
        max(food.mean, 0.0) / max(use.mean, 0.01),
        max(food.high, 0.0) / least,
    )

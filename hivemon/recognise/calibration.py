"""From known masses and what a scale shows with them to scale and offset, and to how good they are. Pure arithmetic.

The straight line `kg = shown x scale + offset` by least squares, its standard errors and the interval about it are
those of any textbook of regression (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 and 2.3.6); the masses
count as exact. Limits of what is good come from firmware-notes/calibration.md.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

MISS_KG = 0.1
"""A miss beyond this is looked into. Our rule, as in firmware-notes/calibration.md."""
PROPORTION = 0.003
"""Misses in one proportion to the mass count as such from here: a lean of 4.4 degrees. Our rule."""
CLEARER = 5.0
"""A point is the odd one when the others fit this many times better without it. Our rule."""
FAR = 3.0
"""A hive this many times the largest mass is beyond what was calibrated. Our rule."""
HIVE_KG = 60.0
"""A hive in flow, for which the uncertainty is told (common practice: 40-100 kg)."""
_PARTS_IN_THE_LOAD_CELL = 3000
"""Intervals of a C3 cell (OIML R 60-1)."""


class Point(NamedTuple):
    """A known mass, kg, and one number that the scale showed with it."""

    kg: float
    shown: float


class Line(NamedTuple):
    """`kg = shown x scale + offset`.

    `noise` is the standard deviation about the line, kg, and the errors are standard errors of scale and offset; None
    where there are as many points as unknowns. `number`, `middle` and `spread` (points, mean of shown, and sum of its
    squared distances from that) are what an interval about the line needs.
    """

    scale: float
    offset: float
    noise: float | None
    scale_error: float | None
    offset_error: float | None
    number: int
    middle: float
    spread: float

    def kilograms(self, shown: float) -> float:
        """Return the weight for a number, kg."""
        return shown * self.scale + self.offset

    def uncertainty(self, kg: float) -> float | None:
        """Return half the 95 % confidence interval of the line at a weight, kg (Student's t); None with two points."""
        if self.noise is None:
            return None
        from scipy.stats import t  # noqa: PLC0415 - half a second on a small board, needed once

        shown = (kg - self.offset) / self.scale
        standard = self.noise * math.sqrt(1 / self.number + (shown - self.middle) ** 2 / self.spread)
        return float(t.ppf(0.975, self.number - 2)) * standard


def fit(points: Sequence[Point]) -> Line:
    """Return the least-squares line through the points.

    Raises:
        UsageError: Fewer than two masses, or the scale showed the same with all of them.
    """
    if len({point.kg for point in points}) < 2:  # noqa: PLR2004 - a line has two unknowns
        raise UsageError("two different masses are needed", hint="the bare stand counts as one: --point 0=...")
    kg = np.array([point.kg for point in points])
    shown = np.array([point.shown for point in points])
    middle = float(shown.mean())
    spread = float(((shown - middle) ** 2).sum())
    if spread <= (1e-9 * max(1.0, abs(middle))) ** 2:
        hint = "look at the wiring, and that the stand is free; is it the number of this scale?"
        raise UsageError("the scale shows the same with every mass", hint=hint)
    scale = float(((shown - middle) * (kg - kg.mean())).sum()) / spread
    if scale == 0:
        raise UsageError("what the scale shows has nothing to do with the masses", hint="look for swapped numbers")
    offset = float(kg.mean()) - scale * middle
    free = len(points) - 2
    if not free:
        return Line(scale, offset, None, None, None, len(points), middle, spread)
    noise = math.sqrt(float(((kg - shown * scale - offset) ** 2).sum()) / free)
    scale_error = noise / math.sqrt(spread)
    offset_error = noise * math.sqrt(1 / len(points) + middle**2 / spread)
    return Line(scale, offset, noise, scale_error, offset_error, len(points), middle, spread)


def misses(line: Line, points: Sequence[Point]) -> list[float]:
    """Return for each point what the scale then shows too much, kg."""
    return [line.kilograms(point.shown) - point.kg for point in points]


def judge(line: Line, points: Sequence[Point], checks: Sequence[Point], capacity: float | None) -> list[str]:
    """Say in sentences what is not as it should be, what it may come from and what to do; empty when all is well.

    Args:
        line: From `points`.
        points: What it was made from.
        checks: Masses that had no part in it.
        capacity: The load cells' capacity, kg; None: not known.
    """
    found = [said for said in (_odd_one(points), _bent(line, points), _leaning(line, checks)) if said]
    for check, miss in zip(checks, misses(line, checks), strict=True):
        least = MISS_KG if check.kg else max(0.02, _interval(capacity) / 2)
        if abs(miss) > least and not found:
            found.append(_missed(check, miss, least))
    largest = max(point.kg for point in (*points, *checks))
    if largest * FAR < HIVE_KG:
        found.append(f"The largest mass is {largest:g} kg; a hive weighs far more. Take one of 20 kg or above.")
    if line.noise is None and not checks:
        found.append(
            "Two numbers always lie on a line: only a third mass shows how good it is. Weigh one: --check KG=NUMBER."
        )
    return found


def _interval(capacity: float | None) -> float:
    """Return the interval of a C3 cell, kg; that of 200 kg where the capacity is not known."""
    return (capacity or 200.0) / _PARTS_IN_THE_LOAD_CELL


def _missed(check: Point, miss: float, least: float) -> str:
    if check.kg:
        return (
            f"The check of {check.kg:g} kg misses by {miss:+.3f} kg (more than {least:g}): a wrong mass, side load, or "
            "a stand that touches something. Weigh the mass elsewhere, look under the stand, then repeat."
        )
    return (
        f"Empty, it comes back to {miss:+.3f} kg (more than {least:.3f}): the stand sticks, touches something, or the "
        "cells had not settled. Load and unload it once, wait five minutes, repeat."
    )


def _odd_one(points: Sequence[Point]) -> str:
    """Find the one mass without which the others lie on a line."""
    whole = fit(points)
    if whole.noise is None or whole.noise * 2 < MISS_KG:
        return ""
    for kg in sorted({point.kg for point in points}):
        others = [point for point in points if point.kg != kg]
        if len({point.kg for point in others}) < 3:  # noqa: PLR2004 - two masses always lie on a line
            continue
        line = fit(others)
        own = float(np.mean([line.kilograms(point.shown) for point in points if point.kg == kg]))
        if line.noise is not None and line.noise * CLEARER < abs(own - kg) and abs(own - kg) > MISS_KG:
            return (
                f"The mass of {kg:g} kg does not fit the others, which lie on a line: by them it is {own:.2f} kg. "
                "Weigh it elsewhere, look whether something leaned on the stand, and leave it out or correct it."
            )
    return ""


def _bent(line: Line, points: Sequence[Point]) -> str:
    """Find a curve: both ends on one side of the line and the middle on the other."""
    by_mass: dict[float, list[float]] = {}
    for point, miss in zip(points, misses(line, points), strict=True):
        by_mass.setdefault(point.kg, []).append(miss)
    means = [float(np.mean(by_mass[kg])) for kg in sorted(by_mass)]
    if len(means) < 3 or _odd_one(points):  # noqa: PLR2004 - two ends and a middle
        return ""
    ends, middle = (means[0], means[-1]), means[1:-1]
    bend = abs(float(np.mean(middle)) - float(np.mean(ends)))
    opposed = min(ends) * max(ends) > 0 and all(miss * ends[0] < 0 for miss in middle)
    if not opposed or bend < MISS_KG:
        return ""
    return (
        f"The masses lie on a curve, {bend:.2f} kg deep: side load, a stand that touches something under load, or a "
        "cell past its capacity (one wrong mass among three looks the same). Look under the stand; add a fourth mass."
    )


def _leaning(line: Line, checks: Sequence[Point]) -> str:
    """Find checks that all show too little in one proportion: of gravity a scale feels the cosine of its lean."""
    heavy = [(check.kg, miss) for check, miss in zip(checks, misses(line, checks), strict=True) if check.kg]
    shares = [miss / kg for kg, miss in heavy]
    if len(shares) < 2 or max(shares) > -PROPORTION or max(shares) - min(shares) > PROPORTION:  # noqa: PLR2004
        return ""
    share = float(np.mean(shares))
    degrees = math.degrees(math.acos(max(-1.0, min(1.0, 1 + share))))
    return (
        f"All checks show {-share:.1%} too little: in proportion, so the slope has changed. A scale that leans by "
        f"{degrees:.0f} degrees more than before would do that, and so would a wrong first mass. Level it and repeat."
    )

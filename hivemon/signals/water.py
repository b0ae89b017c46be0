"""Water on the hives: rain, dew and snow weigh on lid and wood, and dry off again. Daily gains without it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

WET_KG = 0.25
"""Water expected on a hive when a day ends wet, and its standard deviation: a film and soaked wood hold 0.1 to 1 kg
(geometry; Wood Handbook ch. 4)."""

DRY_KG = 0.015
"""Standard deviation of what a dry hive's wood takes up and gives off from one dawn to the next. Our rule."""

UNTOLD_KG = 0.1
"""Standard deviation of the water on a hive where no gauge tells of rain: most days dry, some wet. Our rule."""

STEADY_KG = 0.12
"""Standard deviation of the difference between one day's true gain and the next. Our rule."""

LEAPS = 0.5
"""Part of a leap, in its square, that is granted beyond that: a flow's days differ more than a dearth's. Our rule."""

MOST_KG = 1.0
"""Most water on a hive: a film and soaked wood hold 0.1 to 1 kg (geometry; Wood Handbook ch. 4). It counts twice in a
leap, in one day's net gain and against it in the next one's: what a leap is beyond that is granted at once."""

ROUNDS = 3
"""How often leaps are granted and the water reckoned anew; it has settled by then."""


def without_water(
    nets: Sequence[float], wet: Sequence[bool], *, began_wet: bool = False, gauged: Sequence[bool] | None = None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the gains that remain of successive days' net gains when the water is taken off, and their doubt.

    A net gain is the true gain, and the water at the day's end, less the water at its beginning. The most likely water
    is the one that keeps to what a wet or dry evening usually leaves and makes the gains change least from day to day:
    least squares, solved exactly, and again with each leap of the gains granted in part, so that a flow's first and
    last days are not smoothed away (iteratively reweighted least squares; Holland & Welsch 1977).

    Args:
        nets: Net gains of days that follow each other, kg; shape (n,).
        wet: Whether each of these days ended wet; shape (n,).
        began_wet: Whether the day before the first ended wet.
        gauged: Whether a rain gauge told what fell on each day; shape (n,). All, if not given.

    Returns:
        True gains and the standard deviation that the unknown water leaves in each, kg; shapes (n,).
    """
    n = len(nets)
    measured = np.asarray(nets, float)
    wet_evening = np.array([began_wet, *wet], bool)
    told = np.ones(n, bool) if gauged is None else np.asarray(gauged, bool)
    dry = np.where(np.concatenate((told[:1], told)), DRY_KG, UNTOLD_KG)
    held = np.diag(1 / np.where(wet_evening, WET_KG, dry) ** 2)
    usual = np.where(wet_evening, WET_KG, 0.0)
    taken = np.eye(n, n + 1) - np.eye(n, n + 1, k=1)  # gains = measured + taken @ water
    leaps = np.maximum(np.abs(np.diff(measured)) - 2 * MOST_KG, 0.0)
    for _ in range(ROUNDS):
        steady = np.sqrt(STEADY_KG**2 + LEAPS * leaps**2)
        apart = np.diff(taken, axis=0) / steady[:, None]
        precision = apart.T @ apart + held
        water = np.linalg.solve(precision, held @ usual - apart.T @ (np.diff(measured) / steady))
        gains = measured + taken @ water
        leaps = np.diff(gains)
    doubt = np.sqrt(((taken @ np.linalg.inv(precision)) * taken).sum(axis=1))
    return gains, doubt

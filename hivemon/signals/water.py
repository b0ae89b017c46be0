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

STEADY_KG = 0.12
"""Standard deviation of the difference between one day's true gain and the next. Our rule."""


def without_water(
    nets: Sequence[float], wet: Sequence[bool], *, began_wet: bool = False
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the gains that remain of successive days' net gains when the water is taken off, and their doubt.

    A net gain is the true gain, and the water at the day's end, less the water at its beginning. The most likely water
    is the one that keeps to what a wet or dry evening usually leaves and makes the gains change least from day to day:
    least squares, solved exactly.

    Args:
        nets: Net gains of days that follow each other, kg; shape (n,).
        wet: Whether each of these days ended wet; shape (n,).
        began_wet: Whether the day before the first ended wet.

    Returns:
        True gains and the standard deviation that the unknown water leaves in each, kg; shapes (n,).
    """
    n = len(nets)
    measured = np.asarray(nets, float)
    wet_evening = np.array([began_wet, *wet], bool)
    taken = np.eye(n, n + 1) - np.eye(n, n + 1, k=1)  # gains = measured + taken @ water
    apart = np.diff(taken, axis=0) / STEADY_KG
    held = np.diag(1 / np.where(wet_evening, WET_KG, DRY_KG) ** 2)
    usual = np.where(wet_evening, WET_KG, 0.0)
    precision = apart.T @ apart + held
    water = np.linalg.solve(precision, held @ usual - apart.T @ (np.diff(measured) / STEADY_KG))
    doubt = np.sqrt(((taken @ np.linalg.inv(precision)) * taken).sum(axis=1))
    return measured + taken @ water, doubt

"""Water on the hives: rain, dew and snow weigh on lid and wood, and dry off again. Daily gains without it.

How much lies there at a day's end is reckoned from what fell and when, and then from what the gains of the days around
say: what comes and goes within two days is water.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

KG_PER_MM = 0.25
"""What a millimetre of rain weighs on a lid of 0.25 m2, kg (geometry)."""

FILM_KG = 0.32
"""Most that stays, kg: the rest runs off. Film and soaked wood hold 0.1 to 1 kg (geometry; Wood Handbook ch. 4), of
which this is the middle by ratio."""

DRIES_KG_PER_KPA = 0.04
"""What dries off such a lid in an hour for each kPa that the air lacks to saturation: 0.26 mm a day for each hPa, half
as much again in a light wind (Penman 1948, Proc. R. Soc. A 193:120-145, from memory)."""

DRIES_IN_LIGHT_KG = 0.02
"""What daylight dries off in an hour without rain beside that: a millimetre a day, a third of what leaves open water on
a summer's day in a temperate climate (Penman 1948, from memory). The share is our rule."""

USUAL_LACK_KPA = (0.35, 0.75)
"""What the air lacks where nothing tells: at night or in rain, and in daylight; as on a summer's day of 20 °C. Our
rule."""

DOUBTFUL_PART = 0.5
"""Standard deviation of the water on a hive, as part of what is reckoned: a lid holds a third to three times as much as
another. Our rule."""

DAMP_KG = 0.05
"""Water that is worth a word, kg: a film over a fifth of a lid. Our rule."""

DRY_KG = 0.015
"""Standard deviation of what a dry hive's wood takes up and gives off from one dawn to the next. Our rule."""

UNTOLD_KG = 0.1
"""Standard deviation of the water on a hive where no gauge tells of rain: most days dry, some wet. Our rule."""

STEADY_KG = 0.16
"""Standard deviation of the difference between one day's true gain and the next. Our rule."""

LEAPS = 0.5
"""Part of a leap, in its square, that is granted beyond that: a flow's days differ more than a dearth's. Our rule."""

MOST_KG = 1.0
"""Most water on a hive: a film and soaked wood hold 0.1 to 1 kg (geometry; Wood Handbook ch. 4). It counts twice in a
leap, in one day's net gain and against it in the next one's: what a leap is beyond that is granted at once."""

ROUNDS = 3
"""How often leaps are granted and the water reckoned anew; it has settled by then."""


def lack_of_vapour(celsius: NDArray[np.float64], humidity: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what air lacks to be saturated, kPa, at temperatures in °C and relative humidities in %; shape (n,).

    Saturation by Tetens as in Allen et al. (1998), FAO Irrigation and Drainage Paper 56, equation 11. NaN where either
    is.
    """
    saturated = 0.6108 * np.exp(17.27 * celsius / (celsius + 237.3))
    return saturated * (1 - np.clip(humidity, 0.0, 100.0) / 100)


def left_of_rain(
    millimetres: Sequence[float] | NDArray[np.float64],
    light: Sequence[bool] | NDArray[np.bool_],
    lack: Sequence[float] | NDArray[np.float64],
    held: float = 0.0,
) -> float:
    """Return the water left on a hive, kg, after hours of rain and drying.

    Args:
        millimetres: Rain of each hour; shape (n,).
        light: Whether each hour was daylight; shape (n,).
        lack: What the air of each hour lacks to be saturated, kPa; NaN where nothing tells; shape (n,).
        held: Water that lay there before, kg.
    """
    for fallen, by_day, kpa in zip(millimetres, light, lack, strict=True):
        bright = bool(by_day) and not fallen
        air = USUAL_LACK_KPA[bright] if math.isnan(kpa) else float(kpa)
        dries = DRIES_KG_PER_KPA * air + DRIES_IN_LIGHT_KG * bright
        held = max(0.0, min(held + KG_PER_MM * float(fallen), FILM_KG) - dries)
    return held


def without_water(
    nets: Sequence[float], held: Sequence[float], *, before: float = 0.0, gauged: Sequence[bool] | None = None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the gains that remain of successive days' net gains when the water is taken off, and their doubt.

    A net gain is the true gain, and the water at the day's end, less the water at its beginning. The most likely water
    is the one that keeps to what is reckoned of every evening and makes the gains change least from day to day: least
    squares, solved exactly, and again with each leap of the gains granted in part, so that a flow's first and last days
    are not smoothed away (iteratively reweighted least squares; Holland & Welsch 1977).

    Args:
        nets: Net gains of days that follow each other, kg; shape (n,).
        held: Water reckoned on a hive at the end of each of these days, kg; shape (n,).
        before: Water reckoned at the end of the day before the first, kg.
        gauged: Whether a rain gauge told what fell on each day; shape (n,). All, if not given.

    Returns:
        True gains and the standard deviation that the unknown water leaves in each, kg; shapes (n,).
    """
    n = len(nets)
    measured = np.asarray(nets, float)
    reckoned = np.array([before, *held], float)
    told = np.ones(n, bool) if gauged is None else np.asarray(gauged, bool)
    unseen = np.where(np.concatenate((told[:1], told)), DRY_KG, UNTOLD_KG)
    sureness = np.diag(1 / (unseen**2 + (DOUBTFUL_PART * reckoned) ** 2))
    taken = np.eye(n, n + 1) - np.eye(n, n + 1, k=1)  # gains = measured + taken @ water
    leaps = np.maximum(np.abs(np.diff(measured)) - 2 * MOST_KG, 0.0)
    for _ in range(ROUNDS):
        steady = np.sqrt(STEADY_KG**2 + LEAPS * leaps**2)
        apart = np.diff(taken, axis=0) / steady[:, None]
        precision = apart.T @ apart + sureness
        water = np.linalg.solve(precision, sureness @ reckoned - apart.T @ (np.diff(measured) / steady))
        gains = measured + taken @ water
        leaps = np.diff(gains)
    doubt = np.sqrt(((taken @ np.linalg.inv(precision)) * taken).sum(axis=1))
    return gains, doubt

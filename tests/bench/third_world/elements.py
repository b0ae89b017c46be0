"""Rain, soaked wood, dew, snow and frost on a hive, kg."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .sky import Array, Grid, Weather, lag

if TYPE_CHECKING:
    from .places import Family

MOST_SNOW_MM = 16.0
"""More slides or is blown off (16 cm of fresh snow; this package's guess)."""
LID_M2 = 0.24
"""Area of a lid; 1 mm of rain on it is 0.24 kg where it is held (arithmetic; the area is a guess)."""


def wetness(family: Family, hives: int, g: Grid, w: Weather, rng: np.random.Generator) -> Array:
    """Return kg of water, dew and snow on and in each hive, of shape (hives, steps)."""
    film, soak, snow = _stores(g, w)
    share = rng.uniform(0.6, 1.3, (hives, 1))
    wood = rng.uniform(*family.wood, (hives, 1))
    lid = rng.uniform(0.08, 0.4, (hives, 1))
    damp = lag((w.humidity - 60) / 100, 2200 / g.dt) * 0.35 * wood
    return np.asarray(film * lid * share + soak * wood * share + snow * LID_M2 * share + damp)


def _stores(g: Grid, w: Weather) -> tuple[Array, Array, Array]:
    """Return film (0 to 1 of what a lid holds), soaking (0 to 1) and snow (mm of water)."""
    film, soak, snow = np.zeros(g.n), np.zeros(g.n), np.zeros(g.n)
    dry = (0.25 + w.sun / 180 + w.wind / 8) * np.clip(1 - w.humidity / 102, 0.01, 1) * g.dt / 60
    dew = np.where((w.sun < 5) & (w.humidity > 88), (1 - w.cloud) * 0.035 * g.dt / 60, 0.0)
    hour = g.dt / 60
    f = s = k = 0.0
    for i, (rain, air, off, wet) in enumerate(zip(*(x.tolist() for x in (w.rain, w.air, dry, dew)), strict=True)):
        if air < 0.3:
            k = min(k + rain, MOST_SNOW_MM) * (1 - 0.004 * hour)
        else:
            f = min(1.0, f + rain * 0.7)
            s += (1 - s) * min(rain * 0.06, 1.0)
            melt = min(k, max(air - 0.3, 0) * 0.25 * hour + rain * 0.2)
            k -= melt
            f = min(1.0, f + melt)
        f = min(max(f * (1 - 0.9 * off) - 0.05 * off, 0.0) + wet, 1.0)
        s *= 1 - 0.07 * off
        film[i], soak[i], snow[i] = f, s, k
    return film, soak, snow

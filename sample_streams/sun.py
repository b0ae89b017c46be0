"""Height of the sun, for weather, flight and hive days.

Declination and equation of time: Fourier series of Spencer 1971 ("Fourier series representation of the
position of the sun", Search 2:172), coefficients from memory; tests check the result against an independent
library.
"""

from __future__ import annotations

import numpy as np

from .grid import DAY, Floats, Grid, Ints

DAWN_ELEVATION = -6.0  # degrees; civil dawn, the edge of the hive day


def elevation(t: Ints, latitude: float, longitude: float) -> Floats:
    """Elevation of the sun's centre in degrees at times `t` (seconds UTC), without refraction."""
    days = (
        (t.astype("datetime64[s]") - t.astype("datetime64[s]").astype("datetime64[Y]")) / np.timedelta64(1, "s") / DAY
    )
    g = 2 * np.pi * days / 365.0
    declination = (
        0.006918
        - 0.399912 * np.cos(g)
        + 0.070257 * np.sin(g)
        - 0.006758 * np.cos(2 * g)
        + 0.000907 * np.sin(2 * g)
        - 0.002697 * np.cos(3 * g)
        + 0.00148 * np.sin(3 * g)
    )
    minutes = 229.18 * (
        0.000075 + 0.001868 * np.cos(g) - 0.032077 * np.sin(g) - 0.014615 * np.cos(2 * g) - 0.040849 * np.sin(2 * g)
    )
    solar = (t % DAY) / 60.0 + minutes + 4.0 * longitude
    angle = np.radians(solar / 4.0 - 180.0)
    phi = np.radians(latitude)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    result: Floats = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    return result


def crossings(grid: Grid, height: Floats, rising: bool, level: float = DAWN_ELEVATION) -> Ints:
    """Seconds UTC at which the sun passes `level` upwards (or downwards), one a day in order.

    Where it does not reach the level on a day, the time of its lowest point (rising or not) stands in for it.
    """
    half = grid.per_day // 2
    times = []
    for i in range(grid.days):
        first = i * grid.per_day + (0 if rising else half)
        part = height[first : first + half + 1] if rising else height[first : first + half + 1][::-1]
        stamps = grid.t[first : first + half + 1] if rising else grid.t[first : first + half + 1][::-1]
        over = int(np.argmax(part > level))
        if part[over] > level and over > 0:
            share = (level - part[over - 1]) / (part[over] - part[over - 1])
            times.append(int(stamps[over - 1] + share * (stamps[over] - stamps[over - 1])))
        else:
            times.append(int(stamps[int(np.argmin(part))]))
    return np.array(times, dtype=np.int64)

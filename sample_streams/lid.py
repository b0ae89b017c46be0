"""Water, snow and moist wood that a scale weighs with the hive, on the grid.

1 mm of rain on a 0.25 m² lid is 0.25 kg if all is held; a lid holds a film of 0.1-1 kg with its soaked wood
(derived). 10 cm of fresh snow (100 kg/m³) on it is 2.5 kg (derived). Wood moisture by air humidity near 20
°C: 30 % RH 6 %, 50 % 9 %, 65 % 12 %, 80 % 16 %, 90 % 20 % (USDA Forest Products Laboratory, Wood Handbook
ch. 4, from memory).
"""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np

from .grid import HOUR, Floats, Grid, lag, ramp
from .weather import Weather, vapour_pressure

if TYPE_CHECKING:
    from .plan import Scale

MOST_SNOW = 20.0  # kg/m²: some 20 cm of settled snow, then it slides or blows off a lid; our choice
EMC_RH = np.array([0.0, 30.0, 50.0, 65.0, 80.0, 90.0, 100.0])
EMC = np.array([0.01, 0.06, 0.09, 0.12, 0.16, 0.20, 0.26])


def drying_power(weather: Weather) -> Floats:
    """Evaporation from a wet lid in mm an hour: vapour deficit and wind (Dalton form), plus sun; constants ours."""
    deficit = vapour_pressure(weather.temperature) * (1 - weather.humidity / 100.0)
    return 0.012 * deficit * (1 + 0.5 * weather.wind) + weather.sun * 0.0007


def film(grid: Grid, weather: Weather, scale: Scale) -> Floats:
    """Kg of rain and dew held by the lid: fills up to its capacity, the rest runs off, drains a little and dries."""
    per_step = grid.step / HOUR
    snowy = weather.temperature < 0.7
    rain = np.where(snowy, 0.0, weather.rain) * scale.lid
    dew = (
        0.035
        * ramp(weather.humidity, 90.0, 98.0)
        * (weather.sun < 10)
        * (1 - ramp(weather.cloud, 0.3, 0.8))
        * scale.lid
    )
    drying = drying_power(weather) * scale.lid * per_step
    change = (rain + dew * per_step - drying * 0.8).tolist()
    most = scale.film * 1.25
    drain = float(np.exp(-per_step / 3.0))

    def step(held: float, add: float) -> float:
        held = min(max(held + add, 0.0), most)
        return scale.film + (held - scale.film) * drain if held > scale.film else held

    return np.fromiter(accumulate(change[1:], step, initial=0.0), np.float64, len(change))


def snow(grid: Grid, weather: Weather, scale: Scale) -> Floats:
    """Kg of snow on the lid: falls below 0.7 °C, melts by warmth and sun."""
    fall = np.where(weather.temperature < 0.7, weather.rain, 0.0) * scale.lid
    if not fall.any():
        return np.zeros(len(fall))
    melt = (np.maximum(weather.temperature, 0.0) * 0.25 + weather.sun * 0.002) * scale.lid * grid.step / HOUR
    change = (fall - melt).tolist()
    most = MOST_SNOW * scale.lid
    return np.fromiter(
        accumulate(change[1:], lambda held, add: min(max(held + add, 0.0), most), initial=0.0), np.float64, len(change)
    )


def wood(grid: Grid, weather: Weather, scale: Scale) -> Floats:
    """Kg of moisture in the woodware relative to the start: a thin outer layer within hours, the rest over weeks."""
    moist = np.interp(weather.humidity, EMC_RH, EMC)
    hour = HOUR / grid.step
    open_ = 1.0 - scale.paint
    outer = 0.06 * open_ * lag(moist, 5 * hour, start=float(moist[: grid.per_day].mean()))
    inner = (0.25 + 0.75 * open_) * 0.9 * lag(moist, 24 * 18 * hour, start=float(moist[: grid.per_day].mean()))
    total: Floats = scale.wood * (outer + inner)
    change: Floats = total - total[0]
    return change

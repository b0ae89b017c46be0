"""Whether bees could fly: warm enough and dry, from the yard's own sensors, or from what its hives did."""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import EMPTY, HOUR, Series
from hivemon.signals.hours import hourly_mean, hourly_sum
from hivemon.signals.water import FILM_KG, lack_of_vapour, left_of_rain

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from hivemon.model import HiveDay
    from hivemon.rules import FlowRule
    from hivemon.signals.sun import SunDay

RAINING_MM_PER_HOUR = 0.3
"""Drizzle below this hardly stops flight. Our rule (Lundie 1925 shows only that each shower cuts it)."""

FULL_FLIGHT_CELSIUS = 6.0
"""Degrees above the start of flight at which all foragers fly; flight grows with temperature in between (Burrill &
Dietz 1981). Our rule."""

NIGHT_GAIN_KG = 0.05
"""Bees gain nothing at night: a median hive that does has dew, rain or snow on it. Our rule."""

ACTIVE_KG = 0.06
"""A median morning dip or a day's gain of this size shows bees out: some 500 foragers at 115 mg. Our rule."""

DIP_KG_AN_HOUR = 0.035
"""Morning dip that stands for an hour of full flight where no thermometer tells: 0.2 kg, some 1,800 foragers at 115 mg,
on a good day of six. More go out in a flow, but fewer where there is little to be found, whatever the weather. Our
rule."""

CLEANSING_CELSIUS = 8.0
"""Bees leave the hive at all from 8 to 10 °C, in the sun (Winston 1987, from memory): what is heavier in more cold has
snow on it."""

THAW_CELSIUS = 3.0
"""Outside temperature up to which snow may fall, lie or slide, by the kilogram. Our rule."""

DRIZZLE_MM = 0.5
"""Rain of a whole day up to this is not what made the hives heavier. Our rule."""

STUCK_POINTS = 1.0
"""An outside humidity that moves less than this from one dawn to the next is a wet or broken sensor's. Our rule."""

EATEN_KG = 0.1
"""What a colony at least eats and breathes out in a day's light, or in a night without nectar to ripen (0.15-0.3 kg a
whole day: Seeley's budget)."""


class Weather(NamedTuple):
    """A hive day's weather.

    `flying` is None where nothing tells. `flying_hours` are hours of full flight, by the outside thermometer or else by
    the bees that went out. `water`: what is reckoned to lie on a hive at the day's end, kg. `soaked`: it rained so much
    in daylight that a loss says nothing of forage.
    """

    flying: bool | None
    water: float
    soaked: bool
    flying_hours: float | None
    rain_mm: float | None


class Outside(NamedTuple):
    """What a yard's own sensors tell of the weather: °C, %RH, and mm since the reading before; empty where none is."""

    temperature: Series = EMPTY
    humidity: Series = EMPTY
    rain: Series = EMPTY


def weather(sun: SunDay, outside: Outside, days: Sequence[HiveDay], rule: FlowRule, *, held: float = 0.0) -> Weather:
    """Judge a hive day's weather from outside temperature and rain, or else from the yard's hive days.

    `held` is the water on a hive when the day began, kg.
    """
    hours = max(1, int((sun.dusk - sun.dawn) // HOUR))
    whole = outside.rain.between(sun.dawn, sun.end)
    total = float(whole.until(sun.dusk).value.sum()) if len(whole.time) else None
    water = max(_gained_at_night(days), 0.0 if total is None else _left_by_rain(sun, outside, held))
    soaked = total is not None and total > rule.rain_day_mm
    warm = hourly_mean(outside.temperature, sun.dawn, hours)
    if np.isnan(warm).all():
        flying, out_hours = _by_the_bees(days)
        return Weather(flying, water, soaked, out_hours, total)
    flying_hours = _fit_for_flight(warm, hourly_sum(outside.rain, sun.dawn, hours), rule)
    dry_and_mild = total is not None and total <= DRIZZLE_MM and np.nanmax(warm) >= CLEANSING_CELSIUS
    if dry_and_mild and _out(days) >= ACTIVE_KG and _gain(days) >= rule.flow_kg_per_day:
        flying_hours = max(flying_hours, rule.flying_hours)  # they went out, and brought a flow's nectar home
    return Weather(flying_hours >= rule.flying_hours, water, soaked, round(flying_hours, 1), total)


def _fit_for_flight(warm: NDArray[np.float64], rain: NDArray[np.float64], rule: FlowRule) -> float:
    """Return how many hours of full flight a day had, from the mean temperature and the rain of each of its hours."""
    raining = rain >= RAINING_MM_PER_HOUR
    dry = ~(raining | np.concatenate(([False], raining[:-1])))  # blossoms drip, and bees wait, for an hour after
    flight = np.clip((warm - rule.flying_celsius) / FULL_FLIGHT_CELSIUS, 0.0, 1.0) * dry
    return float(np.nanmean(flight) * len(warm))


def _by_the_bees(days: Sequence[HiveDay]) -> tuple[bool | None, float | None]:
    """Return whether bees flew, and hours that stand for it, from those that went out; None where no scale tells."""
    if all(day.morning_dip is None for day in days):
        return None, None
    out = _out(days)
    return max(out, _gain(days)) >= ACTIVE_KG, round(out / DIP_KG_AN_HOUR, 1)


def _out(days: Sequence[HiveDay]) -> float:
    """Return the median of what flew out of the hives in the morning and came home, kg; 0 where no scale tells."""
    return _middle(_out_and_home(d) for d in days if d.morning_dip is not None) or 0.0


def _gain(days: Sequence[HiveDay]) -> float:
    """Return the median of what the hives gained by day, kg; 0 where no scale tells."""
    return _middle(d.foraging_gain for d in days if d.foraging_gain is not None) or 0.0


def _out_and_home(day: HiveDay) -> float:
    """Return the part of a morning dip that was home by dusk or eaten, kg: bees come back, water dried off does not."""
    dip = day.morning_dip or 0.0
    return max(0.0, dip + min(0.0, (day.foraging_gain or 0.0) + EATEN_KG))


def _left_by_rain(sun: SunDay, outside: Outside, held: float) -> float:
    """Return the water left on a hive at the day's end by what the gauge told, kg."""
    hours = round((sun.end - sun.dawn) / HOUR)
    light = np.arange(hours) < (sun.dusk - sun.dawn) / HOUR
    damp = hourly_mean(outside.humidity, sun.dawn, hours)
    known = damp[~np.isnan(damp)]
    moved = len(known) > 0 and float(np.ptp(known)) >= STUCK_POINTS
    lack = lack_of_vapour(hourly_mean(outside.temperature, sun.dawn, hours), damp if moved else np.full(hours, np.nan))
    return round(left_of_rain(hourly_sum(outside.rain, sun.dawn, hours), light, lack, held), 3)


def _gained_at_night(days: Sequence[HiveDay]) -> float:
    """Return the water, kg, that a night left on hives, dew or what no gauge told: they gained, though they breathe."""
    night = _middle(d.overnight_change for d in days if d.overnight_change is not None)
    return 0.0 if night is None or night < NIGHT_GAIN_KG else round(min(night + EATEN_KG, 2 * FILM_KG), 3)


def _middle(values: Iterable[float]) -> float | None:
    """Return the median, or None of nothing."""
    known = list(values)
    return statistics.median(known) if known else None

"""The parts of a hive day: overnight change, morning dip, foraging gain, net gain, without handling steps.

Dawn and dusk are read with the bees at home: from an hour before dawn to a quarter past it, and from dusk to an hour
after (Meikle et al. 2018 place the start of activity after dawn).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import HOUR, MINUTE, HiveDay, Millis, Series
from hivemon.signals.clean import (
    LONE,
    MEDIAN_VARIANCE,
    interval,
    median,
    noise,
    running_median,
    spike_kg,
    without_spikes,
)
from hivemon.signals.hours import hourly_mean
from hivemon.signals.water import DRY_KG

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.signals.sun import SunDay

AFTER_DAWN: Millis = 15 * MINUTE
"""The stretch read at dawn ends this long after it: few have left by then. Our rule."""

READ_SPAN: Millis = 75 * MINUTE
"""Length of the stretch whose median is the level at dawn or dusk. Our rule."""

WIDEST_SPAN: Millis = 4 * HOUR
"""How far from dawn or dusk a reading may lie when the stretch itself is empty. Our rule."""

RECKONED_AFTER: Millis = 30 * MINUTE
"""A hive day is reckoned this long after it ended, from readings before that: the level at its end is read by then."""


class Jump(NamedTuple):
    """A step to be taken out: the last reading before it, the first after it, its size in kg."""

    before: Millis
    after: Millis
    size: float


def hive_day(
    yard: str,
    hive: str,
    sun: SunDay,
    weight: Series,
    temperature: Series,
    jumps: Sequence[Jump],
    heat_kg: float = 0.0,
) -> HiveDay:
    """Reckon one hive day from plausible readings; those from hours before its dawn to its reckoning are used.

    `heat_kg`: standard deviation that the scale's temperature leaves in the net gain, kg.

    Returns:
        The day, with None for what the readings do not tell. `net_gain` is end less dawn without the jumps within.
    """
    weight = weight.between(sun.dawn - WIDEST_SPAN, sun.end + RECKONED_AFTER)
    smooth = without_jumps(without_spikes(weight, spike_kg(noise(weight.value))), sun.dawn, jumps)
    dawn, first = _level(smooth, sun.dawn + AFTER_DAWN - READ_SPAN)
    dusk, middle = _level(smooth, sun.dusk)
    end, last = _level(smooth, sun.end + AFTER_DAWN - READ_SPAN)
    handled = sum(j.size for j in jumps if sun.dawn <= j.after < sun.end)
    mean, swing = _nest(temperature.between(sun.dawn, sun.end), sun)
    return HiveDay(
        yard=yard,
        hive=hive,
        date=sun.date.isoformat(),
        start=sun.dawn,
        dusk=sun.dusk,
        end=sun.end,
        dawn_weight=_rounded(dawn),
        dusk_weight=_rounded(_plus(dusk, sum(j.size for j in jumps if sun.dawn <= j.after < sun.dusk))),
        end_weight=_rounded(_plus(end, handled)),
        net_gain=_rounded(_minus(end, dawn)),
        foraging_gain=_rounded(_minus(dusk, dawn)),
        overnight_change=_rounded(_minus(end, dusk)),
        morning_dip=_rounded(_dip(smooth, sun, dawn)),
        handled=round(handled, 3),
        uncertainty=_uncertainty((first, middle, last), smooth.between(sun.dusk, sun.end), heat_kg),
        temperature_mean=_rounded(mean),
        temperature_swing=_rounded(swing),
        coverage=_coverage(weight.between(sun.dawn, sun.end), sun),
    )


def without_jumps(weight: Series, dawn: Millis, jumps: Sequence[Jump]) -> Series:
    """Bring everything to the level that stood at dawn, leaving out readings while a hive was being handled."""
    begun = min(int(weight.time[0]), dawn) if len(weight.time) else dawn
    jumps = [jump for jump in jumps if jump.after > begun]  # those before change nothing
    if not jumps:
        return weight
    shift = np.zeros(len(weight.value))
    keep = np.ones(len(weight.value), bool)
    for jump in jumps:
        later = weight.time >= jump.after
        shift += np.where(later, -jump.size, 0.0) + (jump.size if jump.after <= dawn else 0.0)
        keep &= ~((weight.time > jump.before) & (weight.time < jump.after))
    return Series(weight.time[keep], (weight.value + shift)[keep])


def _level(series: Series, start: Millis) -> tuple[float | None, int]:
    """Return the median of the stretch from `start`, or of the nearest readings, and how many there were."""
    part = series.between(start, start + READ_SPAN)
    if not len(part.value):
        middle = start + READ_SPAN // 2
        near = series.between(middle - WIDEST_SPAN, middle + READ_SPAN)
        if not len(near.value):
            return None, 0
        order = np.argsort(np.abs(near.time - middle), kind="stable")[:3]
        part = Series(near.time[order], near.value[order])
    return median(part.value), len(part.value)


def _dip(smooth: Series, sun: SunDay, dawn: float | None) -> float | None:
    """Return how far the weight falls below dawn's before the sun's noon, by running medians of three, kg (>= 0)."""
    part = smooth.between(sun.dawn, sun.noon + HOUR)
    if dawn is None or len(part.value) < 3:
        return None
    return max(0.0, dawn - float(running_median(part.value, LONE).min()))


def _nest(temperature: Series, sun: SunDay) -> tuple[float | None, float | None]:
    """Return mean and swing (highest less lowest hourly mean) of a day's nest temperature, °C."""
    if len(temperature.value) < 6:
        return None, None
    means = hourly_mean(temperature, sun.dawn, 25)
    means = means[~np.isnan(means)]
    return float(means.mean()), float(means.max() - means.min())


def _uncertainty(read: tuple[int, int, int], night: Series, heat_kg: float) -> float | None:
    """Return the standard deviation of the net gain, kg; None where it was not measured.

    Noise of the scale: two medians, each of few readings with the night's noise. Its temperature. And what the wood
    takes up and gives off at either dawn; rain and dew that lie on a hive are `signals.water`'s.
    """
    first, _, last = read
    if not all(read):
        return None
    sigma = max(noise(night.value), 0.01)
    noisy = MEDIAN_VARIANCE * sigma**2 * (1 / first + 1 / last)
    return round(float(np.sqrt(noisy + heat_kg**2 + 2 * DRY_KG**2)), 4)


def _coverage(weight: Series, sun: SunDay) -> float:
    """Return the share of the day's hours that hold a reading; where they come more rarely, of the readings due."""
    hours = max(1, round((sun.end - sun.dawn) / HOUR))
    spaced = max(1.0, interval(weight.time) / HOUR) if len(weight.time) > 2 else 1.0
    hour = (weight.time - sun.dawn) // HOUR
    filled = int(np.count_nonzero(hour[1:] != hour[:-1])) + bool(len(hour))
    return round(min(1.0, filled * spaced / hours), 3)


def _minus(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a - b


def _plus(a: float | None, b: float) -> float | None:
    return None if a is None else a + b


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)

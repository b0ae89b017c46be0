"""A scale's temperature error, learned per hive from nights without flight, and taken off.

A load cell's zero may move by 2.8 g/°C and stay in its class (200 kg, C3: OIML R 60-1, 5.6.1.3); cheap ones show 10 to
30 g/°C and more, either way. At night nothing but eating and drying changes a hive's weight, and both are steady,
while the air cools fast at first and slowly later. What is left of weight and of temperature when a straight line is
taken off each night tells the error, however much was eaten.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from hivemon.model import HOUR, Millis, Series
from hivemon.signals.clean import level
from hivemon.signals.hours import hourly_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

AFTER_DUSK: Millis = 2 * HOUR
"""By then the last foragers are home and the first haste of drying nectar is over. Our rule."""

LEAST_HOURS = 5
"""Hours of night with both readings that say something about a straight line and what is left of it. Our rule."""

LEAST_NIGHTS = 5
"""Nights before the error is believed. Our rule."""

SURE = 2.5
"""Standard deviations from nothing at which an error is believed. Our rule."""

FADES = 0.98
"""What a night counts beside the next: half after five weeks, so that a mended scale is learned anew. Our rule."""

STILL_KG = 0.25
"""Most that a night's weight may change within an hour: rain, snow and people do more. Our rule."""

REFERENCE_CELSIUS = 15.0
"""Temperature at which a corrected weight is given. Our rule."""

CHEAP_KG_PER_CELSIUS = 0.015
"""Standard deviation of the error among scales of which nothing is known: cheap cells show 10 to 30 g/°C, either way,
good ones 2.8 at most (OIML R 60-1, C3). Our rule."""

LEAST_DOUBT = 0.0005
"""No slope is known better than this, kg per °C: a coarse scale may show one value for nights on end. Our rule."""

DAWNS_APART_CELSIUS = 3.0
"""How far one dawn's temperature usually lies from the next, where no thermometer tells. Our rule."""


class ScaleTemperature(msgspec.Struct, frozen=True):
    """What the nights have told: sums of squares and products of what a straight line leaves of °C and of kg."""

    celsius: float = 0.0
    product: float = 0.0
    kilograms: float = 0.0
    freedom: float = 0.0
    nights: int = 0

    @property
    def slope(self) -> float:
        """Return the best estimate so far, kg per °C; 0 before the first night."""
        return self.product / self.celsius if self.celsius > 0 else 0.0

    @property
    def doubt(self) -> float:
        """Return the standard deviation of the slope, kg per °C."""
        if self.celsius <= 0 or self.freedom <= 1:
            return math.inf
        left = max(self.kilograms - self.slope * self.product, 0.0)
        return max(LEAST_DOUBT, math.sqrt(left / (self.freedom - 1) / self.celsius))

    @property
    def error(self) -> float:
        """Return the error to be taken off, kg per °C; 0 until it is believed."""
        sure = self.nights >= LEAST_NIGHTS and abs(self.slope) >= SURE * self.doubt
        return self.slope if sure else 0.0

    @property
    def left(self) -> float:
        """Return the standard deviation of the error that stays in corrected weights, kg per °C.

        That is the doubt of a believed error; of one not believed yet, what nights and other cheap scales let expect.
        """
        if self.error:
            return self.doubt
        known = (CHEAP_KG_PER_CELSIUS / self.doubt) ** 2  # the nights' word against that of other scales
        likeliest, spread = self.slope * known / (1 + known), CHEAP_KG_PER_CELSIUS / math.sqrt(1 + known)
        return math.hypot(likeliest, spread)


def learn(
    known: ScaleTemperature, dusk: Millis, dawn: Millis, weight: Series, outside: Series, rain: Series
) -> ScaleTemperature:
    """Return what is known after one more night; the same where the night was wet, stirred or not measured."""
    start = dusk + AFTER_DUSK
    hours = (dawn - start) // HOUR
    if hours < LEAST_HOURS or float(rain.between(dusk, dawn).value.sum()) > 0:
        return known
    kilograms, celsius = hourly_mean(weight, start, hours), hourly_mean(outside, start, hours)
    both = ~(np.isnan(kilograms) | np.isnan(celsius))
    if np.count_nonzero(both) < LEAST_HOURS or float(np.abs(np.diff(kilograms[both])).max()) > STILL_KG:
        return known
    hour = np.flatnonzero(both).astype(np.float64)
    warm, heavy = _without_line(hour, celsius[both]), _without_line(hour, kilograms[both])
    return ScaleTemperature(
        celsius=FADES * known.celsius + float(warm @ warm),
        product=FADES * known.product + float(warm @ heavy),
        kilograms=FADES * known.kilograms + float(heavy @ heavy),
        freedom=FADES * known.freedom + len(hour) - 2,
        nights=known.nights + 1,
    )


def at_reference(weight: Series, outside: Series, error: float) -> Series:
    """Return weights as they would be at the reference temperature; unchanged where nothing is known of either."""
    if not error or not len(outside.time) or not len(weight.time):
        return weight
    celsius = np.interp(weight.time, outside.time, outside.value)
    return Series(weight.time, weight.value - error * (celsius - REFERENCE_CELSIUS))


def left_between(known: ScaleTemperature, outside: Series, start: Millis, end: Millis) -> float:
    """Return the standard deviation that a scale's temperature leaves in the difference of two weights, kg.

    `start` and `end` are when these were read; the temperature is that of the hour before each.
    """
    then, now = (level(outside, moment - HOUR, moment) for moment in (start, end))
    apart = DAWNS_APART_CELSIUS if then is None or now is None else abs(now - then)
    return known.left * apart


def _without_line(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what the best straight line through (x, y) leaves of y."""
    run = x - x.mean()
    rest = y - y.mean()
    slope = float(run @ rest) / float(run @ run)
    left: NDArray[np.float64] = rest - run * slope
    return left

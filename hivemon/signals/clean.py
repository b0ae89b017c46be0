"""Cheap scales made usable: values no sensor means, lone spikes, noise, sampling interval. Causal and vectorised."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from hivemon.model import MINUTE, Quantity, Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.model import Millis

POWER_ON_CELSIUS = (85.0, -127.0)
"""What common digital temperature probes report before their first conversion, and when disconnected (datasheets).
Both lie outside what is plausible of a nest."""

PLAUSIBLE: dict[Quantity, tuple[float, float]] = {
    Quantity.WEIGHT: (-5.0, 400.0),
    Quantity.TEMPERATURE: (-40.0, 60.0),
    Quantity.HUMIDITY: (0.0, 105.0),
    Quantity.OUTSIDE_TEMPERATURE: (-60.0, 60.0),
    Quantity.OUTSIDE_HUMIDITY: (0.0, 105.0),
    Quantity.RAIN: (0.0, 200.0),
    Quantity.BATTERY: (0.0, 60.0),
}
"""Lowest and highest value that can be true of a hive or its yard. Our rule; wax melts at 62-65 °C."""

LONE = 3
"""Span of the running median that unmasks one bad reading and spares two in a row."""

PAIRED = 5
"""Span that also unmasks two bad readings in a row, and a visit's coming and going with them."""

SPIKE_KG = 0.3
SPIKE_TIMES_NOISE = 6
"""How far off a reading is a spike at least, and in how many times the scale's noise. Our rule."""

NORMAL_MAD = 1.4826
"""Standard deviation of a normal variable over its median absolute deviation."""

MEDIAN_VARIANCE = math.pi / 2
"""Variance of the median of many normal variables over that of their mean."""


def plausible(quantity: Quantity, series: Series) -> Series:
    """Drop values that cannot be true, power-on values among them."""
    low, high = PLAUSIBLE[quantity]
    value = series.value
    # Nearly always nothing has to go, and two looks tell that.
    if not len(value) or (value.min() >= low and value.max() <= high):
        return series
    keep = (value >= low) & (value <= high)
    return Series(series.time[keep], value[keep])


def spike_kg(sigma: float) -> float:
    """Return how far off a reading is no noise any more, kg, on a scale whose noise is `sigma` kg."""
    return max(SPIKE_KG, SPIKE_TIMES_NOISE * sigma)


def without_spikes(series: Series, least: float, span: int = PAIRED) -> Series:
    """Drop spikes: values further than `least` from the running median of `span` readings, `LONE` or `PAIRED`.

    A step survives, since after it the median follows within half a span; the newest half span is kept as it is,
    because what follows is not known yet.
    """
    n = len(series.time)
    if n < span:
        return series
    middle = running_median(series.value, span)
    keep = np.ones(n, bool)
    inner = slice(span // 2, n - span // 2)
    keep[inner] = np.abs(series.value[inner] - middle) <= least
    return series if keep.all() else Series(series.time[keep], series.value[keep])


def running_median(values: NDArray[np.float64], span: int) -> NDArray[np.float64]:
    """Return the medians of `LONE` or `PAIRED` neighbours, shape (n - span + 1,), without sorting.

    The least and the greatest of four cannot be the median of five: it is that of the two others and the fifth.
    """
    if span == LONE:
        return _of_three(values[:-2], values[1:-1], values[2:])
    one, two, three, four, five = (values[at : len(values) - PAIRED + 1 + at] for at in range(PAIRED))
    lower = np.maximum(np.minimum(one, two), np.minimum(three, four))
    upper = np.minimum(np.maximum(one, two), np.maximum(three, four))
    return _of_three(lower, upper, five)


def _of_three(one: NDArray[np.float64], two: NDArray[np.float64], three: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the medians of three values each."""
    return np.maximum(np.minimum(one, two), np.minimum(np.maximum(one, two), three))


def median(values: NDArray[Any]) -> float:
    """Return the median of at least one value, none of them NaN: by sorting, many times faster than numpy's for few."""
    ordered = values.copy()
    ordered.sort()
    return middle(ordered)


def middle(ordered: NDArray[Any]) -> float:
    """Return the median of at least one value in ascending order."""
    n = len(ordered)
    return float(ordered[(n - 1) // 2] + ordered[n // 2]) / 2


def quantile(values: NDArray[np.float64], part: float) -> float:
    """Return what a part (0 to 1) of at least one value lies below, as numpy interpolates it; for few, much faster."""
    ordered = np.sort(values)
    place = part * (len(ordered) - 1)
    below = int(place)
    low, high = float(ordered[below]), float(ordered[min(below + 1, len(ordered) - 1)])
    share = place - below
    return low + (high - low) * share if share < 0.5 else high - (high - low) * (1 - share)


def noise(values: NDArray[np.float64]) -> float:
    """Return the standard deviation of a scale's noise from the differences of neighbouring readings.

    Their median, which steady change has, is taken off; the median of what is left forgives steps. Shape (n,); 0.0 for
    fewer than three values.
    """
    return noise_of(values[1:] - values[:-1])


def noise_of(differences: NDArray[np.float64]) -> float:
    """Return the same from such differences, not all of which need follow each other; 0.0 for fewer than two."""
    if len(differences) < 2:
        return 0.0
    return NORMAL_MAD * median(np.abs(differences - median(differences))) / math.sqrt(2)


def interval(times: NDArray[np.int64], last: int = 24) -> Millis:
    """Return the usual time between the newest `last` readings; an hour where there are fewer than two."""
    if len(times) < 2:
        return 60 * MINUTE
    newest = times[-last - 1 :]
    return int(median(newest[1:] - newest[:-1]))


def level(series: Series, start: Millis, end: Millis) -> float | None:
    """Return the median value in start <= time < end, or None where there is no reading."""
    part = series.between(start, end)
    return median(part.value) if len(part.value) else None

"""Where a weight changed faster than bees, weather or drying can: the change of level, found by segmentation.

It is looked for only while something that the gate (`moves`) let through is being watched.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.model import HOUR, MINUTE, Millis, Series
from hivemon.signals.clean import LONE, interval, median, middle, noise, noise_of, spike_kg, without_spikes
from hivemon.signals.moves import GATE_LAG, largest_move
from hivemon.signals.segmentation import breakpoints

if TYPE_CHECKING:
    from numpy.typing import NDArray

NOISE_FLOOR_KG = 0.03
"""Error band of a 200 kg class C3 cell in service is about 47 g (OIML R 60), noise about 30 g (Meikle 2005)."""

SHAKEN = (12, 6)
"""Newest readings whose noise shows wind: in twelve a change is few, after six it is past. Our rule."""

PLATEAU: Millis = 9 * MINUTE
"""How long a level must have stood to be where a change began: a swarm's bursts last minutes. Our rule."""

SETTLED_PART = 0.1
"""Part of a change within which readings count as its new level: the last to leave are fewer than that. Our rule."""

SHAKEN_KG = 0.12
"""Noise from which a scale stands in the wind, be it as coarse as 100 g. Our rule."""

TIMES_CALM = 2.0
"""How many times its noise out of it shakes a scale in the wind. Our rule."""

WINDY_KG = 0.15
"""Most noise put down to wind that rises within the hour; what shakes a scale more is a person. Our rule."""

BESIDE: Millis = 45 * MINUTE
"""How much of the weight on either side, at least three readings, shows whether a change is a step at all. Our rule."""

STEEPEST = 1.5
"""Fastest rise or fall that goes on for an hour without hands: 15,000 bees of 0.1 g leaving in one. Our rule."""

STEEPEST_TREND = 0.6
"""Fastest steady change ascribed to foraging, kg an hour: 5 kg on a long day. Our rule."""

RARE: Millis = 20 * MINUTE
"""Interval from which what bees and weather bring between two readings is far more than a scale's noise. Our rule."""

TIMES_USUAL = 2.0
"""How many times the median of its moves a weight goes between two readings and does not jump. Our rule."""

FEWEST = 4
"""Readings below which no levels are looked for. Our rule."""


class Change(NamedTuple):
    """One change of level found in a stretch of weight, from one level over a path to another. Weights kg, spans ms."""

    before: Millis
    """When the last reading at the old level was taken."""
    after: Millis
    """When the first at the new one was."""
    stood: Millis
    """How long the old level had stood."""
    old: float
    new: float
    overshoot: float
    """How far readings on the path left the range of the two levels."""
    reversals: int
    """How often the path turned back."""
    underway: int
    """How many readings lie clearly between the levels."""
    gap: Millis
    """How far readings lie apart on the path at the most."""
    trend: float
    """What of the size is there only because a steady change is held to have gone on meanwhile, signed."""
    largest: float
    """Largest part of the change between one reading and the next, up to two before and two after it, signed."""
    astray: int
    """How many readings strayed from the new level before it had stood long: more than one belong to the path."""
    settled: Millis
    """How long the new level has stood."""
    readings: int
    """At the new level."""
    noise: float
    """The scale's, standard deviation."""
    windy: bool
    """Whether wind shakes the scale."""
    gradual: bool
    """Whether it is no step, but part of a rise or fall that is as steady before and after it."""

    @property
    def size(self) -> float:
        """Signed change of level, kg."""
        return self.new - self.old

    @property
    def lasted(self) -> Millis:
        """Longest time the change can have taken."""
        return self.after - self.before

    @property
    def restless(self) -> bool:
        """Whether the scale stood in the wind, or somebody may not have done yet: a reading strayed far since."""
        return self.windy or self.noise >= SHAKEN_KG or self.astray > 0

    @property
    def overshot(self) -> bool:
        """Whether the weight went clearly beyond both levels in between, as under a person's hands."""
        return self.overshoot > 0.3 + 0.2 * abs(self.size)

    @property
    def abrupt(self) -> bool:
        """Whether no reading caught it underway."""
        return self.underway == 0


def find_change(window: Series, opened: Millis, quiet: float, days: Series, least: float = 0.0) -> Change | None:
    """Find the newest change of level in a stretch of weight that the gate opened at `opened`.

    Args:
        window: Readings from about two and a half hours before `opened` up to now, kg.
        opened: Time of the reading at which the gate let through.
        quiet: The scale's noise in the hours before, kg.
        days: Its readings of the last days, kg: how it stands out of the wind.
        least: Changes below this are not looked for, kg.

    Returns:
        The change from the last plateau before it to the level that stands now, or None when the levels agree, or the
        whole stretch, its trend apart, spans less than `least`.
    """
    quiet = max(quiet, NOISE_FLOOR_KG)
    # Wind shakes the last hour and the last minutes alike; a change of level shows in one of the two only.
    shaken = noise(window.value[-SHAKEN[0] :])
    sigma = quiet if shaken <= quiet else max(quiet, min(shaken, noise(window.value[-SHAKEN[1] :]), WINDY_KG))
    if len(window.time) < FEWEST:
        return None
    slope, path, flat = _levelled(window, opened, spike_kg(sigma))
    if len(flat.time) < FEWEST or path.value.max() - path.value.min() < least:
        return None
    bounds = [0, *_breakpoints(flat.value / sigma)]
    if len(bounds) < 3:
        return None
    levels = _read_levels(flat, bounds, opened, sigma)
    beside = _noise_beside(path, levels)
    windy = beside >= SHAKEN_KG and beside >= TIMES_CALM * min(quiet, noise(days.value))
    astray = _astray(path, levels, sigma)
    overshoot, reversals = _read_path(path, levels, astray, sigma)
    underway, gap = _look_between(path, levels, beside if windy else quiet)
    return Change(
        before=levels.before,
        after=levels.after,
        stood=levels.stood,
        old=levels.old,
        new=levels.new,
        overshoot=overshoot,
        reversals=reversals,
        underway=underway,
        gap=gap,
        trend=-slope * (levels.after - levels.before) / HOUR,
        largest=_largest(path, levels),
        astray=len(astray.time),
        settled=int(flat.time[-1]) - levels.after,
        readings=levels.readings,
        noise=sigma,
        windy=windy,
        gradual=_gradual(flat, levels.before, levels.after),
    )


def _breakpoints(scaled: NDArray[np.float64]) -> list[int]:
    """Segment a series of unit noise into levels; the penalty is the Bayesian information criterion, doubled."""
    return breakpoints(scaled, 4 * math.log(len(scaled)) + 6)


def _trend(window: Series, until: Millis) -> float:
    """Return the steady change before `until`, kg an hour, from the medians of its two halves; 0 for less than an hour.

    What a shower does to a scale in half an hour is no trend that would go on.
    """
    part = window.until(until)
    half = len(part.time) // 2
    if half < 3 or part.time[-1] - part.time[0] < HOUR:
        return 0.0
    rise = median(part.value[half:]) - median(part.value[:half])
    hours = (middle(part.time[half:]) - middle(part.time[:half])) / HOUR
    return float(np.clip(rise / hours, -STEEPEST_TREND, STEEPEST_TREND)) if hours > 0 else 0.0


def _without_trend(series: Series, slope: float, opened: Millis) -> Series:
    """Take a steady change off, kg an hour, so that the weight at `opened` stays."""
    return Series(series.time, series.value - slope * (series.time - opened) / HOUR) if slope else series


def _levelled(window: Series, opened: Millis, far: float) -> tuple[float, Series, Series]:
    """Return the steady change taken off a stretch of weight, kg an hour, the rest, and that without its lone spikes.

    Where readings are rare their own moves are taken off one by one. Spikes lie `far` kg off.
    """
    if interval(window.time) >= RARE:
        path = _jumps_alone(window, opened)
        return 0.0, path, without_spikes(path, far, LONE)
    calm = without_spikes(window, far, LONE)
    slope = _trend(calm, opened - GATE_LAG)
    return slope, _without_trend(window, slope, opened), _without_trend(calm, slope, opened)


def _jumps_alone(series: Series, opened: Millis) -> Series:
    """Take off what bees and weather bring or take between two readings, so that the weight at `opened` stays.

    Readings an hour apart hold a tenth of a day's nectar each: no two of them are of one level. Moves as usual go, far
    larger ones stay nearly as they are: the non-negative garrote (Breiman 1995, from memory). Kept whole above a
    limit, a large move out and two small ones back would add up to a step.
    """
    time, value = series
    moves = np.diff(value)
    usual = np.minimum(STEEPEST_TREND * np.diff(time) / HOUR, TIMES_USUAL * median(np.abs(moves)))
    jumps = moves * np.maximum(1 - (usual / np.maximum(np.abs(moves), 1e-9)) ** 2, 0.0)
    path = np.concatenate(([0.0], np.cumsum(jumps)))
    at = min(int(time.searchsorted(opened)), len(time) - 1)
    return Series(time, path - path[at] + value[at])


class _Levels(NamedTuple):
    """The two levels of a change, as `Change` names them."""

    before: Millis
    after: Millis
    stood: Millis
    old: float
    new: float
    readings: int


def _read_levels(calm: Series, bounds: list[int], opened: Millis, sigma: float) -> _Levels:
    """Read the levels from segments: the last plateau that ended before the gate opened, and the newest segment."""
    time, flat = calm
    start = _old_plateau(time, bounds, opened)
    first, last = bounds[start], bounds[start + 1]
    old, new = median(flat[first:last]), median(flat[bounds[-2] :])
    settled_from = bounds[-2]
    near = _near(sigma, new - old)
    while settled_from > last and abs(flat[settled_from - 1] - new) <= near:
        settled_from -= 1
    before, after = int(time[last - 1]), int(time[settled_from])
    return _Levels(before, after, before - int(time[first]), old, new, len(time) - settled_from)


def _astray(window: Series, levels: _Levels, sigma: float) -> Series:
    """Return the readings that strayed from a new level before it had stood long: one is a spike, more are hands."""
    time, value = window.since(levels.after)
    far = np.abs(value - levels.new) > spike_kg(sigma)
    time, value = time[far], value[far]
    rests = np.diff(time, prepend=levels.after) > max(PLATEAU, 2 * interval(window.time))
    soon = int(np.argmax(rests)) if rests.any() else len(time)
    return Series(time[:soon], value[:soon])


def _read_path(window: Series, levels: _Levels, astray: Series, sigma: float) -> tuple[float, int]:
    """Return how far the path between two levels overshot them, kg, and how often it turned back.

    `window` has its lone spikes: under a person's hands those are none, so the path is read from all readings.
    """
    end = int(astray.time[-1]) + 1 if len(astray.time) > 1 else levels.after
    path = window.between(levels.before + 1, end).value
    low, high = min(levels.old, levels.new), max(levels.old, levels.new)
    overshoot = float(max(0.0, (low - path).max(initial=0.0), (path - high).max(initial=0.0)))
    return overshoot, _reversals(np.concatenate(([levels.old], path, [levels.new])), 4 * sigma)


def _gradual(calm: Series, before: Millis, after: Millis) -> bool:
    """Whether a straight line follows the weight around a change better than two levels do: nectar, foragers, the sun.

    Both have two numbers to fit; where a step lies is given.
    """
    beside = max(BESIDE, 3 * interval(calm.time))
    time, value = calm.between(before - beside, after + beside + 1)
    old, new = value[time <= before], value[time >= after]
    if min(len(old), len(new)) < 2:
        return False
    levels = np.interp(time, (before, after), (old.mean(), new.mean()))
    hours = (time - before) / HOUR
    run = hours - hours.mean()
    slope = float(run @ value / (run @ run))
    off_line, off_levels = value - value.mean() - slope * run, value - levels
    return abs(slope) <= STEEPEST and float(off_line @ off_line) < float(off_levels @ off_levels)


def _noise_beside(window: Series, levels: _Levels) -> float:
    """Return the noise of the newest readings before and after a change, kg: what it moves itself is no wind."""
    off_path = (window.time[1:] <= levels.before) | (window.time[:-1] >= levels.after)
    return noise_of((window.value[1:] - window.value[:-1])[off_path][-SHAKEN[0] :])


def _look_between(window: Series, levels: _Levels, sigma: float) -> tuple[int, Millis]:
    """Return how many readings caught a change underway, and how far they lie apart at the most, ms.

    `sigma`: the scale's noise before, kg, or in the wind beside it; what shakes it during a change is part of that.
    Readings no further off the old level than foragers may take it tell nothing.
    """
    old, new = levels.old, levels.new
    time, value = window.between(levels.before + 1, levels.after)
    left = np.abs(value - old) > 4 * sigma + STEEPEST_TREND * (time - levels.before) / HOUR
    short = np.abs(value - new) > _near(sigma, new - old)
    between = (min(old, new) < value) & (value < max(old, new))
    times = np.concatenate(([levels.before], time, [levels.after]))
    return int(np.count_nonzero(left & short & between)), int((times[1:] - times[:-1]).max())


def _largest(window: Series, levels: _Levels) -> float:
    """Return the largest part of a change that lies between one reading and the next, kg, signed."""
    first, last = np.searchsorted(window.time, (levels.before, levels.after))
    near = slice(max(int(first) - 2, 0), int(last) + 3)
    size = levels.new - levels.old
    return math.copysign(largest_move(Series(window.time[near], window.value[near]), 1, size) or 0.0, size)


def _near(sigma: float, size: float) -> float:
    """Return how far from its new level a weight may lie and have reached it, kg."""
    return min(4 * sigma, max(2 * NOISE_FLOOR_KG, SETTLED_PART * abs(size)))


def _reversals(path: NDArray[np.float64], least: float) -> int:
    """Return how often a path turned back, counting moves of more than `least` kg."""
    moves = path[1:] - path[:-1]
    up = moves[np.abs(moves) > least] > 0
    return int(np.count_nonzero(up[1:] != up[:-1]))


def _old_plateau(time: NDArray[np.int64], bounds: list[int], opened: Millis) -> int:
    """Return the number of the last segment that began before the gate opened and stood long enough to be a level."""
    usual = interval(time)
    best = 0
    for number in range(len(bounds) - 2):
        first, last = bounds[number], bounds[number + 1]
        if time[first] >= opened:
            break
        if time[last - 1] - time[first] >= min(GATE_LAG, max(PLATEAU, 2 * usual * 9 // 10)):
            best = number
    return best

"""What lies on a hive and is not hive: rain, dew, snow, swollen wood, birds, branches, a cat, a web under a strap."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .clock import PER_DAY, PER_HOUR, STEP, Array, Clock, smoothed, wander

if TYPE_CHECKING:
    from .sky import Sky
    from .tracks import Tracks


def wet(clock: Clock, sky: Sky, rng: np.random.Generator) -> Array:
    """Return kg of water, snow and swollen wood on a hive of this yard, slow grid; each hive takes its own share."""
    water, snow = np.zeros(clock.steps), np.zeros(clock.steps)
    holds = rng.uniform(0.12, 0.4)
    drying = (
        np.cumsum((0.15 + 2.2 * sky.light + 0.03 * np.clip(sky.temperature, 0, 30)) * (0.5 + sky.wind / 4)) / PER_HOUR
    )
    for storm in sky.storms:
        stop = min(storm.stop + 3 * PER_DAY, clock.steps)
        span = slice(storm.start, stop)
        fallen = np.cumsum(sky.rain[storm.start : storm.stop])
        fallen = np.concatenate([fallen, np.full(stop - storm.stop, fallen[-1])]) if fallen.size else np.zeros(0)
        if storm.snow:
            thaw = np.cumsum(np.clip(sky.temperature[span] + 3 * sky.light[span], 0, None)) / (14 * PER_HOUR)
            snow[span] += np.clip(fallen * 0.2 - thaw, 0, 8)
            continue
        dried = drying[span] - drying[min(storm.stop, clock.steps - 1)]
        water[span] += holds * (1 - np.exp(-fallen / 4)) * np.exp(-np.clip(dried, 0, None) / 2.5)
    lying: Array = np.minimum(water, 1.4 * holds) + snow + _dew(sky, rng) + _wood(sky, rng)
    return lying


def _dew(sky: Sky, rng: np.random.Generator) -> Array:
    night = (sky.sun < 0) & (sky.cloud < 0.45) & (sky.humidity > 75)
    return rng.uniform(0.005, 0.05) * smoothed(night.astype(float), 3 * PER_HOUR)


def _wood(sky: Sky, rng: np.random.Generator) -> Array:
    """Return kg of water in bare wood: taken up in rain and damp air, given off over days."""
    damp = smoothed(sky.humidity / 100, 30 * PER_HOUR) - 0.6
    return rng.uniform(0.05, 0.3) * damp + rng.uniform(0.02, 0.12) * smoothed(np.minimum(sky.rain, 0.6), 40 * PER_HOUR)


def visitors(track: Tracks, sky: Sky, often: float, rng: np.random.Generator) -> None:
    """Put birds and (at `often` a hive-day) heavier things on the lid of a hive; branches come and go with the wind."""
    clock = track.clock
    for _ in range(rng.poisson(0.4 * clock.days)):
        at, length = int(rng.integers(clock.minutes)), int(rng.integers(1, 12))
        if _uproar(track, at):
            continue
        track.mass[at : at + length] += rng.uniform(0.01, 0.9) * (clock.hours[at // STEP] % 21 > 5)
    windy = np.flatnonzero(sky.wind > max(6.0, float(np.percentile(sky.wind, 98.5))))
    for _ in range(rng.poisson(often * clock.days)):
        if windy.size < 5 or rng.random() < 0.4:  # a cat in the sun
            at = int(rng.integers(clock.days)) * 1440 + int(rng.uniform(8, 18) * 60)
            length = int(rng.integers(15, 150))
            if not _uproar(track, at):
                track.mass[at : at + length] += rng.uniform(2.5, 5)
            continue
        at = int(rng.choice(windy)) * STEP
        later = windy[windy * STEP > at + 60]
        gone = int(rng.choice(later)) * STEP if later.size else clock.minutes
        track.mass[at:gone] += rng.gamma(1.5, 0.5)


def _uproar(track: Tracks, minute: int) -> bool:
    """Tell whether a swarm is in the air around a minute: nobody sits down on such a hive."""
    return any(e["kind"] == "swarm" and -180 < minute - e["onset"] < 120 for e in track.events)


def strap(clock: Clock, rng: np.random.Generator) -> Array:
    """Return kg by which grass or a web holds a hive up, in hours and days, slow grid; mostly nothing."""
    if rng.random() < 0.7:
        return np.zeros(clock.steps)
    return 0.05 * np.clip(wander(rng, clock.steps, 2 * PER_DAY) - 1.0, 0, None)

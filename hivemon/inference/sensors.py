"""Is a sensor lying? Asked once a day: silent, stuck, impossible, power-on values, two devices, an empty battery."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

from hivemon.model import DAY, HOUR, TELLING, Kind, Millis, Quantity, Series, Stream
from hivemon.signals.clean import POWER_ON_CELSIUS, median, noise, plausible
from hivemon.signals.sun import sun_day
from hivemon.signals.twins import LOOK_BACK, two_levels
from hivemon.signals.weather import THAW_CELSIUS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from numpy.typing import NDArray

    from hivemon.inference.look import Look

POWER_ON_COUNT = 3
"""One power-on value is a hiccup; three in a day are loose wiring. Our rule."""

DROP_OUTS = 2
"""Falls of a day to what is no hive, with the hive back in between: a loose wire. Our rule."""

IMPOSSIBLE_PART = 0.05
"""Part of a day's readings that cannot be true before the sensor is called faulty. Our rule."""

NOISY_KG = 0.5
"""Noise of a scale above this hides everything but a visit. Our rule; a good cell has 0.03 kg (Meikle 2005)."""

WANDERS_KG = (1.0, 1.8)
"""How far up and down again no hive goes without hands, in a night and from one dawn to the next, besides three times
its noise and what its neighbours do. At night bees eat a tenth of a kilogram, dew and a shower lay on less than this;
by day foragers out and home again, a cheap scale in the sun and a shower together come near two. Our rule."""

STILL_WANDERS_KG = (0.5, 1.5)
"""The same of a scale that is known to: water in a plug comes and goes for days. Our rule."""

CALM_DAYS = 2
"""Days in a row on which a scale known to wander must stand still to be believed again. Our rule."""

WANDER_SLOT: Millis = HOUR // 2
"""Span of the medians by which a night's wander is followed. Our rule."""

HANDS_KG = 1.0
"""A move from one such median to the next from which hands, a swarm or snow that slides are left out. Our rule."""

COARSE_STEP: dict[Quantity, float] = {Quantity.WEIGHT: 0.05, Quantity.TEMPERATURE: 0.15}
"""Resolution up to which a value that never moves in a day is suspicious: coarser ones rest for days. Our rule."""

SILENT = "-silent"
"""How the name of a fault ends whose sensor says nothing."""

WANDERS = "weight-wanders"
"""The fault of a scale that goes up and down by itself."""


NO_HIVE = "weight-no-hive"
"""The fault of a scale under no hive, or never set."""


class Fault(msgspec.Struct, frozen=True):
    """A fault that stands: its name, its event, the quantity it spoils."""

    name: str
    event: str
    quantity: Quantity


class SensorMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive: the faults that stand."""

    faults: tuple[Fault, ...] = ()

    @property
    def spoils_weight(self) -> bool:
        """Whether the hive's weight is not to be trusted now."""
        return any(f.quantity is Quantity.WEIGHT for f in self.faults)

    @property
    def wanders(self) -> bool:
        """Whether the hive's scale goes up and down by itself now."""
        return any(f.name == WANDERS for f in self.faults)


def judge_day(look: Look, memory: SensorMemory, until: Millis) -> SensorMemory:
    """Look at the day before `until`; tell new faults once, drop those that are over."""
    standing = {f.name for f in memory.faults}
    found = {name: (quantity, onset) for name, quantity, onset in _faults(look, until, standing)}
    kept = [f for f in memory.faults if f.name in found]
    for over in (f for f in memory.faults if f.name not in found):
        event = look.event(over.event)
        if event is not None:
            look.amend(over.event, evidence={**event.evidence, "until_ms": float(until)})
    known = {f.name for f in kept}
    new = {name: fault for name, fault in found.items() if name not in known}
    if not new:
        return SensorMemory(tuple(kept))
    usable = _usable(look, {quantity for name, (quantity, _) in found.items() if name.endswith(SILENT)}, until)
    told = (
        Fault(name, _tell(look, name, quantity, onset, usable), quantity) for name, (quantity, onset) in new.items()
    )
    return SensorMemory((*kept, *told))


def _usable(look: Look, silent: Collection[Quantity], until: Millis) -> str:
    """Return what of a hive can still be used, in words: all of it is silent where its node has died."""
    had = {quantity for quantity in TELLING if len(look.raw(quantity, look.hive).until(until).time)}
    return "the other sensors" if had - set(silent) else "nothing from this hive"


def _faults(look: Look, until: Millis, standing: Collection[str]) -> Iterator[tuple[str, Quantity, Millis]]:
    """Yield each fault as (name, quantity, since when)."""
    for quantity in TELLING:
        raw = look.raw(quantity, look.hive).until(until)
        if not len(raw.time):
            continue
        silent_since = _silent(look, quantity, raw, until)
        if silent_since is not None:
            yield f"{quantity.value}{SILENT}", quantity, silent_since
            continue
        yield from _day_faults(quantity, raw.since(until - DAY), look.rules.steps.off_scale_kg)
        if quantity is Quantity.WEIGHT:
            yield from _of_no_hive(look, until, known=WANDERS in standing)
        stuck = f"{quantity.value}-stuck"
        stuck_since = _stuck(look, quantity, raw, until, known=stuck in standing)
        if stuck_since is not None:
            yield stuck, quantity, stuck_since
    battery = look.raw(Quantity.BATTERY, look.hive).until(until).since(until - DAY)
    if len(battery.value) and median(battery.value) < look.rules.sensors.low_battery_volts:
        yield "battery-low", Quantity.BATTERY, int(battery.time[0])


def _day_faults(quantity: Quantity, day: Series, off_scale: float) -> Iterator[tuple[str, Quantity, Millis]]:
    if not len(day.value):
        return
    good = plausible(quantity, day)
    power_on = day.time[:0]
    if quantity is Quantity.TEMPERATURE and good is not day:  # power-on values are none that can be true
        power_on = day.time[np.isin(day.value, POWER_ON_CELSIUS)]
    if len(power_on) >= POWER_ON_COUNT:
        yield "temperature-power-on-value", quantity, int(power_on[0])
    bad = len(day.value) - len(power_on) - len(good.value)
    if bad >= 2 and bad > IMPOSSIBLE_PART * len(day.value):
        yield f"{quantity.value}-impossible", quantity, int(day.time[~np.isin(day.time, good.time)][0])
    if quantity is Quantity.WEIGHT:
        yield from _restless(good, off_scale)


def _restless(weight: Series, off_scale: float) -> Iterator[tuple[str, Quantity, Millis]]:
    """Judge a scale that does not stand still: it comes loose, two speak for it, or it cannot be read for noise."""
    if falls(weight.value, off_scale) >= DROP_OUTS:
        yield "weight-drops-out", Quantity.WEIGHT, int(weight.time[np.argmax(weight.value < off_scale)])
    if not len(weight.time):
        return
    lately = weight.since(int(weight.time[-1]) - LOOK_BACK)
    if two_levels(lately.value):
        yield "weight-two-devices", Quantity.WEIGHT, int(lately.time[0])
    elif noise(weight.value) > NOISY_KG:
        yield "weight-noisy", Quantity.WEIGHT, int(weight.time[0])


def _of_no_hive(look: Look, until: Millis, *, known: bool) -> Iterator[tuple[str, Quantity, Millis]]:
    """Judge whether a scale shows what no hive does: it goes up and down by itself, or has never carried one.

    `known`: it went up and down before.
    """
    wanders_since = _wanders(look, until, known=known)
    if wanders_since is not None:
        yield WANDERS, Quantity.WEIGHT, wanders_since
    day = look.other(Quantity.WEIGHT, look.hive).between(until - DAY, until)
    off_scale = look.rules.steps.off_scale_kg
    if not len(day.value) or median(day.value) >= off_scale:
        return
    weights = [d.end_weight for d in look.days.get(look.hive or "", ()) if d.end_weight is not None]
    if max(weights, default=0.0) < off_scale:  # one that was there has left its scale, which is told at once
        yield NO_HIVE, Quantity.WEIGHT, int(day.time[0])


def _wanders(look: Look, until: Millis, *, known: bool) -> Millis | None:
    """Return since when a scale went up and down by itself on the day before `until`, or None.

    One `known` to do so does until it has stood still for some days.
    """
    if not known:
        return _wandered(look, until, WANDERS_KG)
    lately = (_wandered(look, until - back * DAY, STILL_WANDERS_KG) for back in range(CALM_DAYS))
    return next((since for since in lately if since is not None), None)


def _wandered(look: Look, until: Millis, limits: tuple[float, float]) -> Millis | None:
    """Return since when a scale went up and down by kilograms alone, on the day before `until`, or None.

    Water in a plug or a cable does that. `limits`: how far no hive goes in a night and from dawn to dawn, kg.
    """
    sun = sun_day(look.yard, until - DAY // 2)
    spans = (sun.dusk + HOUR, sun.end), (sun.dawn, sun.end)
    far = [_goes(look, look.hive, span) - most for span, most in zip(spans, limits, strict=True)]
    if max(far) < 0:
        return None
    outside = look.other(Quantity.OUTSIDE_TEMPERATURE, None).between(sun.dawn, sun.end).value
    if len(outside) and outside.min() <= THAW_CELSIUS:
        return None
    span = spans[int(np.argmax(far))]
    others = [_goes(look, hive, span) for hive in look.neighbours()]
    return sun.dawn if max(far) >= (median(np.array(others)) if others else 0.0) else None


def _goes(look: Look, hive: str | None, span: tuple[Millis, Millis]) -> float:
    """Return how far a hive's weight goes up and down again in a span, beyond its noise, kg."""
    weight = look.other(Quantity.WEIGHT, hive).between(*span)
    if not len(weight.value) or weight.value.max() - weight.value.min() < min(STILL_WANDERS_KG):
        return 0.0  # in most nights that is all there is to see
    return max(_to_and_fro(weight) - 3 * noise(weight.value), 0.0)


def _to_and_fro(weight: Series) -> float:
    """Return the lesser of the farthest rise and fall of a stretch of weight, kg, jumps of a kilogram left out."""
    slots = weight.time // WANDER_SLOT
    starts = np.flatnonzero(np.diff(slots, prepend=-1))
    levels = [median(part) for part in np.split(weight.value, starts[1:])]
    moves = np.diff(levels)
    path = np.concatenate(([0.0], np.cumsum(moves[np.abs(moves) < HANDS_KG])))
    rise = (path - np.minimum.accumulate(path)).max()
    fall = (np.maximum.accumulate(path) - path).max()
    return float(min(rise, fall))


def falls(weight: NDArray[np.float64], off_scale: float) -> int:
    """Return how often a weight fell to what is no hive."""
    gone = weight < off_scale
    return int(np.count_nonzero(gone[1:] & ~gone[:-1]))


def _silent(look: Look, quantity: Quantity, raw: Series, until: Millis) -> Millis | None:
    """Return since when a stream says nothing although the yard is heard, or None."""
    limit = round(look.rules.sensors.silent_hours * HOUR)
    last = int(raw.time[-1])
    if until - last < limit or look.heard(Stream(look.hive, quantity)) <= last + limit // 2:
        return None
    return last


def _stuck(look: Look, quantity: Quantity, raw: Series, until: Millis, *, known: bool) -> Millis | None:
    """Return since when a stream repeats one value to the last digit, or None.

    Only streams that move while they are well: their resolution is read from what they showed before. One `known` to be
    stuck stays so until it moves.
    """
    coarse = COARSE_STEP.get(quantity)
    recent = raw.since(until - round(look.rules.sensors.stuck_hours * HOUR))
    if coarse is None or len(recent.value) < 12 or (recent.value != recent.value[0]).any():
        return None
    moves = np.flatnonzero(np.diff(raw.value))
    if known or not len(moves):
        return int(recent.time[0]) if known else None
    resolution = float(np.quantile(np.abs(np.diff(raw.value))[moves], 0.1))
    return int(raw.time[moves[-1] + 1]) if resolution <= coarse else None


def _tell(look: Look, name: str, quantity: Quantity, onset: Millis, usable: str) -> str:
    return look.tell(
        Kind.SENSOR_FAULT,
        onset=onset,
        confidence=0.9,
        reason=name,
        summary=f"Sensor fault: {name.replace('-', ' ')}. Still usable: {usable}.",
        evidence={"readings": float(len(look.raw(quantity, look.hive).since(look.now - DAY).value))},
    ).id

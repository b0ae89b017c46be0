"""Sun times at a yard, and the hive days they bound.

A hive day runs from one dawn to the next, dawn being the sun 6° below the horizon (civil twilight). Where it never
sinks that far, or never rises that far, its lowest point stands in. The sun's height comes from the astral library; the
moments are found on it by root search, so that no civil date line cuts a day in two.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from astral import Depression, Observer
from astral.sun import elevation

from hivemon.model import DAY, HOUR, MINUTE, SECOND

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.config import YardSettings
    from hivemon.model import Millis

CIVIL_TWILIGHT = -float(Depression.CIVIL.value)
"""The sun's height at dawn and dusk, degrees."""

TROPICS = 23.44
"""Latitude of the tropics, degrees."""

YEAR = 365.2425
"""Days of a year (Gregorian)."""


class SunDay(NamedTuple):
    """The moments of one hive day, ms UTC. `end` is the next dawn; `date` the local civil date of the first."""

    date: date
    dawn: Millis
    noon: Millis
    dusk: Millis
    end: Millis


def sun_day(yard: YardSettings, moment: Millis) -> SunDay:
    """Return the hive day that holds `moment`: dawn <= moment < end."""
    number = _solar_date(yard, moment)
    for candidate in (number, number - 1, number + 1):
        day = _sun_day(yard.latitude, yard.longitude, yard.timezone, candidate)
        if day.dawn <= moment < day.end:
            return day
    raise AssertionError(f"no hive day holds {moment} at {yard.id}")  # dawns follow each other without gap


def day_after(yard: YardSettings, day: SunDay) -> SunDay:
    """Return the hive day that begins where `day` ends."""
    return _sun_day(yard.latitude, yard.longitude, yard.timezone, _solar_date(yard, day.noon) + 1)


def solar_hour(yard: YardSettings, moment: Millis) -> float:
    """Return hours since the sun's midnight at the yard, 0 to 24: twelve is noon."""
    return ((moment - sun_day(yard, moment).noon) / HOUR + 12.0) % 24


def days_after_longest(yard: YardSettings, moment: Millis) -> float | None:
    """Return days since the year's longest day, -183 to 183; None in the tropics, where day length sets no season."""
    if abs(yard.latitude) <= TROPICS:
        return None
    longest = 172 if yard.latitude > 0 else 355  # day of the year of the solstice
    day = moment / DAY + 1  # 1970-01-01 was day 1; leap days keep the rest within one
    return (day - longest + YEAR / 2) % YEAR - YEAR / 2


def _solar_date(yard: YardSettings, moment: Millis) -> int:
    """Return the number of the mean solar day, counted at the yard's own longitude from 1970-01-01."""
    return int((moment + yard.longitude / 15 * HOUR) // DAY)


@lru_cache(maxsize=4096)
def _sun_day(latitude: float, longitude: float, timezone: str, number: int) -> SunDay:
    noon = _mean_noon(longitude, number)
    dawn, end = _dawn(latitude, longitude, number), _dawn(latitude, longitude, number + 1)
    local = datetime.fromtimestamp(dawn / SECOND, ZoneInfo(timezone)).date()
    return SunDay(local, dawn, noon, _dusk(latitude, longitude, number, dawn, end), end)


def _mean_noon(longitude: float, number: int) -> Millis:
    """Return mean solar noon; the true one is within 17 minutes, which matters to nothing here."""
    return round(number * DAY + DAY / 2 - longitude / 15 * HOUR)


@lru_cache(maxsize=4096)
def _dawn(latitude: float, longitude: float, number: int) -> Millis:
    noon = _mean_noon(longitude, number)
    return _crossing(latitude, longitude, noon - DAY // 2, noon) or _lowest(latitude, longitude, noon - DAY // 2)


def _dusk(latitude: float, longitude: float, number: int, dawn: Millis, end: Millis) -> Millis:
    """Return dusk; the day's end where the sun never sinks to twilight, its start where it never rises to it."""
    noon = _mean_noon(longitude, number)
    found = _crossing(latitude, longitude, noon, noon + DAY // 2)
    if found is None:
        return end if _height(latitude, longitude, noon) > CIVIL_TWILIGHT else dawn
    return min(max(found, dawn), end)


def _crossing(latitude: float, longitude: float, start: Millis, end: Millis) -> Millis | None:
    """Return when the sun passes civil twilight between two moments, to a second, or None."""
    return _root(lambda moment: _height(latitude, longitude, moment) - CIVIL_TWILIGHT, start, end)


def _lowest(latitude: float, longitude: float, midnight: Millis) -> Millis:
    """Return the moment within an hour of mean midnight at which the sun stands lowest, to a second."""

    def rising(moment: float) -> float:
        return _height(latitude, longitude, moment + MINUTE) - _height(latitude, longitude, moment - MINUTE)

    start, end = midnight - HOUR, midnight + HOUR
    return _root(rising, start, end) or min(start, end, key=lambda moment: _height(latitude, longitude, moment))


def _root(value: Callable[[float], float], start: Millis, end: Millis) -> Millis | None:
    """Return where a function passes zero between two moments, to a second, or None where its signs there are the same.

    False position, the Illinois way (Dowell & Jarratt 1971, BIT 11:168-174). A library's search takes half a second and
    40 MB to load, as much again as all that judges readings; astral's own dawns are half a minute off, and days where
    nights turn white.
    """
    older, old, newer, new = float(start), value(start), float(end), value(end)
    if old * new >= 0:
        return None
    while abs(newer - older) > SECOND and new:
        between = newer - new * (newer - older) / (new - old)
        found = value(between)
        older, old = (newer, new) if found * new < 0 else (older, old / 2)
        newer, new = between, found
    return round(newer)


def _height(latitude: float, longitude: float, moment: float) -> float:
    """Return the sun's height, degrees, without refraction (almanacs define twilight by the true centre)."""
    when = datetime.fromtimestamp(moment / SECOND, UTC)
    return float(elevation(Observer(latitude, longitude), when, with_refraction=False))

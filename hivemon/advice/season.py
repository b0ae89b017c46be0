"""What the calendar and the latitude alone tell about a yard."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.model import Millis

_BROODLESS_MONTHS = frozenset({11, 12, 1, 2})
"""Months with little or no brood in a temperate northern winter. Our rule; the south six months later."""
_TROPIC_DEGREES = 25.0
"""Nearer the equator than this bees may rear brood all year. Our rule."""
_HALF_YEAR = timedelta(days=182)
_FEED_BY = (288, 45.0, 3.0)
"""Day of the year and latitude: northern US and Canada finish feeding by about 15 October (USDA overwintering leaflet);
days sooner for each degree nearer the pole. The slope is our rule."""
_FEED_EARLIEST, _FEED_LATEST = 244, 334
_SPRING = (60, 35.0, 2.0)
"""Day of the year and latitude at which bees find their own food again, and days later for each degree. Our rule."""
_SPRING_EARLIEST, _SPRING_LATEST = 46, 121
_NOON = time(12)


def tropical(scene: Scene) -> bool:
    """Whether the yard is too near the equator for a winter."""
    return abs(scene.yard.latitude) < _TROPIC_DEGREES


def northern_date(scene: Scene) -> date:
    """Return the local date, and south of the equator the date half a year on: the same season in the north."""
    today = scene.local(scene.now).date()
    return today + _HALF_YEAR if scene.yard.latitude < 0 else today


def northern_week(scene: Scene) -> int:
    """Return the ISO week of the season, 1 to 53, as in the north."""
    return northern_date(scene).isocalendar().week


def northern_month(scene: Scene) -> int:
    """Return the month of the season, 1 to 12, as in the north."""
    month = scene.local(scene.now).month
    return (month + 5) % 12 + 1 if scene.yard.latitude < 0 else month


def season_name(scene: Scene) -> str:
    """Name the beekeeping year, for conditions that are told once a year: "2026", in the south "2026s"."""
    return f"{northern_date(scene).year}" + ("s" if scene.yard.latitude < 0 else "")


def broodless(scene: Scene) -> bool:
    """Whether it is the season in which a colony without brood is the rule."""
    return not tropical(scene) and northern_month(scene) in _BROODLESS_MONTHS


def last_feeding(scene: Scene) -> Millis:
    """Return noon of the last day this season on which syrup is sensibly given; later it is mostly too cold."""
    day, latitude, slope = _FEED_BY
    shifted = day - slope * (abs(scene.yard.latitude) - latitude)
    return _on(scene, round(min(max(shifted, _FEED_EARLIEST), _FEED_LATEST)), northern_date(scene).year)


def spring(scene: Scene) -> Millis:
    """Return noon of the day on which, by latitude, the bees find their own food again after this winter."""
    day, latitude, slope = _SPRING
    shifted = round(min(max(day + slope * (abs(scene.yard.latitude) - latitude), _SPRING_EARLIEST), _SPRING_LATEST))
    year = northern_date(scene).year
    this_year = _on(scene, shifted, year)
    return this_year if this_year > scene.now else _on(scene, shifted, year + 1)


def _on(scene: Scene, northern_day: int, year: int) -> Millis:
    """Return local noon of a day of the northern year; in the south half a year earlier."""
    found = date(year, 1, 1) + timedelta(days=northern_day - 1)
    if scene.yard.latitude < 0:
        found -= _HALF_YEAR
    return int(datetime.combine(found, _NOON, tzinfo=scene.yard.zone).timestamp() * 1000)

"""What the calendar and the latitude alone tell about a yard."""

from __future__ import annotations

from bisect import bisect_right
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
"""No earlier than 1 September and no later than the end of November, as in the north. Our rule."""
_SPRING = (60, 35.0, 2.0)
"""Day of the year and latitude at which bees find their own food again, and days later for each degree. Our rule."""
_SPRING_EARLIEST, _SPRING_LATEST = 46, 121
"""No earlier than mid-February and no later than 1 May, as in the north. Our rule."""
_COLONY = (
    (60.0, 0.64),
    (91.0, 0.64),
    (121.0, 0.91),
    (152.0, 1.18),
    (182.0, 1.27),
    (213.0, 1.09),
    (244.0, 0.91),
    (305.0, 0.64),
)
"""Day of the year at 48° north and weight of a colony against its mean from April to September. Our rule, in the shape
of the colony counts in central European handbooks (from memory): 10,000 bees at the end of winter, 30,000 to 35,000
with as many cells of brood in June, 20,000 with a third of that brood in September."""
_TOP = 4
"""Which of these rows is midsummer's: places nearer the equator are ahead before it, not after."""
_MIDDLE_LATITUDE, _BLOOM_DAYS, _MOST_AHEAD = 48.0, 4.0, 40.0
"""Spring comes four days earlier for each degree nearer the equator (Hopkins 1918, from memory); no more than so many
days are believed (our rule)."""
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


def colony_share(scene: Scene, when: Millis) -> float:
    """Return what bees, brood and pollen of a usual colony weigh at a moment, against their mean of April to September.

    They grow from early spring to midsummer and dwindle to autumn; the nearer the equator, the earlier in spring.
    """
    if tropical(scene):
        return 1.0
    date_ = scene.local(when).date() + (_HALF_YEAR if scene.yard.latitude < 0 else timedelta(0))
    day = float(date_.timetuple().tm_yday)
    ahead = _BLOOM_DAYS * (_MIDDLE_LATITUDE - abs(scene.yard.latitude))
    turn = _COLONY[_TOP][0]
    day += min(max(ahead, -_MOST_AHEAD), _MOST_AHEAD) * min(max((turn - day) / (turn - _COLONY[0][0]), 0.0), 1.0)
    i = min(max(bisect_right([d for d, _ in _COLONY], day), 1), len(_COLONY) - 1)
    (low, at_low), (high, at_high) = _COLONY[i - 1], _COLONY[i]
    return at_low + (at_high - at_low) * min(max((day - low) / (high - low), 0.0), 1.0)


def _on(scene: Scene, northern_day: int, year: int) -> Millis:
    """Return local noon of a day of the northern year; in the south half a year earlier."""
    found = date(year, 1, 1) + timedelta(days=northern_day - 1)
    if scene.yard.latitude < 0:
        found -= _HALF_YEAR
    return int(datetime.combine(found, _NOON, tzinfo=scene.yard.zone).timestamp() * 1000)

"""Hive days and the sun: against published times, at the poles, across clock changes and the date line."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import pytest
from astral import Observer
from astral.sun import elevation
from scipy.optimize import brentq, minimize_scalar

from hivemon.config import YardSettings
from hivemon.model import DAY, HOUR, MINUTE, SECOND
from hivemon.signals.sun import day_after, sun_day


def yard(latitude: float, longitude: float, timezone: str = "UTC") -> YardSettings:
    return YardSettings(id="y", latitude=latitude, longitude=longitude, timezone=timezone)


def at(*parts: int) -> int:
    return round(datetime(*parts, tzinfo=UTC).timestamp() * 1000)


LONDON = yard(51.5, 0.0, "Europe/London")
SYDNEY = yard(-33.87, 151.21, "Australia/Sydney")
TROMSO = yard(69.65, 18.96, "Europe/Oslo")
FIJI = yard(-17.8, 178.0, "Pacific/Fiji")


def spencer(day_of_year: float) -> tuple[float, float]:
    """Return the sun's declination (radians) and the equation of time (minutes): Spencer 1971, Search 2(5):172.

    Accurate to about 0.0006 rad and half a minute; independent of the library under test.
    """
    g = 2 * math.pi * (day_of_year - 1) / 365
    declination = (
        0.006918
        - 0.399912 * math.cos(g)
        + 0.070257 * math.sin(g)
        - 0.006758 * math.cos(2 * g)
        + 0.000907 * math.sin(2 * g)
        - 0.002697 * math.cos(3 * g)
        + 0.00148 * math.sin(3 * g)
    )
    time = 229.18 * (
        0.000075
        + 0.001868 * math.cos(g)
        - 0.032077 * math.sin(g)
        - 0.014615 * math.cos(2 * g)
        - 0.040849 * math.sin(2 * g)
    )
    return declination, time


@pytest.mark.parametrize("where", [LONDON, SYDNEY, FIJI, yard(31.7, -109.8), yard(0, 0)])
@pytest.mark.parametrize("number", range(5, 365, 30))
def test_dawn_and_dusk_agree_with_an_independent_reckoning(where, number):
    """The sun stands 6° below the horizon when the almanac's hour angle says so, to three minutes.

    That much is left by the series' own error and by leap days.
    """
    declination, equation = spencer(number)
    latitude = math.radians(where.latitude)
    cosine = (math.sin(math.radians(-6)) - math.sin(latitude) * math.sin(declination)) / (
        math.cos(latitude) * math.cos(declination)
    )
    half = math.degrees(math.acos(cosine)) / 15 * HOUR
    noon = at(2023, 1, 1) + (number - 1) * DAY + DAY / 2 - where.longitude / 15 * HOUR - equation * MINUTE
    day = sun_day(where, round(noon))
    assert abs(day.dawn - (noon - half)) <= 3 * MINUTE
    assert abs(day.dusk - (noon + half)) <= 3 * MINUTE


def height(where: YardSettings, moment: float) -> float:
    """Return the height that the astral library gives, which steps from one whole second to the next."""
    when = datetime.fromtimestamp(moment / 1000, UTC)
    return elevation(Observer(where.latitude, where.longitude), when, with_refraction=False)


@pytest.mark.parametrize("where", [LONDON, SYDNEY, FIJI, yard(60.5, 25), yard(0, 0)])
@pytest.mark.parametrize("number", range(0, 365, 12))
def test_dawn_and_dusk_lie_where_a_library_finds_the_root(where, number):
    """Against Brent's method in scipy, to the two seconds that steps of a second leave."""
    day = sun_day(where, at(2024, 1, 1) + number * DAY)
    for moment in (day.dawn, day.dusk):
        if abs(height(where, moment) + 6) < 0.01:  # else there is no twilight that day
            around = (moment - HOUR // 2, moment + HOUR // 2)
            found = brentq(lambda m: height(where, m) + 6, *around, xtol=100)
            assert abs(moment - found) <= 2 * SECOND


@pytest.mark.parametrize("number", range(130, 220, 10))
def test_a_day_without_night_begins_where_a_library_finds_the_lowest_sun(number):
    """Against the bounded minimum search in scipy, to half a minute: the sun hardly moves there."""
    dawn = sun_day(TROMSO, at(2024, 1, 1, 12) + number * DAY).dawn
    found = minimize_scalar(lambda m: height(TROMSO, m), bounds=(dawn - HOUR, dawn + HOUR), method="bounded")
    assert abs(dawn - found.x) <= 30 * SECOND


@pytest.mark.parametrize("where", [LONDON, SYDNEY, TROMSO, FIJI, yard(0, 0), yard(-89.9, 10), yard(90, 0)])
def test_hive_days_follow_each_other_without_gap_all_year_anywhere(where):
    """Every moment belongs to exactly one hive day, each about as long as the earth's turn.

    Near a pole, where twilight comes and goes for the season, one may be longer.
    """
    day = sun_day(where, at(2024, 1, 1))
    for _ in range(370):
        following = day_after(where, day)
        assert following.dawn == day.end
        assert day.dawn <= day.dusk <= day.end
        longest = 28 * HOUR if abs(where.latitude) < 80 else 40 * HOUR
        assert DAY - (longest - DAY) < day.end - day.dawn < longest
        assert sun_day(where, day.dawn) == day
        assert sun_day(where, day.end - 1) == day
        day = following


def test_a_midsummer_day_beyond_the_polar_circle_has_no_night():
    """Where the sun never sinks to twilight, the day begins at its lowest point and dusk is the day's end."""
    day = sun_day(TROMSO, at(2024, 6, 21, 12))
    assert day.dusk == day.end
    lowest = at(2024, 6, 21) - round(18.96 / 15 * HOUR)
    assert abs(day.dawn - lowest) < 30 * MINUTE


def test_a_midwinter_day_near_the_pole_has_no_daylight():
    """Where the sun never rises to twilight, dusk is the day's start."""
    day = sun_day(yard(85, 0), at(2024, 12, 21, 12))
    assert day.dusk == day.dawn


@pytest.mark.parametrize(("date", "hours"), [((2024, 3, 30), 24), ((2024, 10, 26), 24)])
def test_clock_changes_do_not_cut_or_stretch_a_hive_day(date, hours):
    """The civil day of a clock change has 23 or 25 hours; the hive day has its own 24, give or take minutes."""
    day = sun_day(LONDON, at(*date, 20))
    assert abs((day.end - day.dawn) - hours * HOUR) < 5 * MINUTE


def test_the_date_of_a_hive_day_is_the_local_one_of_its_dawn():
    """East of Greenwich dawn falls on the day before in UTC; the date must be the beekeeper's."""
    day = sun_day(SYDNEY, at(2024, 1, 10, 3))
    assert day.date.isoformat() == "2024-01-10"
    assert datetime.fromtimestamp(day.dawn / 1000, UTC).date().isoformat() == "2024-01-09"
    dates = {sun_day(FIJI, at(2024, 1, 1) + n * DAY).date for n in range(30)}
    assert len(dates) == 30
    assert max(dates) - min(dates) == timedelta(days=29)


def test_southern_days_are_long_in_december():
    """The seasons are the other way round."""
    december, june = (sun_day(SYDNEY, at(2024, month, 21, 3)) for month in (12, 6))
    assert december.dusk - december.dawn > june.dusk - june.dawn + 3 * HOUR

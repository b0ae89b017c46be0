"""Sun, weather and flight of the generator against published figures and an independent library."""

from datetime import UTC, date, datetime

import numpy as np
import pytest
from astral import Observer
from astral.sun import dawn as astral_dawn
from astral.sun import elevation as astral_elevation

from sample_streams.forage import flight_activity
from sample_streams.grid import Grid, rng_for
from sample_streams.sun import crossings, elevation
from sample_streams.weather import Climate, HeatWave, Weather, make_weather, vapour_pressure


@pytest.mark.parametrize(("latitude", "longitude"), [(51.2, 3.4), (-37.0, 145.0), (32.0, -110.0), (0.0, 0.0)])
def test_elevation_agrees_with_an_independent_library(latitude, longitude):
    """Within 0.4 degrees of astral on days across the year (about what Spencer 1971's series claims)."""
    for month in range(1, 13):
        for hour in range(0, 24, 3):
            when = datetime(2025, month, 15, hour, 20, tzinfo=UTC)
            ours = elevation(np.array([int(when.timestamp())]), latitude, longitude)[0]
            theirs = astral_elevation(Observer(latitude, longitude), when, with_refraction=False)
            assert abs(ours - theirs) < 0.4


def test_dawn_agrees_with_an_independent_library():
    """Civil dawn (sun 6 degrees under the horizon) within three minutes of astral."""
    grid = Grid.at(date(2025, 5, 2), 3.4, 20)
    dawns = crossings(grid, elevation(grid.t, 51.2, 3.4), rising=True)
    for i, dawn in enumerate(dawns):
        theirs = astral_dawn(Observer(51.2, 3.4), date.fromordinal(date(2025, 5, 2).toordinal() + i), depression=6)
        assert abs(dawn - theirs.timestamp()) < 180


def test_dawn_where_the_sun_never_sinks_that_far_is_its_lowest_point():
    grid = Grid.at(date(2025, 6, 20), 20.0, 2)
    height = elevation(grid.t, 66.0, 20.0)
    assert height.min() > -6
    for dawn in crossings(grid, height, rising=True):
        assert np.interp(dawn, grid.t, height) < height.min() + 0.5


def test_saturation_vapour_pressure_is_that_of_steam_tables():
    """0 °C 6.11 hPa, 20 °C 23.4 hPa, 30 °C 42.4 hPa (steam tables, from memory)."""
    ours = vapour_pressure(np.array([0.0, 20.0, 30.0]))
    assert ours == pytest.approx([6.11, 23.4, 42.4], rel=0.01)


def weather(seed=1, latitude=51.0, first=date(2024, 6, 1), days=30, **climate):
    """Weather over some days."""
    grid = Grid.at(first, 4.0, days)
    return grid, make_weather(rng_for(seed, "w"), grid, latitude, 4.0, Climate(**climate))


def test_the_same_seed_gives_the_same_weather_and_another_seed_another():
    first, again, other = weather(1)[1], weather(1)[1], weather(2)[1]
    assert np.array_equal(first.temperature, again.temperature)
    assert np.array_equal(first.rain, again.rain)
    assert not np.array_equal(first.temperature, other.temperature)


def test_weather_stays_within_what_is_possible():
    _, w = weather(5, days=90)
    assert 0 <= w.humidity.min() <= w.humidity.max() <= 100
    assert w.rain.min() == 0
    assert w.sun.min() == 0
    assert w.sun.max() < 1000
    assert -5 < w.temperature.min() < w.temperature.max() < 40


def test_nights_are_cooler_than_afternoons_and_winters_than_summers_in_both_hemispheres():
    grid, june = weather(1)
    _, december = weather(1, first=date(2024, 12, 1))
    _, southern_june = weather(1, latitude=-38.0)
    _, southern_december = weather(1, latitude=-38.0, first=date(2024, 12, 1))
    assert june.temperature[(grid.hour > 14) & (grid.hour < 17)].mean() > june.temperature[grid.hour < 4].mean() + 4
    assert june.temperature.mean() > december.temperature.mean() + 8
    assert southern_december.temperature.mean() > southern_june.temperature.mean() + 8


def test_a_heat_wave_is_hotter_than_the_same_days_without():
    grid, plain = weather(3)
    _, hot = weather(3, heat=(HeatWave(10, 5, 8.0),))
    wave = (grid.day >= 11) & (grid.day < 15)
    assert hot.temperature[wave].mean() > plain.temperature[wave].mean() + 6


def still(grid, **fields):
    """Constant fine weather, changed in some fields."""
    n = len(grid.t)
    parts = {
        "temperature": 22.0,
        "humidity": 60.0,
        "rain": 0.0,
        "wind": 1.0,
        "sun": 500.0,
        "cloud": 0.2,
        "height": 40.0,
    }
    return Weather(**{k: np.full(n, float(v)) for k, v in {**parts, **fields}.items()})


@pytest.mark.parametrize(
    ("fields", "low", "high"),
    [
        ({}, 0.95, 1.0),
        ({"temperature": 9.0, "sun": 100.0}, 0.0, 0.0),  # inactivity at 9 °C (Winston 1987, from memory)
        ({"temperature": 12.0, "sun": 100.0}, 0.0, 0.2),  # usually none below 12 °C (Burrill & Dietz 1981)
        ({"temperature": 16.0}, 0.5, 1.0),  # 16 °C is good (Winston 1987, from memory)
        ({"sun": 0.0}, 0.0, 0.0),
        ({"wind": 11.5}, 0.0, 0.0),  # near zero at 9-11 m/s (extension, from memory)
        ({"wind": 6.0}, 0.9, 1.0),  # reduced only from 6.7 m/s
        ({"rain": 0.4}, 0.0, 0.1),  # 4.8 mm an hour; heavy rain stops flight (Lundie 1925)
        ({"temperature": 39.0}, 0.9, 1.0),  # foraging goes on to 40-46 °C (Cooper et al. 1985)
        ({"temperature": 47.0}, 0.0, 0.0),
    ],
)
def test_flight_follows_published_limits(fields, low, high):
    grid = Grid.at(date(2024, 6, 1), 4.0, 1)
    activity = flight_activity(grid, still(grid, **fields))[-1]
    assert low <= round(float(activity), 6) <= high

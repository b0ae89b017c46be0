"""The parts of a hive day: sums, steps taken out, uncertainty, and the published ways of taking them apart."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from hivemon.config import YardSettings
from hivemon.model import EMPTY, HOUR, MINUTE, HiveDay, Series
from hivemon.rules import FlowRule
from hivemon.signals.days import Jump, hive_day, without_jumps
from hivemon.signals.sun import sun_day
from hivemon.signals.water import DRY_KG
from hivemon.signals.weather import Outside, weather

YARD = YardSettings(id="y", latitude=45.0, longitude=0.0, timezone="UTC")
SUN = sun_day(YARD, round(datetime(2024, 6, 10, 12, tzinfo=UTC).timestamp() * 1000))


def true_weight(time, *, gain: float = 1.2, dip: float = 0.5, night: float = 0.25):
    """A hive day in pieces: a night's loss, foragers out and back, nectar by day; kg, shape of `time`."""
    day = SUN.dusk - SUN.dawn
    light = np.clip((time - SUN.dawn) / day, 0, 1)
    dark = np.where(
        time < SUN.dawn, (time - SUN.dawn) / (24 * HOUR - day), np.clip((time - SUN.dusk) / (SUN.end - SUN.dusk), 0, 2)
    )
    out = np.clip(np.minimum((time - SUN.dawn - HOUR) / (2 * HOUR), (SUN.dusk - time) / (2 * HOUR)), 0, 1)
    return 40 + gain * light - night * dark - dip * out


def series(minutes: int = 5, sd: float = 0.02, seed: int = 1, **parts) -> Series:
    time = np.arange(SUN.dawn - 5 * HOUR, SUN.end + 2 * HOUR, minutes * MINUTE, dtype=np.int64)
    return Series(time, true_weight(time, **parts) + np.random.default_rng(seed).normal(0, sd, len(time)))


def reckon(weight: Series, *jumps: Jump) -> HiveDay:
    return hive_day("y", "h", SUN, weight, EMPTY, jumps)


@pytest.mark.parametrize("minutes", [1, 5, 15, 60])
def test_the_parts_are_what_was_put_in(minutes):
    """Gain, night and dip come out to a few hundredths at any sampling, and add up."""
    day = reckon(series(minutes))
    assert day.foraging_gain == pytest.approx(1.2, abs=0.06)
    assert day.overnight_change == pytest.approx(-0.25, abs=0.06)
    assert day.net_gain == pytest.approx(0.95, abs=0.06)
    assert day.net_gain == pytest.approx(day.foraging_gain + day.overnight_change, abs=0.002)
    assert day.morning_dip == pytest.approx(0.25, abs=0.1)  # the nectar of the first hours lies over half of it
    assert day.coverage == 1.0


def test_the_error_of_many_days_is_the_uncertainty_told():
    """Over two hundred days, errors of the net gain have the standard deviation that each day says.

    A noisy scale that errs with its temperature from dawn to dawn, on a hive whose wood takes up and gives off water.
    """
    luck = np.random.default_rng(3)
    days, errors = [], []
    for seed in range(200):
        plain = series(sd=0.05, seed=seed)
        warmth, moist = luck.normal(0, 0.04), luck.normal(0, DRY_KG * np.sqrt(2))
        drifted = plain.value + (warmth + moist) * (plain.time - SUN.dawn) / (SUN.end - SUN.dawn)
        days.append(hive_day("y", "h", SUN, Series(plain.time, drifted), EMPTY, (), heat_kg=0.04))
        errors.append(days[-1].net_gain - 0.95)
    assert np.std(errors) == pytest.approx(np.mean([day.uncertainty for day in days]), rel=0.2)


def test_a_super_put_on_is_no_gain():
    """A step judged to be handling is taken out of every part, and what stands on the scale is told beside."""
    plain = series()
    at = SUN.dawn + 6 * HOUR
    stepped = Series(plain.time, plain.value + 7.0 * (plain.time > at))
    day = reckon(stepped, Jump(at, at + 5 * MINUTE, 7.0))
    assert day.net_gain == pytest.approx(0.95, abs=0.06)
    assert day.handled == 7.0
    assert day.end_weight == pytest.approx(47.95, abs=0.06)


def test_steps_of_the_day_before_shift_nothing():
    """A step before dawn belongs to the level that stood at dawn."""
    weight = series()
    early = Jump(SUN.dawn - 3 * HOUR, SUN.dawn - 3 * HOUR + MINUTE, -4.0)
    moved = Series(weight.time, weight.value + 4.0 * (weight.time <= early.before))
    assert without_jumps(moved, SUN.dawn, [early]).value == pytest.approx(weight.value)


def test_what_was_not_measured_is_not_made_up():
    """A day whose evening is missing has no parts, and says how much of it was there."""
    day = reckon(series().until(SUN.dawn + 8 * HOUR))
    assert day.net_gain is None
    assert day.foraging_gain is None
    assert day.coverage < 0.5


def running_average(hourly: np.ndarray) -> np.ndarray:
    """Return the centred average of 25 hours: twelve before, that hour, twelve after (Meikle et al. 2005, 2008)."""
    return np.convolve(hourly, np.ones(25) / 25, mode="valid")


def test_net_gain_is_the_slope_of_the_published_running_average():
    """Detrending as published: over steady days the 25-hour running average rises by the net gain each day.

    Source: Meikle, Holst, Mercadier & Derouane 2005; Meikle et al. 2008, Apidologie 39:694-707.
    """
    daily = series(minutes=60, sd=0.0).between(SUN.dawn, SUN.dawn + 24 * HOUR)
    gain = 0.95
    hourly = np.concatenate([daily.value[:24] + number * gain for number in range(6)])
    trend = running_average(hourly)
    assert (trend[24:] - trend[:-24]).mean() == pytest.approx(gain, abs=0.02)
    assert reckon(series()).net_gain == pytest.approx((trend[24:] - trend[:-24]).mean(), abs=0.06)


def test_the_dip_lies_where_the_published_breakpoints_put_it():
    """A regression in pieces finds departure after dawn (Meikle et al. 2018, PLoS ONE 13:e0197589).

    Its night slope and the dip between its breakpoints are the hive day's overnight change and morning dip.
    """
    weight = series(minutes=15, sd=0.01, gain=0.0, dip=0.6).between(SUN.dawn - 5 * HOUR, SUN.noon)
    hours = (weight.time - SUN.dawn) / HOUR

    def squares(start: float, end: float) -> float:
        basis = np.stack([np.ones_like(hours), hours, np.maximum(hours - start, 0), np.maximum(hours - end, 0)], axis=1)
        return float(np.linalg.lstsq(basis, weight.value, rcond=None)[1].sum())

    grid = np.arange(-2, 6, 0.25)
    start, end = min(((a, b) for a in grid for b in grid if b >= a + 0.5), key=lambda ab: squares(*ab))
    assert 0.5 <= start <= 1.75  # bees leave an hour after dawn in this day, and never before it
    assert 2.5 <= end <= 3.75
    assert reckon(series(gain=0.0, dip=0.6)).morning_dip == pytest.approx(0.6, abs=0.06)


def outside(celsius: float, rain: Series = EMPTY) -> Outside:
    time = np.arange(SUN.dawn, SUN.end, 15 * MINUTE, dtype=np.int64)
    return Outside(Series(time, np.full(len(time), celsius)), rain=rain)


@pytest.mark.parametrize(("celsius", "flying"), [(8.0, False), (11.0, False), (16.0, True), (28.0, True)])
def test_flight_begins_at_twelve_degrees(celsius, flying):
    """Foraging starts at about 12 °C (Burrill & Dietz 1981) and is full some degrees above."""
    assert weather(SUN, outside(celsius), [], FlowRule()).flying is flying


def test_rain_stops_flight_and_leaves_hives_wet():
    """Hours of rain are no flying hours; a day of heavy rain says nothing of forage."""
    time = np.arange(SUN.dawn, SUN.dusk, HOUR, dtype=np.int64)
    wet = weather(SUN, outside(20.0, Series(time, np.full(len(time), 2.0))), [], FlowRule())
    assert (wet.flying, wet.water > 0.1, wet.soaked) == (False, True, True)
    dry = weather(SUN, outside(20.0, Series(time, np.zeros(len(time)))), [], FlowRule())
    assert (dry.flying, dry.water, dry.soaked) == (True, 0.0, False)


def test_without_any_sensor_the_bees_tell_the_weather():
    """Foragers out make flying weather; a night in which the hives gain made them wet."""
    out, home = reckon(series(dip=0.6)), reckon(series(gain=0.0, dip=0.0, night=0.1))
    assert weather(SUN, Outside(), [out], FlowRule()).flying is True
    assert weather(SUN, Outside(), [home], FlowRule()).flying is False
    assert weather(SUN, Outside(), [], FlowRule()).flying is None
    assert weather(SUN, Outside(), [reckon(series(night=-0.2))], FlowRule()).water == pytest.approx(0.3, abs=0.05)


@pytest.mark.parametrize(
    ("celsius", "gain", "rain", "flying"),
    [(9.0, 0.6, 0.0, True), (9.0, 0.1, 0.0, False), (9.0, 0.6, 2.0, False), (1.0, 0.6, 0.0, False)],
)
def test_what_was_brought_home_in_the_cold_tells_of_flight(celsius, gain, rain, flying):
    """Nine degrees in the shade, and half a kilogram more without rain: bees flew in the sun. At one it snowed."""
    hours = np.arange(SUN.dawn, SUN.end, HOUR, dtype=np.int64)
    gauge = Series(hours, np.full(len(hours), rain / len(hours)))
    assert weather(SUN, outside(celsius, gauge), [reckon(series(gain=gain))], FlowRule()).flying is flying


def test_water_that_dries_off_in_the_morning_is_no_flight():
    """Bees that went out are home by dusk; half a kilogram of rain that dried off is not."""
    foraged, dried = reckon(series(gain=-0.1, dip=0.5)), reckon(series(gain=-0.5, dip=0.0))
    assert dried.morning_dip == pytest.approx(0.2, abs=0.15)
    assert weather(SUN, Outside(), [foraged], FlowRule()).flying_hours > 6
    assert weather(SUN, Outside(), [dried], FlowRule()).flying is False


def test_nobody_flies_for_an_hour_after_rain():
    """A shower in every third hour of sixteen leaves five of flight."""
    time = np.arange(SUN.dawn, SUN.dusk, HOUR, dtype=np.int64)
    shower = Series(time, np.where(np.arange(len(time)) % 3 == 0, 1.0, 0.0))
    hours = int((SUN.dusk - SUN.dawn) // HOUR)
    assert weather(SUN, outside(24.0, shower), [], FlowRule()).flying_hours == hours // 3


def test_a_humidity_that_never_moves_dries_nothing_and_wets_nothing():
    """A wet sensor says 100 % all day: rain of noon has dried by the next dawn as if it said nothing."""
    time = np.arange(SUN.dawn, SUN.end, HOUR, dtype=np.int64)
    rain = Series(time, np.where(np.arange(len(time)) == 8, 1.0, 0.0))
    silent = outside(9.0, rain)
    stuck = silent._replace(humidity=Series(time, np.full(len(time), 100.0)))
    foggy = silent._replace(humidity=Series(time, np.where(np.arange(len(time)) < 12, 97.0, 99.0)))
    left = [weather(SUN, sensed, [], FlowRule()).water for sensed in (silent, stuck, foggy)]
    assert left[0] == left[1] == 0.0
    assert left[2] > 0.0

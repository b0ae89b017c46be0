"""Rain, snow, moist wood and load cells of the generator against published and derived sizes."""

from datetime import date

import numpy as np
import pytest
from test_streams_sun_and_weather import still

from sample_streams.effects import Bump, Levels, Ramp, Settle, Step, total
from sample_streams.grid import DAY, Grid, rng_for
from sample_streams.lid import film, snow, wood
from sample_streams.plan import Probe, Scale
from sample_streams.sensor import (
    NOT_FOUND,
    POWER_ON,
    Conditions,
    hygrometer_says,
    probe_says,
    scale_says,
    settled,
)

GRID = Grid.at(date(2024, 6, 1), 4.0, 3)


def shower(mm, **fields):
    """Still weather with `mm` of rain at ten in the morning of the first day."""
    weather = still(GRID, **{"humidity": 95.0, "sun": 0.0, "cloud": 1.0, **fields})
    weather.rain[120] = mm
    return weather


def test_a_millimetre_on_a_quarter_square_metre_weighs_a_quarter_kilogram_at_most():
    """1 mm on 0.25 m² is 0.25 kg if all is held (derived)."""
    held = film(GRID, shower(1.0), Scale(lid=0.25, film=1.0))
    assert 0.2 <= held.max() <= 0.25
    assert held[:119].max() < 0.01


def test_a_cloudburst_leaves_no_more_than_lid_and_wood_can_hold():
    """Wetted film and soaked wood 0.1-1 kg (derived): 30 mm leave the capacity, a quarter more while it drips."""
    held = film(GRID, shower(30.0), Scale(lid=0.25, film=0.4))
    assert 0.4 <= held.max() <= 0.5


def test_the_lid_dries_within_a_fine_day():
    weather = still(GRID, humidity=45.0, sun=500.0)
    weather.rain[10] = 5.0
    held = film(GRID, weather, Scale())
    assert held[11] > 0.2
    assert held[10 + 120] == 0


def test_ten_centimetres_of_fresh_snow_weigh_as_much_as_a_swarm():
    """10 cm at 100 kg/m³ (10 mm of water) on 0.25 m² is 2.5 kg (derived); it melts when it is warm."""
    weather = still(GRID, temperature=-5.0, sun=0.0)
    weather.rain[20:40] = 0.5
    weather.temperature[400:] = 8.0
    held = snow(GRID, weather, Scale(lid=0.25))
    assert held[300] == pytest.approx(2.5, rel=0.01)
    assert held[-1] == 0


def test_wood_takes_up_a_kilogram_over_weeks_when_unpainted():
    """16 kg dry woodware from 50 to 80 % RH: +1.1 kg (derived from the Wood Handbook's moistures 9 and 16 %)."""
    grid = Grid.at(date(2024, 6, 1), 4.0, 120)
    weather = still(grid, humidity=80.0)
    weather.humidity[: 3 * grid.per_day] = 50.0
    bare, painted = wood(grid, weather, Scale(wood=16, paint=0.0)), wood(grid, weather, Scale(wood=16, paint=0.9))
    assert bare[-1] == pytest.approx(1.1, abs=0.1)
    assert bare[8 * grid.per_day] < 0.6 * bare[-1]
    assert painted[-1] < 0.5 * bare[-1]


def conditions(n=2000, cell=20.0, wind=0.0):
    """Sampling conditions, constant unless arrays are given."""
    return Conditions(np.linspace(0, 10, n), np.broadcast_to(np.asarray(cell, float), n), np.full(n, float(wind)))


@pytest.mark.parametrize("thermal", [-30.0, -4.0, 2.8, 30.0])
def test_the_load_cell_temperature_effect_is_what_the_plan_says(thermal):
    """A line of weight against cell temperature finds the g/°C (2.8: limit of a 200 kg C3 cell, OIML R 60)."""
    cell = 20 + 10 * np.sin(np.linspace(0, 60, 2000))
    says = scale_says(rng_for(1), Scale(thermal=thermal, noise=8), np.full(2000, 50.0), conditions(cell=cell))
    assert np.polyfit(cell, says, 1)[0] * 1000 == pytest.approx(thermal, abs=0.15)


def test_readings_are_multiples_of_the_resolution_with_the_noise_asked_for():
    says = scale_says(rng_for(2), Scale(noise=25, resolution=50, thermal=0), np.full(2000, 40.0), conditions())
    assert np.allclose(np.round(says / 0.05) * 0.05, says)
    fine = scale_says(rng_for(2), Scale(noise=25, resolution=1, thermal=0), np.full(2000, 40.0), conditions())
    assert np.std(fine) == pytest.approx(0.025, rel=0.1)


def test_drift_adds_up_by_the_day_and_wind_adds_noise():
    says = scale_says(rng_for(3), Scale(noise=1, resolution=1, thermal=0, drift=20), np.full(2000, 40.0), conditions())
    assert says[-1] - says[0] == pytest.approx(0.2, abs=0.02)
    calm = scale_says(rng_for(3), Scale(noise=5, thermal=0, resolution=1), np.full(2000, 40.0), conditions(wind=1))
    rough = scale_says(rng_for(3), Scale(noise=5, thermal=0, resolution=1), np.full(2000, 40.0), conditions(wind=9))
    assert np.std(rough) > 3 * np.std(calm)


def test_creep_after_a_load_stays_within_the_limit_of_a_good_cell():
    """A 200 kg C3 cell may creep 49 g in 30 minutes at full load (OIML R 60-1, derived): 30 kg creep less."""
    t = np.arange(0, DAY, 300)
    weight = settled([Step(3600, 30.0)], Scale(creep=0.0004), t)
    assert 30.0 < weight[-1] <= 30.049
    assert weight[13] < weight[-1]


def test_the_probe_gives_its_power_on_values_as_often_as_asked():
    says = probe_says(rng_for(4), np.full(20000, 34.6), Probe(power_on=0.01, disconnected=0.005))
    assert (says == POWER_ON).mean() == pytest.approx(0.01, abs=0.003)
    assert (says == NOT_FOUND).mean() == pytest.approx(0.005, abs=0.002)
    good = says[(says != POWER_ON) & (says != NOT_FOUND)]
    assert np.allclose(np.round(good / 0.0625) * 0.0625, good)
    assert good.mean() == pytest.approx(34.6, abs=0.02)


def test_the_hygrometer_stays_between_0_and_100():
    says = hygrometer_says(rng_for(5), np.array([0.0, 50.0, 100.0] * 100), Probe(rh_offset=3.0))
    assert says.min() >= 0
    assert says.max() <= 100


def test_effects_are_what_their_names_say():
    t = np.arange(0, 1000, 10)
    assert total([Step(500, 2.0)], t).tolist() == [0.0] * 50 + [2.0] * 50
    ramp = total([Ramp(200, 400, -1.0)], t)
    assert ramp[20] == 0
    assert ramp[30] == pytest.approx(-0.5)
    assert ramp[40] == -1
    assert (np.diff(ramp) <= 0).all()
    assert total([Levels((100, 200, 300), (5.0, -5.0))], t)[[9, 10, 19, 20, 29, 30]].tolist() == [0, 5, 5, -5, -5, 0]
    assert total([Settle(100, 3.0, 50)], t)[-1] == pytest.approx(3.0, abs=1e-6)
    bump = total([Bump(100, 100, 50, 4.0)], t)
    assert bump.max() == pytest.approx(4.0)
    assert abs(bump[-1]) < 0.01

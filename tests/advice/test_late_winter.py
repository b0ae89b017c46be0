"""How much more is eaten when brood begins in late winter: by the place, between what is published of two winters."""

from __future__ import annotations

import msgspec
import pytest
from advice_scenes import YARD, scene

from hivemon.advice.climate import late_winter_times


def placed(latitude: float, longitude: float, **winter):
    limits = msgspec.structs.replace(YARD.advice, winter=msgspec.structs.replace(YARD.advice.winter, **winter))
    return scene(yard=msgspec.structs.replace(YARD, latitude=latitude, longitude=longitude, advice=limits))


@pytest.mark.parametrize(
    ("place", "low", "high"),
    [
        ((57.7, 12.0), 2.7, 2.7),
        ((51.2, 3.4), 2.7, 2.7),
        ((46.0, 2.0), 2.1, 2.5),
        ((40.0, -3.7), 1.85, 1.85),
        ((-37.8, 145.0), 1.85, 1.85),
        ((45.0, -93.0), 2.7, 2.7),
        ((40.0, -77.0), 2.7, 2.7),
        ((33.0, -84.0), 1.85, 1.85),
    ],
    ids=["sweden", "flanders", "middle-france", "castile", "victoria", "minnesota", "pennsylvania", "georgia"],
)
def test_the_north_eats_as_published_and_a_mild_winter_half_way_to_evenly(place, low, high):
    """3 to 5 kg a month in late winter against 1 to 2 in early (Seeley & Visscher 1985, from memory): four over 1.5."""
    assert pytest.approx(2.7, abs=0.05) == 4 / 1.5
    assert low <= late_winter_times(placed(*place)) <= high


def test_what_the_beekeeper_sets_holds_anywhere():
    assert late_winter_times(placed(51.2, 3.4, late_winter_times=1.2)) == 1.2
    assert late_winter_times(placed(40.0, -3.7, late_winter_times=3.0)) == 3.0

"""The day on which room is used up: by hand where days are even, against plain simulation where they are not."""

import math

import numpy as np
import pytest

from hivemon.advice.passage import Income, until_used_up

FRESH = 3.0


def test_even_days_fill_room_as_reckoned_by_hand():
    """10 kg of room, 1 kg a day kept: on the evening of day k (from 0) k + 1 + 1.2 x 2 kg: used up on day 7."""
    assert int(until_used_up(10.0, Income(1.2, 1e-6, 0.2), FRESH, 0.5)) == 7


@pytest.mark.parametrize(("room", "mean", "uneven"), [(3.0, 0.5, 0.8), (8.0, 1.2, 0.5), (15.0, 2.5, 0.4)])
def test_uneven_days_fill_room_as_in_flows_drawn_one_by_one(room, mean, uneven):
    """Ten thousand flows of log-normal days, each followed until the room is used up."""
    rng, eaten, sigma = np.random.default_rng(4), 0.2, math.sqrt(math.log1p(uneven**2))
    honey = mean * rng.lognormal(-(sigma**2) / 2, sigma, (10_000, 60))
    kept = np.cumsum(honey - eaten, axis=1)
    first = np.argmax(kept + honey * (FRESH - 1) >= room, axis=1)
    by_day = [0.0, *(np.mean(first <= day) for day in range(60))]
    for chance in (0.2, 0.45, 0.7):
        drawn = np.interp(chance, by_day, range(61))
        assert until_used_up(room, Income(mean, uneven, eaten), FRESH, chance) == pytest.approx(drawn, abs=0.25)


def test_great_days_bring_the_need_nearer():
    """In a slow flow one great day fills what would last the mean days longer."""
    slow = Income(0.5, 0.2, 0.22)
    assert until_used_up(3.0, slow._replace(uneven=0.9), FRESH, 0.45) < until_used_up(3.0, slow, FRESH, 0.45) - 1


def test_a_greater_chance_comes_later():
    income = Income(1.0, 0.5, 0.2)
    found = [until_used_up(8.0, income, FRESH, chance) for chance in (0.1, 0.3, 0.5, 0.7, 0.9)]
    assert found == sorted(found)


def test_no_room_is_used_up_already():
    assert until_used_up(0.0, Income(1.0, 0.5, 0.2), FRESH, 0.45) == 0.0
    assert until_used_up(-3.0, Income(0.0, 0.5, 0.2), FRESH, 0.45) == 0.0


@pytest.mark.parametrize("income", [Income(0.0, 0.5, 0.2), Income(0.1, 0.5, 0.2), Income(0.2, 0.0, 0.2)])
def test_room_lasts_where_next_to_nothing_comes_in(income):
    assert until_used_up(6.0, income, FRESH, 0.45) == math.inf

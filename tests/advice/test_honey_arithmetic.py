"""Room, syrup and stores against published figures and figures derived from them."""

import math

import pytest
from golden_cases import CASES

from hivemon.advice import food, room
from hivemon.advice.decide import advise
from hivemon.limits import Limits

# Derived from mass balance on sugar (honey of 18 % water) and sucrose densities (ICUMSA/CRC tables):
# share of sugar in nectar -> kg nectar per kg honey, litres per kg honey while fresh, room against ripe honey.
NECTAR = [(0.2, 4.1, 3.8, 5.4), (0.3, 2.73, 2.4, 3.4), (0.4, 2.05, 1.7, 2.5), (0.5, 1.64, 1.3, 1.9)]


@pytest.mark.parametrize(("sugar", "nectar", "litres", "ratio"), NECTAR)
def test_fresh_nectar_takes_the_room_worked_out_beforehand(sugar, nectar, litres, ratio):
    assert room.nectar_per_honey(sugar) == pytest.approx(nectar, abs=0.006)
    assert room.nectar_per_honey(sugar) / room.syrup_density(sugar) == pytest.approx(litres, abs=0.05)
    assert room.fresh_room_ratio(sugar) == pytest.approx(ratio, abs=0.05)


def test_density_of_ripe_honey_is_the_tables():
    """White 1975 (from memory): specific gravity 1.4171 at 18 % water, 20/20 °C; water weighs 0.9982 kg/L at 20 °C."""
    assert pytest.approx(1.4171 * 0.9982, abs=0.0005) == room.RIPE_KG_PER_LITRE


@pytest.mark.parametrize("sugar", [-0.01, 0.68, 1.0])
def test_no_density_beyond_saturation(sugar):
    with pytest.raises(ValueError, match="no sucrose solution"):
        room.syrup_density(sugar)


US_GALLON = 3.785411784
# Derived: water per sugar -> share of sugar, kg of syrup per US gallon, kg of sugar per US gallon, settles to at most.
SYRUPS = [(1.0, 0.5, 4.65, 2.33, 0.64), (0.63, 0.613, 4.9, 3.0, 0.79), (0.5, 0.667, 5.03, 3.36, 0.86)]


@pytest.mark.parametrize(("water", "share", "gallon", "sugar", "settles"), SYRUPS)
def test_syrup_weighs_and_settles_as_worked_out_beforehand(water, share, gallon, sugar, settles):
    batch = food.syrup(1.0, water)
    assert batch.share == pytest.approx(share, abs=0.001)
    assert batch.mass / batch.litres * US_GALLON == pytest.approx(gallon, abs=0.02)
    assert batch.sugar / batch.litres * US_GALLON == pytest.approx(sugar, abs=0.01)
    assert food.settled_mass(1.0) / batch.mass == pytest.approx(settles, abs=0.005)


def test_thick_syrup_is_the_national_bee_units():
    """National Bee Unit Best Practice Guideline 7: 1 kg of sugar to 630 mL of water, 61.3 % by mass (derived)."""
    assert food.syrup(1.0, food.THICK_WATER).share == pytest.approx(0.613, abs=0.001)


def test_sugar_becomes_at_most_as_much_stores_as_mass_balance_allows():
    """Derived: 1 kg sucrose gives 1.053 kg simple sugars, 1.28 kg at 18 % water."""
    assert pytest.approx(1.053, abs=0.001) == food.INVERSION
    assert food.settled_mass(1.0) == pytest.approx(1.28, abs=0.005)


def test_sugar_is_asked_for_in_half_kilos_and_never_short():
    """US extension (from memory): about 0.95 kg of stores from each kg of sugar."""
    assert food.sugar_for(3.2, 0.95) == 3.5
    assert food.sugar_for(0.95, 0.95) == 1.0
    assert food.sugar_for(-2.0, 0.95) == 0.0


def test_stores_are_what_is_neither_wood_nor_bees():
    found = food.stores(45.0, food.Estimate(26.5, 0.7), food.Estimate(5.5, 1.4))
    assert found.mean == pytest.approx(13.0)
    assert found.sd == pytest.approx(math.hypot(0.7, 1.4))


def test_food_lasts_its_weight_over_its_use():
    lasts = food.lasts(food.Estimate(4.0, 0.0), food.Estimate(0.2, 0.0))
    assert lasts == pytest.approx((20.0, 20.0, 20.0))


def test_an_empty_larder_lasts_no_time():
    assert food.lasts(food.Estimate(-1.0, 0.5), food.Estimate(0.2, 0.05)).expected == 0.0


def filling(**more):
    return room.Filling(**{
        "capacity_low": 12.0, "capacity_high": 12.0, "gained_low": 4.0, "gained_high": 4.0,
        "rate": 1.0, "rate_sd": 0.0, "good_day": 1.0, "uneven": 0.0, "eaten": 0.0, **more,
    })  # fmt: skip


def until_full(found):
    return room.days_left(found, fresh_low=2.5, fresh_high=3.4)


def test_room_lasts_what_is_left_over_the_rate_less_the_room_of_fresh_nectar():
    """12 kg of room, 4 kg in it, 1 kg a day of which one day stands fresh: 8 - 2.4 and 8 - 1.5 days at the ends.

    Likely it is on the evening of day 6, from 0: seven days make 7 kg, and the last of them 1.95 kg's room more.
    """
    left = until_full(filling())
    assert (left.earliest, left.latest) == pytest.approx((5.6, 6.5))
    assert int(left.likely) == 6


def test_room_of_uneven_days_runs_out_sooner():
    """One great day's nectar takes what the mean of days leaves."""
    assert until_full(filling(uneven=0.8)).likely < until_full(filling()).likely


def test_room_that_is_used_up_lasts_no_days():
    assert until_full(filling(gained_low=20.0, gained_high=20.0)) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("rate", [0.0, -0.3])
def test_room_lasts_for_ever_when_nothing_comes_in(rate):
    assert until_full(filling(rate=rate)) == (math.inf, math.inf, math.inf)


def test_an_uncertain_rate_widens_the_range_both_ways():
    sure, unsure = until_full(filling()), until_full(filling(rate_sd=0.3))
    assert unsure.earliest < sure.earliest
    assert unsure.latest > sure.latest
    assert unsure.likely == pytest.approx(sure.likely)


def test_a_better_good_day_brings_the_need_nearer_by_the_room_of_its_nectar():
    """2 kg of honey's nectar instead of 1 takes 1.4 to 2.4 kg more of the room: so many days sooner at 1 kg a day."""
    better = until_full(filling(good_day=2.0))
    assert (better.earliest, better.latest) == pytest.approx((3.2, max(better.likely, 5.0)))


def test_time_passes():
    left = room.DaysLeft(2.0, 7.0, 9.0)
    assert left.later(3.0) == pytest.approx((0.0, 4.0, 6.0))
    never = room.DaysLeft(math.inf, math.inf, math.inf)
    assert never.later(1.0) == never


def test_two_estimates_together_are_surer_than_either_and_nearer_the_surer():
    """Inverse-variance weighting: means 0.2 and 0.5 with sd 0.1 and 0.2 give (0.2*100 + 0.5*25) / 125 and 125^-0.5."""
    both = food.Estimate(0.2, 0.1).combined(food.Estimate(0.5, 0.2))
    assert both == pytest.approx((0.26, 125**-0.5))


def test_a_gallon_of_heavy_syrup_becomes_seven_pounds_of_stores():
    """US extension (from memory): about 7 lb (3.2 kg) of stores from a gallon of 2:1 syrup by mass."""
    batch = food.syrup(1.0, 0.5)
    sugar_in_a_gallon = batch.sugar / batch.litres * US_GALLON
    assert sugar_in_a_gallon * Limits().food.stores_per_sugar == pytest.approx(3.2, abs=0.05)


def test_a_winter_shortfall_in_thick_syrup():
    """National Bee Unit: 1 kg of sugar to 630 mL. 8 kg short: 8.5 kg of sugar in 5.4 L, 13.9 kg or 10.7 L of syrup.

    1.29 kg/L for 61.3 % sugar, between 60 % (1.2865) and 67.1 % (1.333): sucrose tables.
    """
    batch = food.syrup(food.sugar_for(8.0, 0.95), food.THICK_WATER)
    assert batch.sugar == 8.5
    assert batch.water == pytest.approx(5.36, abs=0.01)
    assert batch.mass == pytest.approx(13.86, abs=0.01)
    assert batch.litres == pytest.approx(13.86 / 1.295, abs=0.1)


def test_moisture_limits_in_the_words_are_those_of_the_standards():
    """Honey 20 %, heather honey 23 % (Council Directive 2001/110/EC, Annex II; Codex CXS 12-1981, from memory)."""
    staged = CASES["flow-over"][1]
    told = " ".join(next(a for a in advise(staged) if a.id.startswith("flow-over")).do)
    assert "Above 20 % it ferments" in told
    assert "heather honey: 23 %" in told

"""Mite counts, winter arithmetic and lifting against reference libraries and published figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from hivemon.advice import counting

COUNTS = st.integers(0, 400)


def test_six_mites_in_three_hundred_bees():
    """Derived beforehand: 95 % Poisson span of 6 is 2.2 to 13 mites, so 2 per 100 is 0.7 to 4.4."""
    rate = counting.mite_rate(6, 300)
    assert rate.percent == pytest.approx(2.0)
    assert rate.low == pytest.approx(0.73, abs=0.01)
    assert rate.high == pytest.approx(4.35, abs=0.01)


@given(COUNTS, st.integers(50, 1000))
def test_the_span_is_the_exact_poisson_interval(mites, bees):
    """Garwood 1936 by chi-square quantiles, as scipy gives them: chi2(0.025, 2k)/2 and chi2(0.975, 2k+2)/2."""
    rate = counting.mite_rate(mites, bees)
    low = stats.chi2.ppf(0.025, 2 * mites) / 2 if mites else 0.0
    high = stats.chi2.ppf(0.975, 2 * mites + 2) / 2
    assert rate.low * bees / 100 == pytest.approx(low, abs=1e-6)
    assert rate.high * bees / 100 == pytest.approx(high, abs=1e-6)


@pytest.mark.parametrize("mites", [1, 6, 20])
def test_the_ends_are_those_at_which_the_count_would_be_odd(mites):
    """At the low end so many mites or more, at the high end so many or fewer, come up with 2.5 % chance."""
    rate = counting.mite_rate(mites, 300)
    assert stats.poisson.sf(mites - 1, 3 * rate.low) == pytest.approx(0.025, abs=1e-6)
    assert stats.poisson.cdf(mites, 3 * rate.high) == pytest.approx(0.025, abs=1e-6)


@pytest.mark.parametrize("mites", [2, 6, 12])
def test_at_low_rates_it_agrees_with_the_binomial_interval(mites):
    """Clopper-Pearson (scipy's exact method) takes one mite a bee at most; at a few per 100 they hardly differ."""
    exact = stats.binomtest(mites, 300).proportion_ci(method="exact")
    rate = counting.mite_rate(mites, 300)
    assert rate.low == pytest.approx(100 * exact.low, rel=0.05)
    assert rate.high == pytest.approx(100 * exact.high, rel=0.05)


def test_more_mites_than_bees_is_a_count_too():
    assert counting.mite_rate(60, 50).percent == pytest.approx(120.0)


@pytest.mark.parametrize(("mites", "bees"), [(3, 0), (3, -1), (-1, 300)])
def test_what_cannot_be_a_count_says_so(mites, bees):
    with pytest.raises(ValueError, match="cannot be a count"):
        counting.mite_rate(mites, bees)


@pytest.mark.parametrize(
    ("note", "bees"),
    [
        ("bees=420", 420),
        ("Bees = 280, sugar", 280),
        ("", 300),
        ("many bees", 300),
        ("bees=0", 300),
        ("bees=1,000", 1000),
        ("bees=1.000 in alcohol", 1000),
        ("bees = 1 000", 1000),
        ("bees=1\u202f000", 1000),
        ("bees=300, 250 ml", 300),
        ("bees=300 250 ml", 300),
        ("bees=300.", 300),
        ("bees=1,0000", 1),
    ],
)
def test_bees_come_from_the_note(note, bees):
    assert counting.bees_in(note, 300) == bees


@pytest.mark.parametrize("wash", [(3, 1.0), (6, 2.0), (9, 3.0)])
def test_a_sample_of_three_hundred_divides_by_three(wash):
    """Arithmetic repeated in every guide: 3, 6 and 9 mites in 300 bees are 1, 2 and 3 per 100."""
    mites, percent = wash
    assert counting.mite_rate(mites, 300).percent == pytest.approx(percent)


def test_two_hives_at_forty_percent():
    """Derived beforehand: both lost 16 %, at least one lost 64 %."""
    assert 1 - counting.chance_of(1, 2, 0.4) == pytest.approx(0.16)
    assert 1 - counting.chance_of(2, 2, 0.4) == pytest.approx(0.64)


@given(st.integers(0, 30), st.integers(0, 30), st.floats(0.0, 0.99))
def test_the_chance_is_scipys_binomial(wanted, colonies, loss):
    expected = stats.binom.sf(wanted - 1, colonies, 1 - loss)
    assert counting.chance_of(wanted, colonies, loss) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("wanted", "loss", "needed"), [(3, 0.3, 5), (1, 0.4, 2), (2, 0.0, 2), (10, 0.25, 15)])
def test_the_fewest_colonies_for_four_chances_in_five(wanted, loss, needed):
    """Checked with scipy: one colony fewer is not enough."""
    assert counting.colonies_for(wanted, loss, 0.8) == needed
    assert stats.binom.sf(wanted - 1, needed, 1 - loss) >= 0.8
    assert needed == wanted or stats.binom.sf(wanted - 1, needed - 1, 1 - loss) < 0.8


def test_no_yard_is_large_enough_for_a_hopeless_wish():
    assert counting.colonies_for(150, 0.5, 0.8) is None


def niosh_limit(horizontal: float, vertical: float, travel: float, twist: float, coupling: float) -> float:
    """Recommended weight limit, kg (NIOSH Pub. 94-110, metric form; one lift now and then, frequency multiplier 1)."""
    return (
        23.0
        * min(25 / horizontal, 1.0)
        * (1 - 0.003 * abs(vertical - 75))
        * min(0.82 + 4.5 / travel, 1.0)
        * (1 - 0.0032 * twist)
        * coupling
    )


def test_a_full_super_is_beyond_what_one_person_should_lift():
    """Hands 50 cm out, 30 cm high, 40 cm up, 30 degrees of twist, fair grip: about 8 kg; full supers weigh 16-27 kg.

    Box weights from extension, from memory. This stands behind the words "too heavy to lift safely alone".
    """
    hive_side = niosh_limit(50, 30, 40, 30, 0.95)
    assert hive_side == pytest.approx(8.0, abs=0.3)
    assert niosh_limit(25, 75, 25, 0, 1.0) == pytest.approx(23.0)
    assert min(16.0, 23.0, 36.0) > 1.9 * hive_side

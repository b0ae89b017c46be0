"""Numbers, dates and names come out as a person says them."""

import pytest
from advice_scenes import ASH, PLAIN, ZONE, at

from hivemon.advice import words
from hivemon.config import UnitSettings
from hivemon.model import DAY

KG = UnitSettings()
LB = UnitSettings(weight="lb", temperature="F")


@pytest.mark.parametrize(
    ("kg", "metric", "us"),
    [
        (0.16, "160 g", "6 oz"),
        (0.0, "0 g", "0 oz"),
        (0.24, "250 g", "8 oz"),
        (0.97, "1 kg", "2.1 lb"),
        (2.13, "2.1 kg", "4.7 lb"),
        (18.4, "18 kg", "41 lb"),
        (0.45359237, "450 g", "1 lb"),
    ],
)
def test_masses(kg, metric, us):
    """One pound is 0.45359237 kg exactly (NIST SP 811)."""
    assert words.weight(kg, KG) == metric
    assert words.weight(kg, LB) == us


def test_ranges_of_masses():
    assert words.weights(4.2, 8.9, KG) == "4 to 9 kg"
    assert words.weights(-2.0, 0.4, KG) == "0 kg"
    assert words.weights(4.2, 8.9, LB) == "9 to 20 lb"


@pytest.mark.parametrize(("celsius", "metric", "us"), [(35.0, "35 °C", "95 °F"), (38.6, "39 °C", "101 °F")])
def test_temperatures(celsius, metric, us):
    assert words.temperature(celsius, KG) == metric
    assert words.temperature(celsius, LB) == us


def test_volumes():
    """One US quart is 0.946352946 L exactly (NIST SP 811)."""
    assert words.volume(4.5, KG) == "4.5 litres"
    assert words.volume(0.946352946, LB) == "1 quart"
    assert words.volume(0.1, KG) == "0.5 litre"


def test_bees():
    assert words.bees(13125.0, 16154.0) == "13,000 to 16,000"
    assert words.bees(9960.0, 10020.0) == "10,000"
    assert words.bees(0.0, 4.0) == "0 to 4"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0.2, 0.4, "about a day"), (1.0, 3.2, "1 to 3 days"), (8.9, 9.1, "about 9 days"), (-3.0, 5.0, "0 to 5 days")],
)
def test_spans(low, high, said):
    assert words.days(low, high) == said


@pytest.mark.parametrize(
    ("confidence", "said"),
    [(0.95, "almost certainly"), (0.9, "almost certainly"), (0.7, "very likely"), (0.5, "probably"), (0.3, "perhaps")],
)
def test_doubt(confidence, said):
    assert words.likely(confidence) == said


def test_dates_are_local_and_clocks_round_to_five_minutes():
    """Half past ten in the evening UTC is already Sunday in Brussels in summer (UTC+2)."""
    late = at("2026-06-07 00:32")
    assert words.day(late, ZONE) == "Sunday 7 June"
    assert words.clock(late, ZONE) == "0:30"
    assert words.clock(at("2026-06-06 11:58"), ZONE) == "12:00"


def test_evenings_stay_at_eight_when_the_clocks_change():
    """Summer time ends in Brussels on Sunday 25 October 2026."""
    saturday = at("2026-10-24 09:00")
    assert words.clock(words.evening(saturday, ZONE, plus_days=1), ZONE) == "20:00"
    assert words.day(words.evening(saturday, ZONE, plus_days=1), ZONE) == "Sunday 25 October"
    assert words.evening(saturday, ZONE, plus_days=1) - words.evening(saturday, ZONE) == DAY + DAY // 24


def test_names_and_lists():
    assert words.hive_name(ASH) == "Ash"
    assert words.hive_name(PLAIN) == "hive o3"
    assert [words.listed(list("abc")[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert words.counted(1, "super", "supers") == "one super"
    assert words.counted(13, "super", "supers") == "13 supers"


def test_a_blank_without_a_value_is_an_error():
    with pytest.raises(KeyError):
        words.say("{hive} needs a super.")

"""How values look to a person, against published conversion constants."""

from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.cli.display import change, harmless, local, plain_table, quantity_text, span, temperature, weight, wrapped
from hivemon.config import UnitSettings
from hivemon.config_check import UNITS_ACCEPTED
from hivemon.intake.units import can_convert
from hivemon.model import DAY, HOUR, MINUTE, Quantity

KG, LB = UnitSettings(), UnitSettings(weight="lb", temperature="F")


@pytest.mark.parametrize(
    ("kilograms", "pounds"),
    [(45.359237, "100.0"), (0.45359237, "1.0"), (22.6796185, "50.0"), (None, "-")],
)
def test_a_pound_is_045359237_kg_exactly(kilograms: float | None, pounds: str) -> None:
    """International yard and pound agreement, 1959 (NIST Handbook 44, appendix C)."""
    assert weight(kilograms, LB) == pounds


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0.0, "32.0 °F"), (100.0, "212.0 °F"), (-40.0, "-40.0 °F")])
def test_fahrenheit_meets_celsius_at_the_fixed_points(celsius: float, fahrenheit: str) -> None:
    """Ice, steam and the crossing at -40 (NIST SP 811)."""
    assert temperature(celsius, LB) == fahrenheit
    assert temperature(celsius, KG) == f"{celsius:.1f} °C"


@pytest.mark.parametrize(
    ("kilograms", "text"),
    [(0.0, "0.00"), (-0.001, "0.00"), (0.004, "0.00"), (0.005001, "+0.01"), (-1.2, "-1.20"), (3, "+3.00"), (None, "-")],
)
def test_changes_carry_their_sign_and_nothing_has_none(kilograms: float | None, text: str) -> None:
    assert change(kilograms, KG) == text


@given(st.floats(-200, 200))
def test_no_change_is_ever_shown_as_minus_nothing(kilograms: float) -> None:
    for units in (KG, LB):
        shown = change(kilograms, units)
        assert shown[0] in "+-" or float(shown) == 0.0
        assert float(shown) != 0.0 or shown[0] not in "+-"


def test_sizes_of_events_are_converted_only_where_they_can_be() -> None:
    assert quantity_text(2.0, "kg", LB) == "4.41 lb"
    assert quantity_text(-0.5, "kg/d", KG) == "-0.50 kg/day"
    assert quantity_text(31.0, "Cel", LB) == "87.8 °F"
    assert quantity_text(26.0, "h", KG) == "26 h"
    assert quantity_text(None, "kg", KG) == "-"


def test_moments_are_local_on_both_sides_of_a_clock_change() -> None:
    """Clocks in Brussels went back on 25 October 2026 at 01:00 UTC: the hour from two to three comes twice."""
    zone = ZoneInfo("Europe/Brussels")
    before = 1_792_888_200_000  # 2026-10-25T00:30:00Z
    assert local(before, zone) == "2026-10-25 02:30"
    assert local(before + HOUR, zone) == "2026-10-25 02:30"
    assert local(before + 2 * HOUR, zone) == "2026-10-25 03:30"


@pytest.mark.parametrize(
    ("millis", "text"),
    [
        (0, "less than a minute"),
        (MINUTE, "1 minute"),
        (90 * MINUTE, "90 minutes"),
        (2 * HOUR, "2 hours"),
        (47 * HOUR, "47 hours"),
        (2 * DAY, "2 days"),
        (1500 * DAY, "1,500 days"),
    ],
)
def test_spans_are_said_in_the_largest_unit_that_says_enough(millis: int, text: str) -> None:
    assert span(millis) == text


def test_what_a_stranger_sent_cannot_disturb_the_terminal() -> None:
    assert harmless("scale\x1b[2J\x07 über\n") == "scale\\x1b[2J\\x07 über\\n"


def test_a_plain_table_is_aligned_and_has_no_trailing_blanks() -> None:
    table = plain_table(["Hive", "kg"], [["o1", "8.1"], ["long name", "48.2"]], right=[1])
    assert table == "Hive         kg\no1          8.1\nlong name  48.2"


def test_wrapped_text_keeps_words_whole_and_within_the_width() -> None:
    text = wrapped("nectar is coming in and the super will be full on Saturday", 30, "  ", "- ")
    lines = text.splitlines()
    assert lines[0].startswith("- nectar")
    assert all(line.startswith("  ") for line in lines[1:])
    assert max(map(len, lines)) <= 30


def test_the_units_a_configuration_may_name_are_those_intake_converts() -> None:
    """The checker's list and the converter agree, both ways."""
    known = {unit for units in UNITS_ACCEPTED.values() for unit in units}
    for quantity in Quantity:
        assert {unit for unit in known if can_convert(unit, quantity)} == set(UNITS_ACCEPTED[quantity])

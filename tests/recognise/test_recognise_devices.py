"""What overheard messages are taken for: quantity and unit by names and ranges, how sure, and what is left alone."""

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.config import UnitSettings, parse
from hivemon.intake.link import Message
from hivemon.intake.translate import Translator
from hivemon.model import Quantity
from hivemon.recognise.devices import device_table, overhear, unreadable
from hivemon.recognise.names import pieces, read_names
from hivemon.recognise.plausible import doubts
from hivemon.recognise.ranges import Proposal, Sureness, propose
from hivemon.rules import StepRule

CONFIG = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[[hive]]
id = "h1"
yard = "orchard"

[[hive]]
id = "h2"
yard = "orchard"
name = "Blue hive"
"""
SETTINGS = parse(CONFIG)
AT = 1_781_265_600_000


def heard(topic: str, *payloads: object):
    texts = [p if isinstance(p, str) else json.dumps(p) for p in payloads]
    messages = [Message(topic, text.encode(), AT + 5000 * n, False, (0, 0)) for n, text in enumerate(texts)]
    return overhear(messages, SETTINGS, "orchard")


@pytest.mark.parametrize(
    ("topic", "payload", "quantity", "unit", "sureness", "hive"),
    [
        ("barn/h1/weight_kg", "48.2", Quantity.WEIGHT, "kg", Sureness.SURE, "h1"),
        ("barn/h1/gewicht", "48200", Quantity.WEIGHT, "g", Sureness.LIKELY, "h1"),
        ("barn/h1/mass", "250", Quantity.WEIGHT, "lb", Sureness.LIKELY, "h1"),
        ("barn/h1/weight", "106.3", Quantity.WEIGHT, "kg", Sureness.GUESS, "h1"),  # 106 kg or 106 lb: who knows
        ("barn/blue-hive/weight_lbs", "106.3", Quantity.WEIGHT, "lb", Sureness.LIKELY, "h2"),
        ("barn/h1/broodTemp", "34.8", Quantity.TEMPERATURE, "Cel", Sureness.LIKELY, "h1"),
        ("barn/h1/temp", "94.6", Quantity.TEMPERATURE, "degF", Sureness.LIKELY, "h1"),
        ("barn/h1/temp", "24.0", Quantity.TEMPERATURE, "Cel", Sureness.GUESS, "h1"),
        ("barn/h1/temp", "308.1", Quantity.TEMPERATURE, "Cel", Sureness.LIKELY, "h1"),
        ("barn/h1/vochtigheid", "61", Quantity.HUMIDITY, "%RH", Sureness.LIKELY, "h1"),
        ("barn/h1/battery", "3920", Quantity.BATTERY, "mV", Sureness.LIKELY, "h1"),
        ("weather/temp_c", "18.0", Quantity.OUTSIDE_TEMPERATURE, "Cel", Sureness.SURE, None),
        ("weather/rain", "0.2", Quantity.RAIN, "mm", Sureness.GUESS, None),
    ],
)
def test_names_and_ranges_give_quantity_unit_and_how_sure(topic, payload, quantity, unit, sureness, hive) -> None:
    (one,) = heard(topic, payload)
    assert isinstance(one.reading, Proposal)
    assert (one.reading.quantity, one.reading.form.unit, one.sureness) == (quantity, unit, sureness)
    assert (one.placed.hive if one.placed else None) == hive
    assert one.reading.why


@pytest.mark.parametrize(
    ("topic", "payloads", "why"),
    [
        ("barn/h1/battery", ["87"], "percent"),
        ("barn/h1/weight", ["8388607"], "hivemon calibrate"),
        ("barn/h1/weight_raw", ["51600"], "hivemon calibrate"),
        ("barn/h1/rssi", ["-71"], "nothing hivemon measures"),
        ("barn/h1", ["48.2"], "says no quantity"),
        ("weather/rain", ["10.2", "10.2", "10.6", "11.0"], "running total"),
    ],
)
def test_what_cannot_be_told_or_taken_is_said_with_its_reason(topic, payloads, why) -> None:
    (one,) = heard(topic, *payloads)
    assert isinstance(one.reading, str)
    assert why in one.reading
    assert one.sureness is None


def test_json_is_walked_to_its_numbers_and_its_time_is_found() -> None:
    payload = {"device": {"time": "2026-06-12T10:00:00Z", "name": "h2"}, "data": {"weight_kg": 41.5, "rssi": -80}}
    by_pointer = {one.key.pointer: one for one in heard("up/7", payload)}
    assert set(by_pointer) == {"/data/weight_kg", "/data/rssi"}
    assert by_pointer["/data/weight_kg"].time_pointer is None  # beside the device, not above the number
    flat = {"ts": AT // 1000, "readings": [{"n": "weight", "u": "lb", "v": 105.0}, {"n": "temp", "u": "F", "v": 95}]}
    one, other = heard("up/h1", flat, flat)
    assert (one.key.pointer, one.time_pointer, one.seconds) == ("/readings/0/v", "/ts", 5.0)
    assert isinstance(one.reading, Proposal)
    assert isinstance(other.reading, Proposal)
    assert (one.reading.form.unit, other.reading.form.unit) == ("lb", "degF")


@pytest.mark.parametrize("farewell", ["offline", "", "{", '{"state": "gone"}', "[]"])
def test_a_last_will_that_is_no_reading_costs_nothing(farewell) -> None:
    """A broker says a node's last will on its topic when the node is lost (MQTT 5.0, 3.1.2.5)."""
    (one,) = heard("barn/h1", {"ts": 1781265600, "weight": 48.2}, farewell)
    assert (one.key.pointer, one.values, one.time_pointer) == ("/weight", [48.2], "/ts")


def test_milliseconds_are_no_time_a_device_table_understands() -> None:
    (one,) = heard("up/h1", {"time": AT, "weight_kg": 41.5})
    assert one.time_pointer is None


def test_two_sensors_for_one_curve_are_not_both_proposed() -> None:
    first, second = heard("barn/h1", {"weight_kg": 48.0, "weight": 48.1})
    assert not first.note
    assert "two sensors would make one wrong curve" in second.note


def test_what_holds_no_number_is_named() -> None:
    messages = [Message("a", b"hello", AT, False, (0, 0)), Message("b", b"\xff\x00", AT, False, (0, 0))]
    assert unreadable(messages) == ["a", "b"]
    assert overhear(messages, SETTINGS, "orchard") == []


@pytest.mark.parametrize(
    ("topic", "payload", "value"),
    [
        ("barn/h1/weight_lb", "100", 45.359237),  # NIST SP 811: 1 lb = 0.45359237 kg
        ("barn/h1/temp_f", "95", 35.0),  # NIST SP 811: (°F - 32) x 5/9
        ("barn/h1/temp", "308.15", 35.0),  # SI: 0 °C = 273.15 K
        ("barn/h1/humidity", "0.61", 61.0),
        ('we "ird\\/h1/weight_g', "41500", 41.5),
    ],
)
def test_the_table_that_is_proposed_loads_and_gives_the_value(topic, payload, value) -> None:
    (one,) = heard(topic, payload)
    settings = parse(CONFIG + device_table(one, "orchard"))
    (reading,) = Translator(settings).readings(topic, payload.encode(), AT)
    assert (reading.hive, reading.value) == ("h1", pytest.approx(value))


def test_ids_of_hives_are_no_quantities() -> None:
    """h1 is a hive, not a humidity; c is Celsius only where it stands nearest."""
    assert pieces("h1") == ["1"]
    assert read_names(["yard c", "weight"]).unit == ""
    assert read_names(["barn", "t"]).quantity is Quantity.TEMPERATURE
    assert pieces("Température °C (außen)") == ["temperature", "°c", "aussen"]


@given(st.text(max_size=20), st.floats(-1e9, 1e9))
def test_any_name_and_number_gives_a_proposal_or_a_reason(name, number) -> None:
    said = propose(read_names([name]), np.array([number]), UnitSettings())
    assert isinstance(said, Proposal) or said


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=4),
        max_leaves=12,
    )
)
def test_any_json_is_survived_and_every_table_proposed_loads(document) -> None:
    for one in heard("barn/h1/weight", json.dumps(document)):
        if isinstance(one.reading, Proposal) and one.sureness is not None:
            assert parse(CONFIG + device_table(one, "orchard"))


@pytest.mark.parametrize(
    ("kilograms", "said"),
    [
        ([0.02, 0.03], "no hive"),
        ([9.0], "less than floor"),
        ([41.0, 41.1], None),
        ([480.0], "more than a hive"),
        ([41.0, 42.0], "moved by 1.00 kg"),
    ],
)
def test_first_weights_are_checked_for_what_a_hive_can_weigh(kilograms, said) -> None:
    found = doubts(np.array(kilograms), StepRule())
    assert found == [] if said is None else said in found[0]

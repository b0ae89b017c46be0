"""What is written as line protocol, an independent parser (line-protocol-parser on PyPI) reads back."""

import math
import re
import sys

import msgspec
import pytest
from hypothesis import assume, given
from line_protocol_parser import parse_line
from store_samples import advisories, events, hive_days, readings

from hivemon.model import Advisory, Event, HiveDay, Kind, Quantity, Reading, Urgency
from hivemon.store.points import alive_line, to_line

CONTROL = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]+")


def as_tag(text):
    return CONTROL.sub("_", text).replace("\\", "_")


def as_text(text):
    return CONTROL.sub(" ", text)


def check(line, measurement, time, tags, fields):
    """One line; the same time; tags that are not empty; every finite number and every text."""
    # The parser refuses numbers below the smallest normal double; the real servers are asked in tests/real.
    assume(all(not isinstance(v, float) or v == 0 or abs(v) >= sys.float_info.min for v in fields.values()))
    assert len(line.splitlines()) == 1
    parsed = parse_line(line)
    assert (parsed["measurement"], parsed["time"]) == (measurement, time)
    assert parsed["tags"] == {name: as_tag(value) for name, value in tags.items() if value}
    wanted = {}
    for name, value in fields.items():
        if isinstance(value, str):
            wanted[name] = as_text(value)
        elif value is not None and math.isfinite(value):
            wanted[name] = value
    assert parsed["fields"] == wanted
    assert {name: type(value) for name, value in parsed["fields"].items()} == {n: type(v) for n, v in wanted.items()}


def test_a_reading_is_written_as_documented():
    reading = Reading(1_750_000_000_000, "orchard", "o1", Quantity.WEIGHT, 52.25)
    assert to_line(reading) == "reading,hive=o1,quantity=weight,yard=orchard value=52.25 1750000000000"
    own = Reading(1_750_000_000_000, "orchard", None, Quantity.RAIN, 3.0, stamped=True)
    assert to_line(own).startswith("reading,quantity=rain,yard=orchard ")
    assert parse_line(to_line(own))["fields"] == {"value": 3.0, "stamped": True}


@given(readings)
def test_any_reading_is_read_back(reading):
    tags = {"yard": reading.yard, "hive": reading.hive, "quantity": reading.quantity.value}
    fields = {"value": reading.value} | ({"stamped": True} if reading.stamped else {})
    check(to_line(reading), "reading", reading.time, tags, fields)


@given(events)
def test_any_event_is_read_back(event):
    tags = {"yard": event.yard, "hive": event.hive, "kind": event.kind.value, "id": event.id}
    fields = {
        "onset": event.onset,
        "onset_first": event.onset_first,
        "size": event.size,
        "unit": event.unit,
        "confidence": event.confidence,
        "reason": event.reason,
        "summary": event.summary,
        "withdrawn": event.withdrawn is not None,
        "withdrawn_at": event.withdrawn,
        "withdrawn_because": event.withdrawn_because,
    }
    check(to_line(event), "event", event.raised, tags, fields)


@given(advisories)
def test_any_advisory_is_read_back(advisory):
    tags = {"yard": advisory.yard, "hive": advisory.hive, "id": advisory.id}
    fields = {
        "updated": advisory.updated,
        "closed": advisory.closed is not None,
        "closed_at": advisory.closed,
        "urgency": advisory.urgency.value,
        "title": advisory.title,
        "saw": advisory.saw,
        "means": advisory.means,
        "could_also_be": "; ".join(advisory.could_also_be),
        "do": " ".join(f"{number}. {step}" for number, step in enumerate(advisory.do, 1)),
        "do_by": advisory.do_by,
        "cautions": " ".join(advisory.cautions),
        "events": " ".join(advisory.events),
    }
    check(to_line(advisory), "advisory", advisory.raised, tags, fields)


@given(hive_days)
def test_any_hive_day_is_read_back(day):
    fields = {name: getattr(day, name) for name in HiveDay.__struct_fields__ if name not in ("yard", "hive", "start")}
    check(to_line(day), "hive_day", day.start, {"yard": day.yard, "hive": day.hive}, fields)


def test_whole_numbers_stay_decimals_so_that_a_field_never_changes_its_type():
    event = Event(
        id="e", kind=Kind.SWARM, yard="y", hive="h", onset=1, onset_first=1, raised=1, size=2, confidence=1,
        reason="", summary="",
    )  # fmt: skip
    day = HiveDay(yard="y", hive="h", date="2026-05-01", start=1, dusk=2, end=3, net_gain=1, handled=0, coverage=1)
    assert isinstance(parse_line(to_line(event))["fields"]["size"], float)
    assert isinstance(parse_line(to_line(day))["fields"]["net_gain"], float)
    assert isinstance(parse_line(to_line(Reading(1, "y", "h", Quantity.WEIGHT, 50)))["fields"]["value"], float)


@pytest.mark.parametrize("closed", [None, 9])
def test_an_update_has_the_same_measurement_tags_and_time(closed):
    before = Advisory(
        id="a", yard="y", hive=None, raised=5, updated=5, urgency=Urgency.TODAY, title="Look", saw="", means=""
    )
    after = msgspec.structs.replace(before, updated=9, closed=closed, urgency=Urgency.NOW, title="Look now")
    key = [(p["measurement"], p["tags"], p["time"]) for p in map(parse_line, map(to_line, (before, after)))]
    assert key[0] == key[1]


def test_the_sign_of_life_is_one_plain_point():
    assert alive_line(5) == "hivemon,part=sender alive=1i 5"

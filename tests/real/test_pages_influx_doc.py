"""The questions in INFLUXDB.md, asked of a real InfluxDB that holds what hivemon sends: each has an answer."""

import re
import time
from pathlib import Path

import pytest
from influx_servers import Influx

from hivemon.model import Advisory, Event, HiveDay, Kind, Quantity, Reading, Urgency
from hivemon.store.points import to_line

NOW = time.time_ns() // 1_000_000 - 3_600_000
ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "grafana-free-dashboards" / "INFLUXDB.md"
QUESTIONS = re.findall(r"```influxql\n(.*?)```", DOCUMENT.read_text(), re.DOTALL)


def sent():
    """One of everything, as hivemon writes it."""
    where = {"yard": "orchard", "hive": "o1"}
    yield Reading(NOW, "orchard", "o1", Quantity.WEIGHT, 41.5)
    yield Reading(NOW, "orchard", "o1", Quantity.TEMPERATURE, 34.6)
    yield Reading(NOW, "orchard", None, Quantity.OUTSIDE_TEMPERATURE, 16.0)
    yield HiveDay(date="2025-05-27", start=NOW, dusk=NOW + 1, end=NOW + 2, net_gain=1.2, **where)
    yield Event(
        id="e", kind=Kind.SWARM, onset=NOW, onset_first=NOW, raised=NOW, size=3.3, unit="kg", confidence=0.9,
        reason="r", summary="s", **where,
    )  # fmt: skip
    yield Advisory(id="a", raised=NOW, updated=NOW, urgency=Urgency.TODAY, title="t", saw="s", means="m", **where)


@pytest.fixture
def influx(tmp_path):
    server = Influx(tmp_path / "influx")
    server.start()
    yield server
    server.stop()


def test_every_question_in_the_document_has_an_answer(influx):
    """No error, and at least one row of what was written."""
    assert len(QUESTIONS) >= 6
    for item in sent():
        influx.put(to_line(item))
    for question in QUESTIONS:
        assert influx.ask(question), question


def test_every_field_in_the_document_is_written_and_every_written_one_is_in_it():
    """The table names what the line protocol carries."""
    rows = dict(re.findall(r"^\| `(\w+)` \|(.*)\|$", DOCUMENT.read_text(), re.MULTILINE))
    source = (ROOT / "hivemon" / "store" / "points.py").read_text()
    for measurement, function in {"hive_day": "_hive_day", "event": "_event", "advisory": "_advisory"}.items():
        body = re.search(rf"def {function}\(.*?\n    return point", source, re.DOTALL)[0]
        fields = set(re.findall(r"^        (\w+)=", body, re.MULTILINE)) | (
            {"date"} if measurement == "hive_day" else set()
        )
        named = set(re.findall(r"`(\w+)`", rows[measurement])) - {"yard", "hive", "kind", "id"}
        assert named == fields, measurement

"""The held-out seasons of tests/bench/other_world: their truth must be in their rows, and their files readable."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from other_world.clock import PER_DAY, Clock
from other_world.families import FAMILIES
from other_world.season import make
from other_world.yard_truth import RULES, runs
from scoring import millis

from hivemon import config
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import MINUTE, Kind, Quantity, Series, Stream

SEED = 3


@pytest.fixture(scope="module")
def seasons(tmp_path_factory):
    """One season of each family: its folder and its truth as written."""
    store = tmp_path_factory.mktemp("seasons")
    for name in FAMILIES:
        make(name, SEED, store / name)
    return {name: (store / name, json.loads((store / name / "truth.json").read_text())) for name in FAMILIES}


def streams(folder, rejected=None):
    """All streams of a folder, whole."""
    parts = {}
    # All batches of a file, glued together.
    for batch in read_readings(folder / "readings.csv.gz", rejected=rejected):
        for found in batch.values():
            for stream, series in found.items():
                parts.setdefault(stream, []).append(series)
    return {stream: Series(*map(np.concatenate, zip(*found, strict=True))) for stream, found in parts.items()}


def swarms(truth):
    return [e for e in truth["events"] if e["kind"] == "swarm" and e["clear"]]


def test_every_row_and_line_can_be_read(seasons):
    for name, (folder, truth) in seasons.items():
        refused = []
        found = streams(folder, rejected=lambda *row, to=refused: to.append(row))
        # A probe's -127 and the like are values, not refusals; nothing else may be wrong with a row.
        assert refused == [], name
        settings = config.load(folder / "hivemon.toml")
        assert {h.id for h in settings.hives_of(truth["yard"])} == set(truth["hives"])
        assert {s.hive for s in found if s.hive} == set(truth["hives"])
        assert all(line.hive in truth["hives"] for line in read_logbook(folder / "logbook.csv"))


def test_same_seed_same_season_other_seed_another(tmp_path):
    for number, seed in enumerate((5, 5, 6)):
        make("hobby", seed, tmp_path / str(number))
    read = [(tmp_path / str(n) / "readings.csv.gz").read_bytes() for n in range(3)]
    assert read[0] == read[1] != read[2]


def test_events_have_the_fields_that_scoring_reads(seasons):
    for _, truth in seasons.values():
        begins, ends = millis(truth["start"]), millis(truth["end"])
        for event in truth["events"]:
            assert Kind(event["kind"])
            assert event["hive"] is None or event["hive"] in truth["hives"]
            assert begins <= millis(event["onset"]) <= ends
            assert event["end"] is None or millis(event["onset"]) <= millis(event["end"])


def test_a_clear_swarm_takes_its_weight_off_the_scale(seasons, tmp_path):
    seen = 0
    for folder, truth in (seasons["swarm-spring"], (tmp_path, make("swarm-spring", 1, tmp_path))):
        found = streams(folder)
        for event in swarms(truth):
            rows = found[Stream(event["hive"], Quantity.WEIGHT)]
            before = rows.between(millis(event["onset"]) - 4 * MINUTE, millis(event["onset"])).value
            after = rows.between(millis(event["end"]), millis(event["end"]) + 4 * MINUTE).value
            # Foragers and gusts come on top; neither moves 0.35 kg in a few minutes of swarming weather.
            assert np.median(before) - np.median(after) == pytest.approx(event["size"], abs=0.35)
            seen += 1
    assert seen >= 5


def test_swarms_leave_in_daylight_within_twenty_minutes_and_weigh_what_swarms_weigh(seasons):
    for folder, truth in seasons.values():
        east = config.load(folder / "hivemon.toml").find_yard(truth["yard"]).longitude
        for event in swarms(truth):
            solar = (millis(event["onset"]) / MINUTE / 60 + east / 15) % 24
            assert 9.5 < solar < 16
            assert 3 <= (millis(event["end"]) - millis(event["onset"])) / MINUTE <= 20
            assert 0.1 < event["size"] <= 5  # afterswarms can be small


def test_nothing_happens_in_the_uneventful_yard(tmp_path):
    for seed in (1, 2):
        truth = make("uneventful", seed, tmp_path / str(seed))
        loud = [e for e in truth["events"] if e.get("clear") and e["kind"] not in ("sensor-fault", "unlogged-step")]
        assert loud == []


def test_clear_brood_trouble_is_in_the_probe_s_rows(tmp_path):
    limits = {"brood-cold": lambda t: np.percentile(t, 5) < 32, "brood-hot": lambda t: np.percentile(t, 95) > 36.5}
    seen = 0
    for name, seed in (("white-nights", 2), ("white-nights", 3), ("desert-research", 2)):
        truth = make(name, seed, tmp_path / f"{name}{seed}")
        found = streams(tmp_path / f"{name}{seed}")
        for event in truth["events"]:
            if event["kind"] in limits and event["clear"]:
                rows = found[Stream(event["hive"], Quantity.TEMPERATURE)]
                stop = millis(event["end"] or truth["end"])
                assert limits[event["kind"]](rows.between(millis(event["onset"]), stop).value)
                seen += 1
    assert seen >= 3


def test_the_rule_on_days_counted_by_hand():
    gain = np.array([0.0] * 6 + [0.6] * 8 + [0.0] * 3 + [-0.2] * 9 + [0.0] * 8)
    flow, dearth = runs(gain, np.ones(gain.size, bool), RULES[0])
    assert (flow.what, flow.first, flow.stop) == ("flow", 6, 14)
    assert (dearth.what, dearth.first, dearth.stop) == ("dearth", 17, 26)


def test_days_without_flight_neither_end_a_flow_nor_make_a_dearth():
    gain = np.array([0.0] * 5 + [0.7] * 4 + [-0.4] * 4 + [0.7] * 4)
    assert [r.what for r in runs(gain, gain != -0.4, RULES[0])] == ["flow"]


def test_the_sun_stands_highest_at_noon_and_never_sets_in_the_north_in_june():
    from datetime import date  # noqa: PLC0415

    height = Clock(date(2024, 6, 20), 1, 67.3, 23.4).sun()
    assert abs(int(height.argmax()) - PER_DAY // 2) <= 1
    assert height.min() > 0
    # Noon height on midsummer: 90 - latitude + 23.44 degrees (spherical astronomy).
    assert np.degrees(np.arcsin(height.max())) == pytest.approx(90 - 67.3 + 23.44, abs=0.5)

"""The seasons of tests/bench/third_world: the same each time, readable, true to the rule and to published swarms."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from scoring import millis
from third_world import bees, day, sky
from third_world.families import FAMILIES
from third_world.season import make
from third_world.yard_truth import yard

from hivemon import config
from hivemon.intake.files import read_logbook, read_readings
from hivemon.model import MINUTE, Kind, Quantity

FILES = ("readings.csv.gz", "logbook.csv", "hivemon.toml", "truth.json")


@pytest.fixture(scope="module")
def seasons(tmp_path_factory):
    """A yard with swarms, and a single hive with air and rain measured, in folders by family; of a seed looked at."""
    store = tmp_path_factory.mktemp("seasons")
    for name in ("no-outside", "backyard-hourly"):
        make(name, 1, store / name)
    return store


def weights(folder):
    """All weights of a folder by hive: times and values."""
    parts = {}
    for batch in read_readings(folder / "readings.csv.gz"):
        for found in batch.values():
            for stream, series in found.items():
                if stream.quantity is Quantity.WEIGHT:
                    parts.setdefault(stream.hive, []).append((series.time, series.value))
    return {hive: tuple(map(np.concatenate, zip(*found, strict=True))) for hive, found in parts.items()}


def test_same_seed_same_files_other_seed_others(seasons, tmp_path):
    first = seasons / "backyard-hourly"
    told = make("backyard-hourly", 1, tmp_path / "again")
    assert all((first / name).read_bytes() == (tmp_path / "again" / name).read_bytes() for name in FILES)
    assert told == json.loads((first / "truth.json").read_text())
    make("backyard-hourly", 2, tmp_path / "other")
    assert (first / FILES[0]).read_bytes() != (tmp_path / "other" / FILES[0]).read_bytes()


@pytest.mark.parametrize("name", ["no-outside", "backyard-hourly"])
def test_every_row_line_and_event_can_be_read(seasons, name):
    folder, refused, found = seasons / name, [], set()
    truth = json.loads((folder / "truth.json").read_text())
    for batch in read_readings(folder / "readings.csv.gz", rejected=lambda *row: refused.append(row)):
        found.update(*batch.values())
    assert refused == []
    settings = config.load(folder / "hivemon.toml")
    assert {h.id for h in settings.hives_of(truth["yard"])} == {s.hive for s in found if s.hive} == set(truth["hives"])
    assert any(s.quantity is Quantity.RAIN for s in found) is FAMILIES[name].gauge
    lines = read_logbook(folder / "logbook.csv")
    assert lines
    assert all(line.hive in truth["hives"] for line in lines)
    for event in truth["events"]:
        assert Kind(event["kind"])
        assert event["hive"] is None or event["hive"] in truth["hives"]
        assert millis(truth["start"]) <= millis(event["onset"]) <= millis(truth["end"])
        assert event["end"] is None or millis(event["onset"]) <= millis(event["end"])


def test_a_clear_swarm_takes_its_weight_off_the_scale(seasons):
    truth, found = json.loads((seasons / "no-outside" / "truth.json").read_text()), weights(seasons / "no-outside")
    clear = [e for e in truth["events"] if e["kind"] == "swarm" and e["clear"]]
    for event in clear:
        time, value = found[event["hive"]]
        leaves, gone = millis(event["onset"]), millis(event["end"])
        before = value[(time >= leaves - 20 * MINUTE) & (time <= leaves)]
        after = value[(time >= gone) & (time <= gone + 20 * MINUTE)]
        # Foragers and nectar come on top.
        assert np.median(before) - np.median(after) == pytest.approx(event["size"], abs=0.3)
    assert len(clear) >= 4


def test_prime_swarms_are_as_published():
    """Masses: 5,000 to 30,000 bees (Fell and others 1977) of 130 to 165 mg (Combs 1972; Otis 1982), all from memory."""
    family, seen = FAMILIES["rape-and-lime"], 0
    for seed in (1, 2, 3):
        rng = np.random.default_rng(seed)
        grid = sky.grid(family, 90)
        weather = sky.weather(family.climate, family, grid, rng)
        fates = bees.fates(family, 4, grid.days, rng)
        colonies = bees.live(family, fates, day.forage(family, grid, rng)[0], grid, weather, rng)
        for swarm in (x for x in colonies.departures if x.kind == "prime" and x.returned_at is None):
            eve, after = colonies.adults[swarm.hive, grid.day[swarm.at] - 1 : grid.day[swarm.at] + 1]
            assert 0.65 <= swarm.kg <= 4.8
            assert 0.000_130 <= swarm.kg / (eve - after) <= 0.000_165
            # From less than "about half" of the textbooks, as brood hatches that day, to Rangel & Seeley 2012.
            assert 0.4 <= 1 - after / eve <= 0.75
            # Burgett & Morse 1974 and Winston 1987, both from memory.
            assert 10 <= grid.solar[swarm.at] <= 15.5
            assert 5 <= swarm.minutes <= 20
            seen += 1
    assert seen >= 3


def judged(gain, hours):
    """Kind, first day and last of the rows that are clear, of a dry yard whose hives all gain the same."""
    rows = yard(gain, gain, gain, hours, np.zeros(gain.size))
    return [(r["kind"], r["day"], r["stop_day"]) for r in rows if r["clear"]]


def test_the_rule_on_days_counted_by_hand():
    gain = np.array([0.0] * 8 + [0.9] * 10 + [0.0] * 5 + [-0.3] * 14 + [0.0] * 12)
    assert judged(gain, np.full(gain.size, 8.0)) == [
        ("flow-onset", 8, 18),
        ("flow-end", 18, 18),
        ("dearth-onset", 23, 37),
        ("dearth-end", 37, 37),
    ]


def test_days_without_flight_neither_end_a_flow_nor_make_a_dearth():
    gain = np.array([0.0] * 8 + [0.9] * 6 + [-0.4] * 8 + [0.9] * 6 + [0.0] * 8)
    assert judged(gain, np.where(gain < 0, 0.0, 8.0)) == [("flow-onset", 8, 28), ("flow-end", 28, 28)]

"""The committed recordings: as promised, within the contract, small, and made again to the byte."""

import gzip
import tomllib
from datetime import datetime

import numpy as np
import pytest
from streams_yards import rows_of, series_of, truth_of

from sample_streams.__main__ import main
from sample_streams.recordings import ALL, FOLDER, make

FILES = {"readings.csv.gz", "daily.csv.gz", "logbook.csv", "hivemon.toml", "truth.json"}


def content(path):
    """Bytes of a file, unpacked (compressors differ between systems)."""
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


@pytest.mark.parametrize("name", ["meadow-quiet", "orchard-swarm"])
def test_a_recording_is_made_again_to_the_byte(name, tmp_path):
    make(name, tmp_path)
    assert {p.name for p in (tmp_path / name).iterdir()} == FILES
    for file in FILES:
        assert content(tmp_path / name / file) == content(FOLDER / name / file), file


def test_recordings_are_small():
    sizes = {name: sum(p.stat().st_size for p in (FOLDER / name).iterdir()) for name in ALL}
    assert max(sizes.values()) < 1_500_000
    assert sum(sizes.values()) < 5_000_000
    assert {p.name for p in FOLDER.iterdir()} == set(ALL)


@pytest.mark.parametrize("name", list(ALL))
def test_a_recording_is_sorted_complete_and_of_its_hives(name):
    rows = rows_of(FOLDER / name)
    config = tomllib.loads((FOLDER / name / "hivemon.toml").read_text(encoding="utf-8"))
    t = np.array([r["t"].timestamp() for r in rows])
    assert (np.diff(t) >= 0).all()
    assert {r["hive"] for r in rows} == {h["id"] for h in config["hive"]} | {""}
    step = 60 * ALL[name].scenario.sampling.minutes
    for hive in config["hive"]:
        for quantity in ("weight", "temperature", "humidity"):
            times, values = series_of(rows, hive["id"], quantity)
            assert set(np.diff(times)) == {step}
            assert len(values) == pytest.approx(ALL[name].scenario.days * 86400 / step, abs=1)


def kinds(name):
    """Kinds of true events in order."""
    return [e["kind"] for e in truth_of(FOLDER / name)["events"]]


def test_each_recording_tells_its_story():
    assert kinds("orchard-swarm") == ["flow-onset", "swarm"]
    assert kinds("heath-flow") == ["flow-onset", "flow-end", "dearth-onset", "robbing"]
    assert kinds("hillside-heat")[0] == "brood-hot"
    assert all(k.startswith("brood-") for k in kinds("hillside-heat"))
    assert kinds("meadow-quiet") == []
    assert all(
        e["clear"] for n in ("orchard-swarm", "heath-flow") for e in truth_of(FOLDER / n)["events"] if "clear" in e
    )


def test_the_orchard_loses_its_swarm_at_the_true_time_and_only_there():
    """The weight of o1 falls by the swarm's size between the readings around it; the quiet hives hold theirs."""
    rows, truth = rows_of(FOLDER / "orchard-swarm"), truth_of(FOLDER / "orchard-swarm")
    event = next(e for e in truth["events"] if e["kind"] == "swarm")
    onset, end = (datetime.fromisoformat(event[k]).timestamp() for k in ("onset", "end"))
    assert event["hive"] == "o1"
    for hive, fall in (("o1", event["size"]), ("o2", 0.0), ("o3", 0.0)):
        t, weight = series_of(rows, hive, "weight")
        assert weight[t < onset][-1] - weight[t > end][0] == pytest.approx(fall, abs=0.2)


def test_every_recording_has_logged_handling():
    for name in ALL:
        handled = truth_of(FOLDER / name)["handling"]
        logged = content(FOLDER / name / "logbook.csv").decode().splitlines()
        assert len(logged) == 1 + sum(h["logged"] for h in handled)
        assert len(logged) > 5


def test_the_command_line_lists_makes_and_refuses(tmp_path, capsys):
    assert main(["--list"]) == 0
    listed = capsys.readouterr().out
    assert "orchard-swarm" in listed
    assert "careless" in listed
    assert main(["hourly", "--seed", "3", "--days", "5", "--interval", "30", "--out", str(tmp_path / "x")]) == 0
    assert {p.name for p in (tmp_path / "x").iterdir()} == FILES
    t, _ = series_of(rows_of(tmp_path / "x"), "h1", "weight")
    assert np.median(np.diff(t)) in (900, 1800)
    for wrong in (
        ["nonsense", "--out", "x"],
        ["hourly"],
        ["hourly", "--out", "x", "--days", "1"],
        ["hourly", "--out", "x", "--interval", "90"],
    ):
        with pytest.raises(SystemExit) as stop:
            main(wrong)
        assert stop.value.code == 2
    assert "known: orchard-swarm" in capsys.readouterr().err

"""What is imported or logged is judged at once by the command, as the daemon would; and said in few words."""

import json
from pathlib import Path

import pytest
from cli_samples import advisory, day, event
from msgspec.structs import replace

from hivemon.cli import main
from hivemon.cli.judging import FEW, told
from hivemon.config import load
from hivemon.daemon.lock import Lock

ORCHARD = Path(__file__).parents[2] / "sample_streams" / "recordings" / "orchard-swarm"
FILES = ["--readings", str(ORCHARD / "readings.csv.gz"), "--logbook", str(ORCHARD / "logbook.csv")]


@pytest.fixture
def imported(tmp_path, monkeypatch, capsys):
    """The season of the orchard in a store; returns its configuration and what the import said."""
    config = tmp_path / "hivemon.toml"
    config.write_text((ORCHARD / "hivemon.toml").read_text())
    monkeypatch.setenv("HIVEMON_CONFIG", str(config))
    assert main(["import", *FILES]) == 0
    return config, capsys.readouterr()


def lines(path: Path) -> list[dict[str, object]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_an_import_says_what_a_replay_of_the_same_files_says(imported, tmp_path) -> None:
    """One fold: events, advice and hive days are the same by either way."""
    names = [tmp_path / name for name in ("e1", "a1", "d1", "e2", "a2", "d2")]
    assert main(["export", "--events", str(names[0]), "--advice", str(names[1]), "--days", str(names[2])]) == 0
    written = ["--out", str(names[3]), "--advice", str(names[4]), "--days", str(names[5])]
    assert main(["replay", *FILES, *written]) == 0
    assert "swarm" in {line["kind"] for line in lines(names[0])}
    for first, second in zip(names[:3], names[3:], strict=True):
        known = sorted(lines(first), key=str)
        assert known
        assert known == sorted(lines(second), key=str)
    standing = {line["title"] for line in lines(names[1]) if line["closed"] is None}
    assert standing
    assert {line.removeprefix("Advice: ") for line in imported[1].out.splitlines() if "Advice: " in line} == standing


@pytest.mark.usefixtures("imported")
def test_a_late_entry_takes_back_what_it_explains_and_striking_it_brings_it_back(capsys) -> None:
    """A split entered weeks late explains the loss; struck again, it was a swarm after all."""
    (swarm,) = [e for e in events(capsys) if e["kind"] == "swarm"]
    when = str(swarm["onset"])
    assert main(["log", "add", "o1", "split", "--kg", "3", "--at", when]) == 0
    said = capsys.readouterr().out
    number = said.split("number ")[1].split(":")[0]
    assert f"Taken back, o1: {swarm['summary']}" in said
    (later,) = [e for e in events(capsys) if e["id"] == swarm["id"]]
    assert later["withdrawn"] is not None
    assert main(["log", "strike", number]) == 0
    assert f"Event, o1: {swarm['summary']}" in capsys.readouterr().out
    (again,) = [e for e in events(capsys) if e["id"] == swarm["id"]]
    assert again["withdrawn"] is None


def events(capsys) -> list[dict[str, object]]:
    capsys.readouterr()
    assert main(["events", "--json"]) == 0
    found: list[dict[str, object]] = json.loads(capsys.readouterr().out)
    return found


def test_while_a_daemon_runs_judging_is_left_to_it(imported, capsys) -> None:
    with Lock.of(load(imported[0])):
        assert main(["log", "add", "o1", "inspect"]) == 0
        assert "The running daemon judges it in a moment." in capsys.readouterr().out


@pytest.mark.usefixtures("imported")
def test_a_hive_nobody_configured_is_taken_in_and_said(tmp_path, capsys) -> None:
    source = tmp_path / "in.csv"
    source.write_text("time,yard,hive,quantity,value\n2025-05-28T00:00:00Z,orchard,o9,weight,40.5\n")
    assert main(["import", "--readings", str(source)]) == 0
    assert "new hive o9 in yard orchard: taken in" in capsys.readouterr().err
    assert main(["log", "add", "o9", "inspect"]) == 0


@pytest.mark.usefixtures("imported")
def test_a_reading_of_a_year_to_come_is_a_bad_row_and_wrecks_nothing(tmp_path, capsys) -> None:
    """One mistyped year used to carry the whole yard there: advice closed, and no night known any more."""
    assert main(["overnight"]) == 0
    before = capsys.readouterr().out
    source = tmp_path / "one.csv"
    source.write_text("time,yard,hive,quantity,value\n2096-05-01T00:00:00Z,orchard,o1,weight,40\n")
    assert main(["import", "--readings", str(source)]) == 0
    said = capsys.readouterr()
    assert f"{source}, row 2: its time 2096-05-01T00:00:00Z lies in the future; mind the year" in said.err
    assert "Readings: 0 new, 0 known already, 1 bad row" in said.out
    assert main(["overnight"]) == 0
    assert capsys.readouterr().out == before
    written = tmp_path / "e.jsonl"
    assert main(["replay", "--readings", str(source), "--out", str(written)]) == 0
    assert "0 readings" in (said := capsys.readouterr().err)
    assert "1 bad rows" in said


def test_what_came_and_went_while_it_was_judged_is_not_told(settings) -> None:
    """Nobody ever saw it: only the difference between what stood and what stands counts."""
    known = {"e1": event(), advisory().id: advisory()}
    closed = replace(advisory(title="Fleeting"), closed=1)
    gone = replace(event(id="brief"), withdrawn=1, withdrawn_because="it was a harvest")
    assert told([advisory(title="Fleeting"), closed, event(id="brief"), gone], known, settings) == []
    assert told([replace(advisory(), closed=1), advisory(), event()], known, settings) == [], (
        "taken up again as it stood"
    )
    moved = [replace(event(), withdrawn=1, withdrawn_because="found anew"), event(id="e7", onset=event().onset + 1)]
    assert told(moved, known, settings) == [], "it goes on in the same words"
    assert len(told([moved[0], replace(moved[1], hive="o2")], known, settings)) == 2, (
        "of another hive it is another thing"
    )
    changed = replace(advisory(), title="Super due by Monday")
    assert told([advisory(), changed], known, settings) == ["Advice: Super due by Monday"]


@pytest.mark.usefixtures("imported")
def test_only_what_stands_or_stood_is_told_when_an_entry_is_struck(capsys) -> None:
    """Striking the supers of spring has the whole season judged again, and most of what follows is long over."""
    assert main(["log", "list", "--json"]) == 0
    supers = [e["id"] for e in json.loads(capsys.readouterr().out) if e["entry"] == "super-on"]
    assert supers
    for number in supers:
        before = standing(capsys)
        assert main(["log", "strike", str(number)]) == 0
        said = capsys.readouterr().out.splitlines()
        after = standing(capsys)
        assert {line.removeprefix("Closed: ") for line in said if line.startswith("Closed: ")} <= before - after
        assert {line.removeprefix("Advice: ") for line in said if line.startswith("Advice: ")} <= after - before


def standing(capsys) -> set[str]:
    capsys.readouterr()
    assert main(["advice", "--json"]) == 0
    return {advice["title"] for advice in json.loads(capsys.readouterr().out)}


def test_a_few_changes_are_told_one_by_one_and_many_are_counted(settings) -> None:
    gone = replace(event(), withdrawn=1, withdrawn_because="it was a harvest")
    closed = replace(advisory(title="Super due"), closed=1)
    new = advisory(title="Look at the nest")
    stood = {"gone": event(id="gone", hive="o2"), closed.id: advisory(title="Super due on Friday")}
    assert told([event(), replace(gone, id="gone", hive="o2"), closed, new, day("o1")], stood, settings) == [
        "Event, o1: A swarm of about 15,000 bees left.",
        "Taken back, Blue hive: A swarm of about 15,000 bees left.",
        "Closed: Super due on Friday",
        "Advice: Look at the nest",
    ]
    assert told([], stood, settings) == []
    many = [event(id=f"e{number}", hive=f"o{number}") for number in range(FEW + 1)]
    assert told([*many, closed, day("o1"), day("o1", 1)], {}, settings) == [
        f"Judged: {FEW + 1} events, 1 advisory (0 open), 2 hive days."
    ]

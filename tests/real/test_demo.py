"""`hivemon demo` as a newcomer runs it: a process of its own, real MQTT, a store that other commands can read."""

import re
import signal
import subprocess
import sys
import time

import pytest

from hivemon.cli import main
from hivemon.config import load
from hivemon.intake.files import read_logbook, read_readings
from hivemon.recordings import find
from hivemon.replay import LastVersions, replay
from hivemon.store import Store

COMMAND = [sys.executable, "-c", "import sys; from hivemon.cli import main; sys.exit(main())", "demo"]


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The demo at its fastest: its folder, what it said, and how long it took."""
    folder = tmp_path_factory.mktemp("demo")
    began = time.monotonic()
    done = subprocess.run(
        [*COMMAND, "--seconds", "5", "--folder", str(folder)], capture_output=True, text=True, timeout=120, check=False
    )
    return folder, done, time.monotonic() - began


def test_it_ends_by_itself_within_a_minute_and_without_a_complaint(played) -> None:
    _, done, seconds = played
    assert (done.returncode, done.stderr) == (0, "")
    assert seconds < 60


def test_its_account_tells_the_days_the_swarm_and_the_advice(played) -> None:
    said = played[1].stdout
    assert len(re.findall(r"^\w{3} [ \d]\d \w{3}   o1 ", said, re.MULTILINE)) >= 25, "a line for nearly every day"
    assert re.search(r"^ +\d\d:\d\d  swarm \(o1\): .* bees\.$", said, re.MULTILINE)
    # Ten hours after the swarm its advisory is for today; played this fast, both can fall into one fold.
    assert re.search(r"^ +-> (now|today): A swarm has \w+(?: \w+)? left hive o1$", said, re.MULTILINE)
    assert "in the logbook (o1): super-on" in said


def test_what_it_keeps_is_what_a_replay_of_its_recording_says(played) -> None:
    """Over real MQTT, in threads, at a thousand times the speed of life: the same events and advice."""
    found = find("orchard-swarm")
    settings = load(found.config)
    last = LastVersions()
    for change in replay(settings, read_readings(found.readings), read_logbook(found.logbook)):
        last.take(change)
    with Store.open(played[0] / "hivemon.db", read_only=True) as store:
        assert {event.id: event for event in store.events()} == {event.id: event for event in last.events}
        assert {a.id: a for a in store.advisories()} == {a.id: a for a in last.advisories}
        assert store.facts().integrity == []


def test_the_commands_it_proposes_work(played, capsys) -> None:
    proposed = re.findall(r"^  \S+ (\w+) --config (\S+)$", played[1].stdout, re.MULTILINE)
    assert [name for name, _ in proposed] == ["overnight", "note", "advice", "events", "log", "health"]
    for name, config in proposed:
        assert main([name, "--config", config]) == 0
    assert "Verdict" in capsys.readouterr().out


def test_a_folder_with_a_store_is_left_alone(played) -> None:
    again = subprocess.run(
        [*COMMAND, "--folder", str(played[0])], capture_output=True, text=True, timeout=60, check=False
    )
    assert (again.returncode, "there is a store" in again.stderr) == (2, True)


def test_ctrl_c_stops_it_in_order_and_keeps_what_came(tmp_path) -> None:
    running = subprocess.Popen(
        [*COMMAND, "--folder", str(tmp_path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert running.stdout is not None
    assert any(line.startswith("Sat  3 May") for line in running.stdout)
    running.send_signal(signal.SIGINT)
    said, complaint = running.communicate(timeout=60)
    assert (running.returncode, complaint) == (130, "")
    assert "Stopped. Everything that came is kept in" in said
    with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
        assert store.facts().readings


def test_keep_goes_on_after_the_end_until_ctrl_c(tmp_path) -> None:
    command = [*COMMAND, "--keep", "--seconds", "5", "--folder", str(tmp_path), "--recording", "meadow-quiet"]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert running.stdout is not None
    assert any("It goes on until Ctrl-C" in line for line in running.stdout)
    assert running.poll() is None
    running.send_signal(signal.SIGINT)
    _, complaint = running.communicate(timeout=60)
    assert (running.returncode, complaint) == (0, "")
    assert main(["advice", "--json", "--config", str(tmp_path / "hivemon.toml")]) == 0


def test_an_unknown_recording_is_met_with_those_that_are_here() -> None:
    done = subprocess.run([*COMMAND, "--recording", "moor"], capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, "orchard-swarm" in done.stderr) == (2, True)

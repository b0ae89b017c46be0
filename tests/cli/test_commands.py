"""The commands as a person runs them: a store and a configuration on disk, arguments in, text and exit code out."""

import csv
import gzip
import json
import os
import pty
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cli_samples import CONFIG, DAWN, advisory, day, event
from msgspec.structs import replace

from hivemon import __version__
from hivemon.cli import main
from hivemon.daemon import DaemonStatus
from hivemon.daemon.lock import Lock
from hivemon.intake.link import LinkState
from hivemon.model import HOUR, Quantity, Reading, Urgency
from hivemon.store import Store
from hivemon.store.daemon_state import write_status

RECORDINGS = Path(__file__).parents[2] / "sample_streams" / "recordings"
SUBCOMMANDS = ["setup", "run", "overnight", "advice", "events", "log", "health", "import", "export", "replay"]


def test_overnight_in_a_pipe_is_a_plain_aligned_table(hivemon, store) -> None:
    store.put_advisories([advisory("o2", title="Hive Blue hive needs a super by Saturday 13 June")])
    answer = hivemon("overnight")
    assert answer.code == 0
    lines = answer.out.splitlines()
    assert lines[0] == "Orchard: night of Thursday 11 June 2026, dusk 22:40, dawn 04:40"
    assert lines[2] == "Hive       Dusk kg  Dawn kg  Overnight  Yesterday  7-day kg/day  Verdict"
    assert lines[3] == "o1            48.2     47.8      -0.40       0.00          0.00  steady, leave alone"
    assert lines[4].endswith("needs a super by Saturday 13 June")
    assert "1 hive needs you" in lines[-1]
    assert "\x1b" not in answer.out


@pytest.mark.usefixtures("store")
def test_overnight_tells_when_its_night_is_long_gone(hivemon) -> None:
    """The table must not pass for last night's when nothing has come in since."""
    answer = hivemon("overnight")
    said = "The newest reading is of 2026-06-12 04:40: nothing for" in answer.out
    assert said == (time.time() * 1000 - DAWN > 26 * HOUR)


@pytest.mark.usefixtures("store")
def test_overnight_json_is_for_other_programs(hivemon) -> None:
    written = json.loads(hivemon("overnight", "--json", "--yard", "orchard").out)
    assert [hive["hive"] for hive in written[0]["hives"]] == ["o1", "o2"]
    assert written[0]["hives"][0]["dawn_weight"] == pytest.approx(47.8)


@pytest.mark.usefixtures("store")
def test_an_unknown_yard_is_met_with_the_known_ones(hivemon) -> None:
    for command in ("overnight", "advice", "events", "export"):
        extra = ["--events", "e.jsonl"] if command == "export" else []
        answer = hivemon(command, "--yard", "heath", *extra)
        assert answer.code == 2
        assert answer.err == "hivemon: there is no yard 'heath'\n  known yards: orchard\n"


def test_advice_comes_in_reading_order_with_every_part(hivemon, store) -> None:
    store.put_advisories([advisory(), advisory(None, urgency=Urgency.NOW, title="Robbing")])
    said = hivemon("advice").out
    assert said.index("Now: Robbing") < said.index("Today: Super due")
    for part in (
        "Orchard, hive o1; said 2026-06-12 03:40",
        "Saw: It gained",
        "Means: Nectar",
        "     - rain that soaked",
        "Do by 2026-06-13 04:40:",
        "1. Put an empty super on top.",
        "2. Log it.",
        "Take care: A full super",
    ):
        assert part in said
    assert max(map(len, said.splitlines())) <= 100
    written = json.loads(hivemon("advice", "--json").out)
    assert [a["urgency"] for a in written] == ["now", "today"]


@pytest.mark.usefixtures("store")
def test_advice_is_warm_when_nothing_is_wanted(hivemon) -> None:
    assert hivemon("advice").out == "Nothing needs you. Leave the bees alone, and enjoy them.\n"
    assert json.loads(hivemon("advice", "--json").out) == []


def test_advice_does_not_call_a_hive_calm_that_was_never_heard(hivemon, settings) -> None:
    with Store.open(Path(settings.store.path)) as store:
        said = hivemon("advice").out
        assert "Nothing was ever heard of o1 and Blue hive: I cannot tell how they are." in said
        assert "none needs you" not in said
        assert "Nothing needs you" not in said
        store.add_readings([Reading(DAWN, "orchard", "o1", Quantity.WEIGHT, 47.8)])
        said = " ".join(hivemon("advice").out.split())
        assert said == (
            "Of the hives that are heard, none needs you. Nothing was ever heard of Blue hive: I cannot tell how it "
            "is. `hivemon health` says where its node should publish."
        )
        assert hivemon("advice", "--hive", "o1").out.startswith("Nothing needs you. ")
        assert hivemon("advice", "--hive", "o2").out.startswith("Nothing was ever heard of Blue hive")


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (("answer", "swarm:o9", "seen"), "there is no store at"),
        (("log", "strike", "7"), "there is no store at"),
        (("log", "correct", "7", "--kg", "3"), "there is no store at"),
        (("log", "add", "o9", "feed", "--kg", "3"), "there is no hive 'o9'"),
        (("import", "--readings", "nowhere.csv"), "nowhere.csv"),
        (("import", "--logbook", "nowhere.csv"), "nowhere.csv"),
    ],
)
def test_what_is_mistyped_leaves_no_empty_store_behind(hivemon, settings, command, said) -> None:
    answered = hivemon(*command)
    assert answered.code
    assert said in answered.err
    assert not Path(settings.store.path).exists()


def test_closed_advice_is_there_when_asked_for(hivemon, store) -> None:
    store.put_advisories([replace(advisory(), closed=DAWN)])
    assert "Nothing needs you" in hivemon("advice").out
    assert "closed 2026-06-12 04:40" in hivemon("advice", "--all").out


def test_events_are_listed_and_why_shows_the_numbers_and_the_history(hivemon, store) -> None:
    first = event()
    store.put_events([first])
    store.put_events([replace(first, onset=first.onset - HOUR, withdrawn=DAWN, withdrawn_because="it was a harvest")])
    listed = hivemon("events").out
    assert "2026-06-11 17:40  o1     swarm  (taken back) A swarm of about 15,000 bees left." in listed
    why = hivemon("events", "--why", "e1").out
    for part in (
        "because: fast loss",
        "loss (kg): 2.1",
        "minutes: 14",
        "taken back",
        "it was a harvest",
        "Earlier versions",
    ):
        assert part in why
    assert json.loads(hivemon("events", "--json").out)[0]["onset_first"] == "2026-06-11T16:40:00Z"
    assert len(json.loads(hivemon("events", "--why", "e1", "--json").out)) == 2


def test_events_are_listed_by_the_time_that_is_shown(hivemon, store) -> None:
    """A failed nest is known days after it began: by when it was said, the column would jump."""
    late = event(id="late", onset=DAWN - 50 * HOUR, raised=DAWN)
    store.put_events([event(), late, event(id="e3", onset=DAWN - 2 * HOUR, raised=DAWN - HOUR)])
    assert [e["id"] for e in json.loads(hivemon("events", "--json").out)] == ["late", "e1", "e3"]


def test_events_can_be_narrowed_down(hivemon, store) -> None:
    store.put_events([event(), event(id="e2", hive="o2", raised=DAWN)])
    assert [e["id"] for e in json.loads(hivemon("events", "--json", "--hive", "o2").out)] == ["e2"]
    assert [e["id"] for e in json.loads(hivemon("events", "--json", "--since", "2026-06-12").out)] == ["e2"]
    assert json.loads(hivemon("events", "--json", "--kind", "robbing").out) == []
    assert hivemon("events", "--kind", "robbing").out == "No such events.\n"
    answer = hivemon("events", "--kind", "swarming")
    assert (answer.code, "did you mean swarm?" in answer.err) == (2, True)
    answer = hivemon("events", "--why", "nope")
    assert (answer.code, "there is no event 'nope'" in answer.err) == (2, True)


@pytest.mark.usefixtures("store")
def test_the_logbook_is_kept_corrected_and_struck_but_never_forgotten(hivemon) -> None:
    at = "2026-06-11 14:00"
    said = hivemon("log", "add", "o1", "feed", "--kg", "2.5", "--note", "syrup 1:1", "--at", at).out
    assert said.splitlines()[0] == "Logged as number 2: feed, hive o1, 2026-06-11 14:00, 2.5 kg (syrup 1:1)"
    assert "number 2: feed, hive o1, 2026-06-11 14:00, 3.0 kg" in hivemon("log", "correct", "2", "--kg", "3").out
    listed = json.loads(hivemon("log", "list", "--json").out)
    assert [(e["id"], e["entry"], e["amount"]) for e in listed] == [(1, "super-on", 4.2), (2, "feed", 3.0)]
    assert "2  2026-06-11 14:00  o1    feed      3.0 kg  syrup 1:1" in hivemon("log").out
    assert hivemon("log", "strike", "2").out.startswith("Struck number 2")
    assert [e["id"] for e in json.loads(hivemon("log", "list", "--json").out)] == [1]
    history = hivemon("log", "history", "2").out
    assert [line.split("  ")[1].split(":")[0] for line in history.splitlines()] == ["added", "corrected", "struck"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["add", "o3", "inspect"], "there is no hive 'o3'"),
        (["add", "o1", "inspct"], "did you mean inspect?"),
        (["add", "o1", "inspect", "--kg", "3"], "inspect has no --kg"),
        (["add", "o1", "feed", "--at", "2099-01-01"], "has not come yet"),
        (["correct", "99", "--kg", "3"], "there is no logbook entry 99"),
        (["correct", "1"], "nothing to correct was given"),
        (["correct", "1", "--hive", "o9"], "there is no hive 'o9'"),
        (["strike", "99"], "there is no logbook entry 99"),
        (["history", "99"], "there is no logbook entry 99"),
    ],
)
def test_a_slip_in_the_logbook_is_refused_and_changes_nothing(hivemon, store, arguments, said) -> None:
    before = store.entries()
    answer = hivemon("log", *arguments)
    assert answer.code == 2
    assert said in answer.err
    assert store.entries() == before


@pytest.mark.usefixtures("store")
def test_a_struck_entry_is_not_corrected(hivemon) -> None:
    hivemon("log", "strike", "1")
    answer = hivemon("log", "correct", "1", "--kg", "3")
    assert (answer.code, "struck out already" in answer.err) == (2, True)


def test_health_tells_a_watchdog_by_its_exit_code(hivemon, store, settings) -> None:
    now = int(time.time() * 1000)
    answer = hivemon("health")
    assert (answer.code, "LOOK  daemon: has never run" in answer.out) == (7, True)
    store.add_readings([Reading(now, "orchard", hive, Quantity.WEIGHT, 47.8) for hive in ("o1", "o2")])
    write_status(store, DaemonStatus(version="0", pid=1, started=now, written=now, link=LinkState.UP))
    with Lock.of(settings):
        answer = hivemon("health")
        assert (answer.code, answer.out.splitlines()[-1]) == (0, "All is well.")
        assert "4 readings" in answer.out
        store.quarantine("no number at /kg", "barn/scale\x1b[2J", b'{"kg": null}', now)
        answer = hivemon("health", "--set-aside")
    assert answer.code == 7
    assert "no number at /kg" in answer.out
    assert "\x1b" not in answer.out, "what a stranger sent cannot disturb the terminal"
    assert json.loads(hivemon("health", "--json", "--quick").out)["well"] is False


def test_without_a_store_a_reading_command_says_how_to_get_one_and_makes_none(hivemon, settings) -> None:
    for command in ("overnight", "advice", "events", "health", "log"):
        answer = hivemon(command)
        assert answer.code == 5
        assert "there is no store at" in answer.err
    assert not Path(settings.store.path).exists()


def test_a_damaged_store_is_an_error_in_words(hivemon, settings) -> None:
    Path(settings.store.path).write_bytes(b"this is no database, only a letter to the bees" * 100)
    answer = hivemon("overnight")
    assert answer.code == 5
    assert "Traceback" not in answer.err
    assert len(answer.err.splitlines()) <= 2


def test_no_configuration_says_where_it_was_looked_for(tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HIVEMON_CONFIG", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert main(["overnight"]) == 3
    said = capsys.readouterr().err
    assert "no configuration" in said
    assert "hivemon setup" in said


def test_the_configuration_in_the_usual_folder_is_found(tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HIVEMON_CONFIG", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    place = tmp_path / "config" / "hivemon"
    place.mkdir(parents=True)
    (place / "hivemon.toml").write_text(CONFIG)
    assert main(["overnight"]) == 5
    assert str(place / "hivemon.db") in capsys.readouterr().err, "its store stands beside it"


@pytest.mark.parametrize("arguments", [["nonsense"], ["overnight", "--jsn"], ["replay"], ["events", "--why"]])
def test_a_wrong_command_line_is_two_lines_and_exit_code_2(hivemon, arguments) -> None:
    answer = hivemon(*arguments)
    assert answer.code == 2
    assert 1 <= len(answer.err.splitlines()) <= 2
    assert "--help" in answer.err


def test_a_defect_is_one_line_unless_debug_is_asked_for(hivemon, monkeypatch) -> None:
    def broken(_: object) -> None:
        raise RuntimeError("the smoker went out")

    monkeypatch.setattr("hivemon.cli.overnight.load_settings", broken)
    answer = hivemon("overnight")
    assert answer.code == 1
    assert "a defect in hivemon: RuntimeError: the smoker went out" in answer.err
    assert "Traceback" not in answer.err
    assert "Traceback" in hivemon("overnight", "--debug").err
    assert "Traceback" in hivemon("--debug", "overnight").err


def test_ctrl_c_leaves_quietly(hivemon, monkeypatch) -> None:
    def interrupted(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("hivemon.cli.overnight.load_settings", interrupted)
    answer = hivemon("overnight")
    assert (answer.code, answer.err) == (130, "")


def test_a_closed_pipe_is_no_error(config, store) -> None:
    """`hivemon events | head -0`: Python must not complain about the reader that left."""
    store.put_events([event(id=f"e{number}") for number in range(3_000)])
    command = [
        sys.executable,
        "-c",
        "import sys; from hivemon.cli import main; sys.exit(main())",
        "events",
        "-c",
        config,
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.read(10)
        running.stdout.close()
        said = running.stderr.read()
        assert (running.wait(30), said) == (141, b"")


def test_the_version_is_the_packages_own(hivemon) -> None:
    assert hivemon("--version").out == f"hivemon {__version__}\n"


@pytest.mark.parametrize("command", SUBCOMMANDS)
def test_every_command_of_the_contract_has_its_help(hivemon, command) -> None:
    answer = hivemon(command, "--help")
    assert answer.code == 0
    assert "--config" in answer.out or command == "setup"


def test_help_is_quick_and_needs_nothing_heavy() -> None:
    """Under 0.3 s on a small machine; the sure sign is that no heavy library is loaded for it."""
    code = (
        "import sys; from hivemon.cli import main; main(['--help']);"
        "heavy = {'numpy', 'scipy', 'pyarrow', 'ruptures', 'amqtt', 'paho', 'rich', 'sqlite3', 'msgspec'};"
        "sys.exit(bool(heavy & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0


@pytest.mark.usefixtures("settings")
def test_what_is_imported_can_be_exported_again(hivemon, tmp_path) -> None:
    """A readings file through the store and out again holds the same readings."""
    source = tmp_path / "in.csv"
    moments = [time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(DAWN / 1000 + 300 * n)) for n in range(5)]
    rows = [[moment, "orchard", "o1", "weight", f"{40 + n}.5"] for n, moment in enumerate(moments)]
    write_csv(
        source, [*rows, rows[0], ["x", "orchard", "o1", "weight", "1"], [moments[0], "heath", "h1", "weight", "30"]]
    )
    book = tmp_path / "log.csv"
    book.write_text(f"time,hive,entry,amount,note\n{moments[0]},o1,feed,2,\n{moments[0]},zz,feed,2,\n")
    answer = hivemon("import", "--readings", str(source), "--logbook", str(book))
    assert answer.code == 0
    assert "Readings: 5 new, 1 known already, 1 bad row," in answer.out
    assert "Logbook: 1 entry new" in answer.out
    assert f"{source}, row 8: " in answer.err
    assert "1 readings of yard 'heath' left out" in answer.err
    assert "hive 'zz'" in answer.err
    assert "Readings: 0 new, 6 known already" in hivemon("import", "--readings", str(source)).out
    out = tmp_path / "out.csv.gz"
    again = ["--readings", str(out), "--logbook", str(tmp_path / "l.csv"), "--days", str(tmp_path / "d.jsonl")]
    assert hivemon("export", *again).code == 0
    with gzip.open(out, "rt") as file:
        written = list(csv.DictReader(file))
    assert [float(row["value"]) for row in written] == [40.5, 41.5, 42.5, 43.5, 44.5]
    assert (tmp_path / "l.csv").read_text().count("feed") == 1


def write_csv(path: Path, rows: list[list[str]]) -> None:
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([["time", "yard", "hive", "quantity", "value"], *rows])


def test_events_advice_and_days_are_exported_in_the_contracts_fields(hivemon, store, tmp_path) -> None:
    store.put_events([event()])
    store.put_advisories([advisory()])
    names = {what: tmp_path / f"{what}.jsonl" for what in ("events", "advice", "days")}
    assert hivemon("export", *(part for what, path in names.items() for part in (f"--{what}", str(path)))).code == 0
    lines = {what: [json.loads(line) for line in path.read_text().splitlines()] for what, path in names.items()}
    assert lines["events"][0]["kind"] == "swarm"
    assert lines["advice"][0]["do_by"] == "2026-06-13T02:40:00Z"
    assert len(lines["days"]) == 20


@pytest.mark.parametrize("name", ["orchard-swarm", "meadow-quiet"])
def test_replay_writes_events_in_the_order_they_were_raised(hivemon, tmp_path, name) -> None:
    """The contract's own command line, on a recording of an invented yard."""
    there = RECORDINGS / name
    out, advice, days = tmp_path / "events.jsonl", tmp_path / "advice.jsonl", tmp_path / "days.jsonl"
    files = ["--readings", str(there / "readings.csv.gz"), "--logbook", str(there / "logbook.csv")]
    wanted = ["--out", str(out), "--advice", str(advice), "--days", str(days)]
    answer = hivemon("replay", "--config", str(there / "hivemon.toml"), *files, *wanted)
    assert answer.code == 0
    events = [json.loads(line) for line in out.read_text().splitlines()]
    raised = [line["raised"] for line in events]
    assert raised == sorted(raised)
    assert len({line["id"] for line in events}) == len(events)
    assert "readings in" in answer.err
    assert len(days.read_text().splitlines()) > 20
    if name == "orchard-swarm":
        assert [line["hive"] for line in events if line["kind"] == "swarm"] == ["o1"]
    else:
        assert events == []


def test_replay_counts_what_it_took_and_what_it_left_out(hivemon, tmp_path) -> None:
    source = tmp_path / "in.csv"
    row = ["2026-06-12T02:40:00Z", "orchard", "o1", "weight", "40.5"]
    write_csv(source, [row, row, row, ["2026-06-12T02:45:00Z", "orchard", "o1", "weight", "heavy"]])
    said = hivemon("replay", "--readings", str(source), "--out", str(tmp_path / "e.jsonl")).err
    assert f"{source}, row 5: " in said
    assert re.search(r"^1 readings in [\d.]+ s, 2 doubled rows, 1 bad rows\. Events: none\.", said, re.MULTILINE)


def test_a_failed_replay_leaves_the_old_result_alone(hivemon, tmp_path) -> None:
    """The file named by --out is replaced whole at the end, or not at all."""
    out = tmp_path / "events.jsonl"
    out.write_text("from last week\n")
    broken = tmp_path / "broken.csv.gz"
    broken.write_bytes(gzip.compress(b"time,yard,hive,quantity,value\n" * 1000)[:-20])
    answer = hivemon("replay", "--readings", str(broken), "--out", str(out))
    assert answer.code == 4
    assert len(answer.err.splitlines()) <= 2
    assert out.read_text() == "from last week\n"
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["replay", "--readings", "none.csv", "--out", "e.jsonl"], 4, "there is no file none.csv"),
        (["import", "--readings", "none.csv"], 4, "there is no file none.csv"),
        (["import"], 2, "nothing to import was named"),
        (["export"], 2, "nothing to export was named"),
        (["export", "--events", "/no/such/folder/e.jsonl"], 4, "there is no folder /no/such/folder"),
    ],
)
@pytest.mark.usefixtures("store")
def test_a_file_that_cannot_be_is_named_before_any_work(hivemon, arguments, code, said) -> None:
    answer = hivemon(*arguments)
    assert answer.code == code
    assert said in answer.err


def test_only_the_first_bad_rows_are_told_one_by_one(tmp_path, hivemon) -> None:
    source = tmp_path / "in.csv"
    write_csv(source, [["x", "orchard", "o1", "weight", "1"] for _ in range(100)])
    said = hivemon("import", "--readings", str(source)).err.splitlines()
    assert sum(line.startswith(f"{source}, row ") for line in said) == 20
    assert "... and 80 more bad rows; in all:" in said
    assert said[-1].startswith("  100 like: ")


@pytest.mark.usefixtures("store")
@pytest.mark.usefixtures("store")
def test_a_readers_terminal_narrows_the_table(config) -> None:
    """In a terminal of 50 columns no line is longer than 50."""
    controller, terminal = pty.openpty()
    command = [sys.executable, "-c", "import sys; from hivemon.cli import main; sys.exit(main())", "overnight"]
    environment = os.environ | {"COLUMNS": "50", "HIVEMON_CONFIG": str(config), "TERM": "xterm"}
    assert subprocess.run(command, stdout=terminal, stderr=terminal, env=environment, check=False).returncode == 0
    os.close(terminal)
    said = b""
    while True:
        try:
            part = os.read(controller, 65_536)
        except OSError:  # the terminal is closed: Linux says so with EIO
            break
        if not part:
            break
        said += part
    os.close(controller)
    lines = said.decode().replace("\r", "").splitlines()
    assert any(line.startswith("o1: steady") for line in lines)
    assert max(len(line) for line in lines) <= 50


def test_hive_days_of_a_hive_nobody_configured_are_shown(hivemon, store) -> None:
    store.put_hive_days([day("o9")])
    assert [line.split()[0] for line in hivemon("overnight").out.splitlines()[3:6]] == ["o1", "Blue", "o9"]


def test_reading_commands_do_not_disturb_a_store_that_is_being_written(hivemon, store) -> None:
    """WAL: whoever reads sees the last commit while another's transaction is open."""
    with store.transaction():
        store.put_events([event()])
        assert json.loads(hivemon("events", "--json").out) == []
    assert len(json.loads(hivemon("events", "--json").out)) == 1
    with Store.open(Path(store.facts(deep=False).path), read_only=True) as other:
        assert len(other.events()) == 1
    assert store.latest("orchard")

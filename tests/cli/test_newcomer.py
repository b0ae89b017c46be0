"""What a newcomer gets wrong, and what hivemon says: always what, where, and what to do; nothing kept is touched."""

import socket
from pathlib import Path

import pytest
from msgspec import structs

from hivemon.cli.options import hive_meant
from hivemon.config import load
from hivemon.errors import UsageError
from hivemon.store import Store

RECORDING = Path(__file__).parents[2] / "sample_streams" / "recordings" / "meadow-quiet"
READINGS = "time,yard,hive,quantity,value\n2026-06-12T04:00:00Z,orchard,o1,weight,47.8\n"
LOGBOOK = "time,hive,entry,amount,note\n2026-06-12T04:00:00Z,o1,feed,2,syrup\n"


@pytest.mark.parametrize(
    ("name", "content", "option", "said", "hint"),
    [
        ("a.xlsx", "PK\x03\x04", "--readings", "is a spreadsheet, not a CSV", "`hivemon import"),
        ("a.csv", READINGS.replace("value", "wert"), "--readings", "begins with", "rename or reorder the columns"),
        (
            "a.csv",
            READINGS.replace(",", ";"),
            "--readings",
            "has ; between its fields",
            "recognises other people's tables",
        ),
        ("a.csv", READINGS, "--logbook", "begins with 'time,yard", "name it with --readings"),
        ("a.csv", LOGBOOK, "--readings", "begins with 'time,hive", "name it with --logbook"),
        (
            "a.csv",
            "2026-06-12T04:00:00Z,orchard,o1,weight,1\n",
            "--readings",
            "begins with",
            "add that line at the top",
        ),
        ("a.csv", "", "--readings", "is empty", "its first line must be"),
    ],
)
def test_a_wrong_file_is_told_what_it_is_and_what_to_do(hivemon, tmp_path, name, content, option, said, hint) -> None:
    (tmp_path / name).write_text(content)
    answer = hivemon("import", option, str(tmp_path / name))
    assert answer.code == 4
    assert said in answer.err
    assert hint in answer.err


def test_a_folder_and_a_file_that_is_not_there(hivemon, tmp_path) -> None:
    assert "is a folder" in hivemon("import", "--readings", str(tmp_path)).err
    assert "there is no file" in hivemon("import", "--readings", str(tmp_path / "r.csv")).err


@pytest.mark.parametrize(("content", "said"), [(READINGS, "Readings: 1 new"), (LOGBOOK, "Logbook: 1 entry new")])
def test_a_file_in_hivemons_own_form_needs_no_option(hivemon, tmp_path, content, said) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(content)
    answer = hivemon("import", str(path))
    assert answer.code == 0
    assert said in answer.out


def test_readings_of_another_yard_say_which_there_is(hivemon, config, tmp_path) -> None:
    files = ["--config", str(config), "--readings", str(RECORDING / "readings.csv.gz")]
    answer = hivemon("replay", *files, "--out", str(tmp_path / "e.jsonl"))
    assert "readings of yard 'meadow' left out: the configuration has orchard" in answer.err


@pytest.mark.parametrize("command", [["advice"], ["events"], ["log", "list"]])
def test_a_hive_that_is_not_there_is_no_reason_to_say_that_all_is_well(hivemon, store, command) -> None:
    del store
    answer = hivemon(*command, "--hive", "o3")
    assert answer.code == 2
    assert "there is no hive 'o3'" in answer.err
    assert "o1" in answer.err


def test_a_script_hears_of_all_missing_answers_at_once(hivemon, tmp_path) -> None:
    answer = hivemon("setup", "-o", str(tmp_path / "new.toml"), "--yard", "Heath")
    assert answer.code == 2
    assert "--latitude, --longitude, --hives are missing" in answer.err


def test_a_port_that_is_taken_is_said_before_anything_is_kept(hivemon, config) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        config.write_text(config.read_text() + f"[embedded]\nport = {port}\n[pages]\non = false\n")
        answer = hivemon("run")
    assert answer.code == 6
    assert f"cannot listen on 127.0.0.1:{port}: Address already in use" in answer.err
    assert "name it as [broker]" in answer.err


@pytest.mark.usefixtures("config")
@pytest.mark.parametrize("given", ["2.5", "2,5"])
def test_an_amount_may_have_a_decimal_comma(hivemon, given) -> None:
    assert "feed, hive o1" in (answer := hivemon("log", "add", "o1", "feed", "--kg", given)).out
    assert "2.5 kg" in answer.out


@pytest.mark.usefixtures("config")
def test_an_amount_that_is_none_is_quoted(hivemon) -> None:
    answer = hivemon("log", "add", "o1", "feed", "--kg", "two")
    assert answer.code == 2
    assert "'two' is no amount" in answer.err


@pytest.mark.usefixtures("config")
def test_a_copy_that_is_none_names_what_to_give_instead(hivemon, tmp_path) -> None:
    (tmp_path / "table.csv").write_bytes(b"no store, but long enough to be read as one " * 50)
    answer = hivemon("restore", str(tmp_path / "table.csv"), "--rename-present")
    assert answer.code == 5
    assert "`hivemon backup` made" in answer.err


def test_a_store_that_is_none_and_one_that_cannot_be(hivemon, config) -> None:
    store = Path(load(config).store.path)
    store.write_bytes(b"no database, but long enough to be read as one " * 50)
    answer = hivemon("overnight")
    assert answer.code == 5
    assert "it is not a SQLite database" in answer.err
    assert store.read_bytes().startswith(b"no database")
    config.write_text(config.read_text() + '[store]\npath = "/nowhere/at/all/h.db"\n')
    answer = hivemon("import", "--readings", str(RECORDING / "readings.csv.gz"))
    assert answer.code == 5
    assert "/nowhere/at/all" in answer.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["overnigt"], "Did you mean 'overnight'?"),
        (["overnight", "--jason"], "--json"),
        (["log", "add", "o9", "feed"], "known hives: o1, o2"),
        (["log", "add", "o1", "fed"], "did you mean feed?"),
        (["log", "add", "o1", "feed", "--at", "tomorow"], "yesterday 14:00"),
        (["events", "--why", "nope"], "`hivemon events` lists them"),
        (["export", "--readings", "/nowhere/r.csv"], "there is no folder /nowhere"),
        (["import"], "name a table"),
    ],
)
def test_a_slip_of_the_keyboard_is_told_what_was_meant(hivemon, store, words, said) -> None:
    del store
    answer = hivemon(*words)
    assert answer.code != 0
    assert said in answer.err
    assert "Traceback" not in answer.err


def test_who_types_the_name_alone_gets_the_help(hivemon) -> None:
    answer = hivemon()
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.startswith("Usage: hivemon")


def test_a_store_without_readings_claims_nothing(hivemon, settings) -> None:
    """No swarm was seen because nothing was seen: that is not to be told as if all were well."""
    Store.open(Path(settings.store.path)).close()
    said = hivemon("events").out
    assert "No reading has come yet" in said
    assert "no swarm" not in said


def test_a_careless_logbook_is_told_what_was_meant(hivemon, tmp_path) -> None:
    (tmp_path / "l.csv").write_text(
        "time,hive,entry,amount,note\n"
        "2026-06-12T04:00:00Z,O1,feed,2,\n"
        "2026-06-12T04:00:00Z,o1,super on,8,\n"
        "2026-06-12T04:00:00Z,o1,honingkamer,8,\n"
        "2096-06-12T04:00:00Z,o1,feed,2,a year that was mistyped\n"
        "2026-06-12T05:00:00Z,o1,inspect,,\n"
    )
    answer = hivemon("import", "--logbook", str(tmp_path / "l.csv"))
    assert "Logbook: 1 entry new, 0 known already, 3 bad rows." in answer.out
    assert "entries of hive 'O1' left out: it is not in the configuration; did you mean 'o1'?" in answer.err
    assert "row 3: the entry 'super on' is unknown (did you mean super-on?)" in answer.err
    assert "row 4: the entry 'honingkamer' is unknown (known: inspect, " in answer.err
    assert "row 5: its time 2096-06-12T04:00:00Z lies in the future; mind the year" in answer.err


@pytest.mark.usefixtures("settings")
def test_an_entry_without_an_hour_says_what_was_taken(hivemon) -> None:
    answer = hivemon("log", "add", "o1", "inspect", "--at", "gisteren")
    assert answer.code == 0
    assert " 12:00" in answer.out.splitlines()[0]
    assert "No hour was said, so midday is taken." in answer.out
    assert "`hivemon log correct 1 --at 'gisteren 16:00'`" in " ".join(answer.out.split())
    for entry in ("mite-wash", "note"):
        said = hivemon("log", "add", "o1", entry, "--at", "gisteren").out
        assert "hour was said" not in said, f"{entry} leaves no trace in the weights"


def named(settings, *names: str):
    """Return settings with a hive `h-NUMBER` of each name."""
    some = settings.hive[0]
    hives = [structs.replace(some, id=f"h-{number}", name=name) for number, name in enumerate(names, 1)]
    return structs.replace(settings, hive=hives)


@pytest.mark.parametrize("said", ["Blue hive 0 by the hedge", "blue hive  0 BY the hedge", "h-2", "H-2"])
def test_a_hive_may_be_called_by_its_name(settings, said) -> None:
    found = named(settings, "Green", "Blue hive 0 by the hedge", "Blue hive 1 by the hedge")
    assert hive_meant(found, None, said) == ("orchard", "h-2")


@pytest.mark.parametrize(
    ("said", "what", "hint"),
    [
        ("blue", "may be any of h-1, h-3", "give the id of the one you mean"),
        ("grean", "there is no hive", "did you mean 'h-2'?"),
        ("bleu", "there is no hive", "did you mean 'h-1', 'h-3'?"),
        ("h-9", "there is no hive", "known hives: h-1, h-2, h-3, h-4"),  # as near to each: none is proposed
        ("Yellow by the barn", "there is no hive", "known hives: h-1, h-2, h-3, h-4"),
    ],
)
def test_a_name_of_several_hives_or_of_none_is_asked_back(settings, said, what, hint) -> None:
    with pytest.raises(UsageError, match=what) as caught:
        hive_meant(named(settings, "Blue", "Green", "Blue", "Red"), None, said)
    assert caught.value.hint == hint


def test_of_a_thousand_hives_a_dozen_is_named(settings) -> None:
    with pytest.raises(UsageError) as caught:
        hive_meant(named(settings, *["Blue"] * 1000), None, "blue")
    assert str(caught.value).endswith("h-12 and 988 more")


@pytest.mark.usefixtures("store")
def test_the_name_serves_wherever_a_hive_is_named(hivemon, tmp_path) -> None:
    assert "inspect, hive Blue hive" in hivemon("log", "add", "blue hive", "inspect").out
    assert hivemon("log", "correct", "2", "--hive", "o1").code == 0
    assert "hive Blue hive" in hivemon("log", "correct", "2", "--hive", "Blue hive").out
    page = ["export", "--page", str(tmp_path / "o2.html")]
    for command in (["log", "list"], ["advice"], ["events"], page):
        assert hivemon(*command, "--hive", "Blue hive").code == 0
    assert "Blue hive" in hivemon("log", "list", "--hive", "Blue hive").out


@pytest.mark.usefixtures("settings")
def test_the_same_entry_twice_is_entered_once_unless_it_was_struck_out(hivemon) -> None:
    entry = ("log", "add", "o1", "super-on", "--kg", "8", "--at", "2026-06-12 14:00")
    assert "Logged as number 1" in hivemon(*entry).out
    assert hivemon(*entry).out == "Nothing was entered: that stands already as number 1.\n"
    assert "Logged as number 2" in hivemon(*entry, "--note", "drawn comb").out
    hivemon("log", "strike", "1")
    assert "Logged as number 3" in hivemon(*entry).out

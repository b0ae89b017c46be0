"""`hivemon backup` and `hivemon restore`, as a person would use them."""

from pathlib import Path

import pytest

from hivemon.daemon.lock import Lock
from hivemon.model import Entry, LogEntry
from hivemon.store import Store


@pytest.fixture
def place(settings) -> Path:
    return Path(settings.store.path)


def notes(place: Path) -> list[str]:
    with Store.open(place) as store:
        return [entry.note for entry in store.entries()]


def note(place: Path, text: str) -> None:
    with Store.open(place) as store:
        store.add_entry("orchard", LogEntry(time=1_781_232_000_000, hive="o1", entry=Entry.NOTE, note=text))


def test_there_and_back(hivemon, store, place, tmp_path):
    copy = tmp_path / "stick" / "hives.db"
    copy.parent.mkdir()
    note(place, "before")
    answer = hivemon("backup", str(copy))
    assert (answer.code, answer.err) == (0, "")
    assert "logbook entries" in answer.out
    assert "Checked" in answer.out
    assert "hivemon.toml is not in it" in answer.out.replace("\n", " ") or "are not in it" in answer.out
    store.close()
    note(place, "after")
    refused = hivemon("restore", str(copy))
    assert refused.code == 5
    assert "--rename-present" in refused.err
    done = hivemon("restore", str(copy), "--rename-present")
    assert (done.code, done.err) == (0, "")
    assert "before" in notes(place)
    assert "after" not in notes(place)
    (kept,) = place.parent.glob(f"{place.name}.until-*")
    assert "after" in notes(kept)
    assert copy.exists()


def test_into_an_empty_place(hivemon, store, place, tmp_path):
    note(place, "kept")
    assert hivemon("backup", str(tmp_path / "copy.db")).code == 0
    store.close()
    for part in place.parent.glob(f"{place.name}*"):
        part.unlink()
    assert hivemon("restore", str(tmp_path / "copy.db")).code == 0
    assert "kept" in notes(place)


@pytest.mark.usefixtures("store")
def test_a_second_backup_to_the_same_name_is_refused(hivemon, tmp_path):
    assert hivemon("backup", str(tmp_path / "copy.db")).code == 0
    answer = hivemon("backup", str(tmp_path / "copy.db"))
    assert answer.code == 5
    assert "is there already" in answer.err


@pytest.mark.usefixtures("store")
def test_not_while_the_daemon_works(hivemon, place, tmp_path):
    assert hivemon("backup", str(tmp_path / "copy.db")).code == 0
    with Lock(place).held() as held:
        assert held
        answer = hivemon("restore", str(tmp_path / "copy.db"), "--rename-present")
    assert answer.code == 5
    assert "stop it first" in answer.err


@pytest.mark.usefixtures("store")
@pytest.mark.parametrize(("content", "words"), [(None, "there is no copy"), (b"no database" * 400, "not a SQLite")])
def test_what_is_no_copy_is_refused_and_nothing_changes(hivemon, place, tmp_path, content, words):
    note(place, "mine")
    if content is not None:
        (tmp_path / "copy.db").write_bytes(content)
    answer = hivemon("restore", str(tmp_path / "copy.db"), "--rename-present")
    assert answer.code == 5
    assert words in answer.err
    assert "mine" in notes(place)


def test_nothing_to_back_up_is_said(hivemon, tmp_path):
    answer = hivemon("backup", str(tmp_path / "copy.db"))
    assert answer.code == 5
    assert "no store" in answer.err

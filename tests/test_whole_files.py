"""Files are written whole or not at all."""

import json
import stat
from pathlib import Path

import pytest

from hivemon.files import whole_file, write_json_lines, write_whole


def fail_halfway(path: Path) -> None:
    with whole_file(path) as file:
        file.write(b"half of the n")
        raise RuntimeError


def test_a_failure_in_the_middle_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    path.write_text("old")
    with pytest.raises(RuntimeError):
        fail_halfway(path)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_until_the_end_readers_see_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    path.write_text("old")
    with whole_file(path) as file:
        file.write(b"new")
        file.flush()
        assert path.read_text() == "old"
    assert path.read_text() == "new"


def test_the_rights_of_a_replaced_file_stay_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "hivemon.toml"
    path.write_text("old")
    path.chmod(0o640)
    write_whole(path, b"new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_may_be_read_like_any_other_new_file(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("")
    write_whole(tmp_path / "new", b"")
    assert (tmp_path / "new").stat().st_mode == other.stat().st_mode


def test_one_object_a_line(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    objects = [{"summary": "line\nbreak é"}, {"size": None}]
    assert write_json_lines(path, objects) == 2
    assert [json.loads(line) for line in path.read_text("utf-8").splitlines()] == objects
    assert write_json_lines(path, []) == 0
    assert path.read_bytes() == b""

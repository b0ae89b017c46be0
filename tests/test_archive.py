"""An archive judged on a real cluster of processes gives the bytes of judging it here, also when a worker is killed."""

import gzip
import os
import shutil
import signal
import sys
import threading
import time
from itertools import islice
from pathlib import Path

import pytest
from distributed import Client, LocalCluster

from hivemon import archive
from hivemon.cli import main
from hivemon.errors import InputError, UsageError
from hivemon.recordings import find, names

ROWS = 30_000
RESULTS = ("events.jsonl", "advice.jsonl", "days.jsonl")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive: the beginnings of all bundled recordings, and one whose file is none."""
    place = tmp_path_factory.mktemp("archive")
    for name in names():
        found = find(name)
        (place / name).mkdir()
        shutil.copy(found.config, place / name)
        shutil.copy(found.logbook, place / name)
        with gzip.open(found.readings, "rt") as rows, (place / name / "readings.csv").open("w") as out:
            out.writelines(islice(rows, ROWS))
    (place / "broken").mkdir()
    shutil.copy(found.config, place / "broken" / "hivemon.toml")
    (place / "broken" / "readings.csv").write_text("this,is,not,it\n1,2,3,4\n")
    (place / "no recording").mkdir()
    return place


@pytest.fixture(scope="module")
def here(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The archive judged one by one, in this process."""
    out = tmp_path_factory.mktemp("here")
    outcomes = list(archive.one_by_one(archive.recordings(folder, out, None)))
    assert [outcome.name for outcome in outcomes if outcome.error] == ["broken"]
    assert sum(outcome.advisories for outcome in outcomes) > 0
    return out


def contents(out: Path) -> dict[str, bytes]:
    """Every result, by recording and file."""
    return {f"{path.parent.name}/{path.name}": path.read_bytes() for path in out.glob("*/*")}


def test_a_worker_killed_in_the_middle_changes_nothing(folder: Path, here: Path, tmp_path: Path) -> None:
    """kill -9 for the first worker that is at work; Dask starts another, and its recordings are judged again."""
    tasks, killed = archive.recordings(folder, tmp_path, None), []
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        with Client(cluster) as watcher:

            def kill() -> None:
                while not killed:
                    for worker, running in watcher.processing().items():
                        if running:
                            time.sleep(0.1)  # into the work, not before it
                            killed.append(watcher.run(os.getpid, workers=[worker])[worker])
                            os.kill(killed[0], signal.SIGKILL)
                            return
                    time.sleep(0.02)

            killer = threading.Thread(target=kill, daemon=True)
            killer.start()
            outcomes = {outcome.name: outcome for outcome in archive.on_cluster(tasks, cluster.scheduler_address)}
            killer.join(10)
        assert len(killed) == 1
    assert {name for name, outcome in outcomes.items() if outcome.error} == {"broken"}
    assert set(outcomes) == {task.name for task in tasks}
    assert contents(tmp_path) == contents(here)
    assert len(contents(here)) == len(RESULTS) * (len(tasks) - 1)


def test_the_command_judges_a_folder_and_says_what_could_not_be(folder: Path, here: Path, tmp_path, capsys) -> None:
    small = tmp_path / "small"
    for name in ("broken", names()[0]):
        shutil.copytree(folder / name, small / name)
    assert main(["replay", "--readings", str(small), "--out", str(tmp_path / "out")]) == 4
    said = capsys.readouterr().err
    assert "broken: not judged: " in said
    assert "1 of 2 recordings" in said
    assert contents(tmp_path / "out").items() <= contents(here).items()


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--logbook", "l.csv"], 2, "for a single file"),
        (["--cluster", "tcp://127.0.0.1:9"], 6, "no cluster at tcp://127.0.0.1:9"),
    ],
)
def test_what_cannot_be_is_said(folder: Path, tmp_path: Path, capsys, monkeypatch, arguments, code, said) -> None:
    monkeypatch.setattr(archive, "CONNECT_SECONDS", 1)
    assert main(["replay", "--readings", str(folder), "--out", str(tmp_path), *arguments]) == code
    assert said in capsys.readouterr().err


def test_a_folder_without_recordings_or_configuration_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no recording"):
        archive.recordings(tmp_path, tmp_path, None)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "readings.csv").touch()
    with pytest.raises(InputError, match=r"no hivemon\.toml"):
        archive.recordings(tmp_path, tmp_path, None)
    (common,) = archive.recordings(tmp_path, tmp_path / "out", tmp_path / "all.toml")
    assert (common.config, common.out) == (tmp_path / "all.toml", tmp_path / "out" / "a")


def test_the_cluster_is_an_extra(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match="not installed"):
        list(archive.on_cluster([], archive.LOCAL))


def test_a_row_of_a_year_to_come_is_a_bad_row_of_the_recording(tmp_path: Path) -> None:
    """Else the same recording would be judged otherwise once that year has come."""
    found = find("meadow-quiet")
    (tmp_path / "in" / "meadow").mkdir(parents=True)
    shutil.copy(found.config, tmp_path / "in" / "meadow")
    with gzip.open(found.readings, "rt") as rows:
        head = list(islice(rows, 200))
    where = tmp_path / "in" / "meadow" / "readings.csv"
    where.write_text("".join([*head, head[-1].replace(head[-1][:4], "2096", 1)]))
    (outcome,) = archive.one_by_one(archive.recordings(tmp_path / "in", tmp_path / "out", None))
    assert (outcome.readings, outcome.bad) == (199, 1)

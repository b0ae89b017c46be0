"""An invented yard in a store, and a way to run commands as a person would: arguments in, exit code and text out."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from cli_samples import CONFIG, DAWN, day

from hivemon.cli import main
from hivemon.config import Settings, load
from hivemon.model import DAY, Entry, LogEntry, Quantity, Reading
from hivemon.store import Store


class Answer(NamedTuple):
    """What a command said."""

    code: int
    out: str
    err: str


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """A configuration whose store stands beside it."""
    path = tmp_path / "hivemon.toml"
    path.write_text(CONFIG)
    return path


@pytest.fixture
def settings(config: Path) -> Settings:
    return load(config)


@pytest.fixture
def hivemon(
    config: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Callable[..., Answer]:
    """Run `hivemon ARGUMENTS` with that configuration."""
    monkeypatch.setenv("HIVEMON_CONFIG", str(config))
    monkeypatch.setenv("COLUMNS", "100")

    def run(*arguments: str) -> Answer:
        capsys.readouterr()
        code = main(list(arguments))
        said = capsys.readouterr()
        return Answer(code, said.out, said.err)

    return run


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    """A store with ten quiet days of two hives, one reading each at the last dawn, and a logbook entry."""
    with Store.open(Path(settings.store.path)) as opened:
        opened.put_hive_days([day(hive, back) for hive in ("o1", "o2") for back in range(10)])
        opened.add_readings([Reading(DAWN, "orchard", hive, Quantity.WEIGHT, 47.8) for hive in ("o1", "o2")])
        opened.add_entry("orchard", LogEntry(time=DAWN - 2 * DAY, hive="o1", entry=Entry.SUPER_ON, amount=4.2))
        yield opened

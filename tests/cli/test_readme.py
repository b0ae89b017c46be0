"""The README tells the truth: its commands and options exist, its examples load, its exit codes are the real ones."""

import re
import shlex
from pathlib import Path

import pytest
from cli_samples import CONFIG, DAWN
from typer.main import get_command

from hivemon import errors
from hivemon.cli.app import DEFECT, INTERRUPTED, PIPE_CLOSED, app
from hivemon.cli.health import NOT_WELL
from hivemon.config import parse
from hivemon.intake.translate import Translator
from hivemon.model import Entry, Quantity

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language: str, text: str = README) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def commands() -> list[list[str]]:
    """Every `hivemon ...` in a shell block, and in the table of commands with the options named beside it."""
    lines = [part for block in blocks("sh") for line in block.splitlines() for part in line.split("&&")]
    found = [shlex.split(line, comments=True) for line in lines if "hivemon " in line]
    for name, told in re.findall(r"^\| `hivemon (\S+)` \| (.*) \|$", README, re.MULTILINE):
        found.append(["hivemon", name, *re.findall(r"`(--[a-z-]+)", told)])
    return [words[[Path(word).name for word in words].index("hivemon") + 1 :] for words in found]


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_every_command_in_the_readme_exists_with_its_options(words: list[str]) -> None:
    command = get_command(app)
    while words and words[0] in getattr(command, "commands", {}):
        command, words = command.commands[words[0]], words[1:]
    known = {option for parameter in command.params for option in parameter.opts}
    assert command.name in {"demo", *get_command(app).commands, "add"}
    assert {word for word in words if word.startswith("--")} <= known


def test_the_readme_tells_of_every_command_and_of_no_other() -> None:
    told = set(re.findall(r"^\| `hivemon (\S+)` \|", README, re.MULTILINE))
    assert told == set(get_command(app).commands)


def test_the_logbook_entries_in_the_readme_are_accepted(hivemon, store) -> None:
    """Run for real, in the order of the README."""
    lines = [line for block in blocks("sh") for line in block.splitlines() if line.startswith("hivemon log")]
    assert len(lines) == 4
    for line in lines:
        answer = hivemon(*shlex.split(line)[1:])
        assert (answer.code, answer.err) == (0, "")
    assert [entry.entry for entry in store.entries() if entry.id > 1] == [Entry.SUPER_ON, Entry.FEED, Entry.MITE_WASH]


def test_the_replay_of_the_readme_is_the_contracts() -> None:
    contract = "hivemon replay --config hivemon.toml --readings r.csv.gz --logbook l.csv --out events.jsonl"
    assert any(contract in block for block in blocks("sh"))


@pytest.mark.parametrize("block", blocks("toml"))
def test_every_piece_of_configuration_in_the_readme_loads(block: str) -> None:
    assert parse(CONFIG + block)


def test_the_senml_example_becomes_readings() -> None:
    """Published to hives/orchard/o1 as the README says; times and units as RFC 8428 resolves them."""
    (payload,) = blocks("json")
    readings = Translator(parse(CONFIG)).readings("hives/orchard/o1", payload.encode(), 1_781_265_600_000)
    assert {(r.hive, r.quantity, r.value, r.time, r.stamped) for r in readings} == {
        ("o1", Quantity.WEIGHT, 48.21, 1_781_265_600_000, False),
        ("o1", Quantity.TEMPERATURE, 34.9, 1_781_265_600_000, False),
        ("o1", Quantity.HUMIDITY, 61.0, 1_781_265_600_000, False),
        ("o1", Quantity.BATTERY, 3.92, 1_781_265_600_000, False),
    }
    assert DAWN < 1_781_265_600_000


def test_the_exit_codes_are_the_real_ones() -> None:
    line = README[README.index("**Exit codes:**") : README.index("## A broker of its own")]
    told = {int(code) for code in re.findall(r"(?:\*\* |· |·\n)(\d+) ", line)}
    tree = {cls.exit_code for cls in errors.HivemonError.__subclasses__()}
    assert told == {0, DEFECT, NOT_WELL, INTERRUPTED, PIPE_CLOSED} | tree


def test_links_between_the_documents_lead_somewhere() -> None:
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), target


def test_files_named_for_developers_exist() -> None:
    """Paths in backticks; a renamed module must be renamed there too."""
    for path in re.findall(r"`((?:hivemon|tests|sample_streams|\.ci)/[\w./-]*|\.ci/run)`", DEVELOPERS):
        assert (ROOT / path).exists(), path


def test_every_dependency_earns_its_place_in_words() -> None:
    declared = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    listed = declared[declared.index("dependencies = [") : declared.index("]", declared.index("dependencies = ["))]
    names = re.findall(r'"([a-z0-9-]+)', listed)
    assert len(names) > 5
    assert set(names) == set(re.findall(r"^\| ([a-z0-9-]+) \|", DEVELOPERS, re.MULTILINE))

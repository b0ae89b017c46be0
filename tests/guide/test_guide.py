"""The guide tells the truth: a page for each kind, thresholds as the code has them, commands and links that exist."""

import re
import shlex

import pytest
from make_guide import GUIDE, SCENES, TABLE, with_tables
from typer.main import get_command

from hivemon import rules
from hivemon.cli.app import app
from hivemon.model import Kind, Quantity

ROOT = GUIDE.parents[1]
PAGES = {str(page.relative_to(ROOT)): page.read_text(encoding="utf-8") for page in sorted(GUIDE.rglob("*.md"))}
EVENTS = {kind: PAGES[f"sample_streams/guide/events/{kind.value}.md"] for kind in Kind}
OTHERS = {
    str(page.relative_to(ROOT)): page.read_text(encoding="utf-8")
    for page in [*sorted((ROOT / "firmware-notes").glob("*.md")), ROOT / "grafana-free-dashboards" / "INFLUXDB.md"]
}


def commands() -> list[tuple[str, str]]:
    """Every `hivemon ...` in backticks or in a shell block of the guide and of the notes beside it."""
    found = []
    for name, text in (PAGES | OTHERS).items():
        for block in re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL):
            found += [(name, line) for line in block.splitlines() if line.startswith("hivemon ")]
        found += [(name, words) for words in re.findall(r"`(hivemon [^`]+)`", text) if ".toml" not in words]
    return sorted(set(found))


@pytest.mark.parametrize(("page", "line"), commands())
def test_every_command_and_option_exists(page: str, line: str) -> None:
    command, words = get_command(app), shlex.split(line, comments=True)[1:]
    while words and words[0] in getattr(command, "commands", {}):
        command, words = command.commands[words[0]], words[1:]
    known = {option for parameter in command.params for option in parameter.opts + parameter.secondary_opts}
    assert command.name != "hivemon", f"{page}: {line}"
    assert {word.split("=")[0] for word in words if word.startswith("-")} <= known, f"{page}: {line}"


def options_alone() -> list[tuple[str, str]]:
    return sorted({(name, o) for name, text in PAGES.items() for o in re.findall(r"`(--[a-z-]+)[^`]*`", text)})


@pytest.mark.parametrize(("page", "option"), options_alone())
def test_every_option_named_alone_is_some_commands(page: str, option: str) -> None:
    def all_options(command) -> set[str]:
        own = {o for parameter in command.params for o in parameter.opts}
        return own.union(*(all_options(sub) for sub in getattr(command, "commands", {}).values()))

    assert option in all_options(get_command(app)) | {"--debug"}, page


@pytest.mark.parametrize("name", list(PAGES))
def test_links_and_pictures_lead_somewhere(name: str) -> None:
    for target in re.findall(r"\]\(([^)#:]+)[^)]*\)", PAGES[name]):
        assert ((ROOT / name).parent / target).exists(), target


@pytest.mark.parametrize("name", list(PAGES))
def test_thresholds_are_those_of_the_code(name: str) -> None:
    assert with_tables(PAGES[name]) == PAGES[name], "run: python tests/guide/make_guide.py --tables"


@pytest.mark.parametrize("kind", list(Kind))
def test_each_kind_has_a_page_with_both_curves_and_its_thresholds(kind: Kind) -> None:
    text = EVENTS[kind]
    assert text.startswith(f"# {kind.value}: ")
    assert TABLE.search(text)
    for which in ("typical", "misleading"):
        assert f"../pictures/{kind.value}-{which}.svg" in text
        assert (kind, which) in SCENES
        assert (GUIDE / "pictures" / f"{kind.value}-{which}.svg").stat().st_size < 30_000
    for part in ("How it is inferred", "Typical", "Looks like it, and is not", "What it cannot see", "Thresholds"):
        assert f"## {part}\n" in text


def test_every_threshold_of_the_code_is_on_a_page() -> None:
    told = set(re.findall(r"`(rules\.[a-z_.]+)`", " ".join(EVENTS.values())))
    code = {
        f"rules.{question}.{key}"
        for question in rules.Rules.__struct_fields__
        for key in getattr(rules.Rules(), question).__struct_fields__
    }
    assert told == code


def test_modules_named_on_the_pages_exist() -> None:
    for text in EVENTS.values():
        for path in re.findall(r"`(hivemon/[\w/]+\.py)`", text):
            assert (ROOT / path).exists()


def test_words_of_the_model_are_in_the_glossary() -> None:
    glossary = PAGES["sample_streams/guide/glossary.md"]
    for word in ("event", "advisory", "reading", "hive day", "logbook", "onset", "withdrawn", *Quantity):
        assert word in glossary


def test_messages_quoted_under_troubleshooting_are_the_programs_own() -> None:
    """Each quoted message, cut at its dots, stands in the source."""
    source = " ".join(
        re.sub(r'"\s*\n\s*f?"', "", path.read_text(encoding="utf-8")) for path in (ROOT / "hivemon").rglob("*.py")
    )
    quoted = re.findall(r'"([^"`]{12,})"', PAGES["sample_streams/guide/troubleshooting.md"])
    assert len(quoted) > 10
    for message in quoted:
        for part in message.split("..."):
            piece = part.strip(" :")
            if piece and piece != "Address already in use":
                assert piece in source, piece

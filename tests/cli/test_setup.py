"""`hivemon setup`: answers in, a commented configuration out that loads as it stands."""

from collections.abc import Callable
from pathlib import Path

import pytest
import typer
from hypothesis import given
from hypothesis import strategies as st

from hivemon.cli import main
from hivemon.cli.configuration import Answers, ids, latitude, longitude, text_of
from hivemon.config import load, parse
from hivemon.errors import UsageError

ALL = ["--yard", "Old Orchard", "--latitude", "51.2", "--longitude", "-3.4", "--timezone", "Europe/London"]
ANSWERS = Answers("Verger de Zoé", 51.2, -3.4, "Europe/Brussels", ["o1"], 2, "lb", "F", "")


def test_options_alone_are_enough(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "new" / "hivemon.toml"
    assert main(["setup", *ALL, "--hives", "o1, o2", "--brood-boxes", "2", "-o", str(path)]) == 0
    said = capsys.readouterr().out
    assert "hives/old-orchard/o1" in said
    assert "2 hives (o1, o2)." in said
    settings = load(path)
    assert (settings.yard[0].title, settings.yard[0].longitude) == ("Old Orchard", -3.4)
    assert [(hive.id, hive.brood_boxes) for hive in settings.hive] == [("o1", 2), ("o2", 2)]
    assert settings.broker is None
    assert settings.store.path == str(path.parent / "hivemon.db")


def test_a_file_that_is_there_is_kept_unless_force_is_given(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "hivemon.toml"
    path.write_text("mine")
    given_options = [*ALL, "--hives", "o1", "-o", str(path)]
    assert main(["setup", *given_options]) == 2
    assert "--force" in capsys.readouterr().err
    assert path.read_text() == "mine"
    assert main(["setup", *given_options, "--force"]) == 0
    assert load(path).hive[0].id == "o1"


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--latitude", "123", "--latitude: '123.0' cannot be"),
        ("--timezone", "Europe/Londn", "did you mean Europe/London?"),
        ("--hives", "o1,my hive", "'my hive' cannot be used as an id"),
        ("--hives", "o1,o1", "an id stands there twice"),
        ("--broker", "mqtt://x", "no host name or address"),
        ("--weight", "stone", "write kg or lb"),
    ],
)
def test_a_wrong_answer_in_a_script_is_named_with_its_option(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    option: str,
    value: str,
    said: str,
) -> None:
    path = tmp_path / "hivemon.toml"
    options = dict(zip(ALL[::2], ALL[1::2], strict=True)) | {"--hives": "o1"} | {option: value}
    assert main(["setup", "-o", str(path), *(part for pair in options.items() for part in pair)]) == 2
    assert said in capsys.readouterr().err
    assert not path.exists()


def test_nobody_to_ask_and_no_answer_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["setup", "-o", str(tmp_path / "h.toml"), *ALL]) == 2
    assert "--hives is missing" in capsys.readouterr().err


def test_a_person_is_asked_again_until_the_answer_will_do(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On a terminal a slip costs one line, not the whole form; Enter takes the default."""
    typed = iter(["Heath", "95", "52,5", "13.4 E", "Europe/Berlin", "h1", None, "lb", None, None, "maybe", "y", "0"])

    def prompt(question: str, default: str | None = None, **_: object) -> str:
        assert question.endswith("?")
        answer = next(typed)
        return default or "" if answer is None else answer

    monkeypatch.setattr(typer, "prompt", prompt)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    path = tmp_path / "hivemon.toml"
    assert main(["setup", "-o", str(path)]) == 0
    assert "'95' cannot be" in capsys.readouterr().out
    settings = load(path)
    assert (settings.yard[0].latitude, settings.yard[0].longitude) == (52.5, 13.4)
    assert (settings.units.weight, settings.units.temperature) == ("lb", "C")
    assert settings.embedded.bind == "0.0.0.0"


def test_a_name_in_any_script_and_a_broker_of_ones_own_load_as_written() -> None:
    settings = parse(text_of(ANSWERS._replace(yard='養蜂場 "A"', broker="192.0.2.7")))
    assert (settings.yard[0].id, settings.yard[0].title) == ("a", '養蜂場 "A"')
    assert settings.broker is not None
    assert settings.broker.uses_tls
    assert ANSWERS.yard_id == "verger-de-zoe"
    assert ANSWERS._replace(yard="養蜂場").yard_id == "yard"


def test_a_broker_of_ones_own_is_written_as_told(tmp_path: Path) -> None:
    path = tmp_path / "hivemon.toml"
    broker = ["--broker", "192.0.2.7", "--broker-port", "1884", "--no-broker-tls", "--broker-user", "hivemon"]
    assert main(["setup", "-o", str(path), *ALL, "--hives", "o1", *broker, "--broker-password-file", "pw"]) == 0
    settings = load(path)
    assert settings.broker is not None
    assert (settings.broker.actual_port, settings.broker.uses_tls, settings.broker.user) == (1884, False, "hivemon")
    assert settings.broker.password_file == str(tmp_path / "pw")


def test_what_is_commented_out_in_the_file_is_right_too() -> None:
    """Every `# key = value` of the file, uncommented, still loads: nobody learns a wrong key from it."""
    text = text_of(ANSWERS._replace(broker="192.0.2.7"))
    lines = [line.removeprefix("# ") if is_commented_out(line) else line for line in text.splitlines()]
    settings = parse("\n".join(lines).replace('hive = "..."', 'hive = "o1"'))
    assert settings.influx is not None
    assert settings.device[0].pointer == "/data/weight"
    assert settings.hive[0].screened_floor


def is_commented_out(line: str) -> bool:
    body = line.removeprefix("# ")
    return line.startswith("# ") and (body.startswith("[") or body.split(" ")[1:2] == ["="])


@pytest.mark.parametrize(
    ("read", "text", "degrees"),
    [
        (latitude, "51.2", 51.2),
        (latitude, "51,2", 51.2),
        (latitude, "51.2 S", -51.2),
        (latitude, "51.2° n", 51.2),
        (longitude, "-3.4", -3.4),
        (longitude, "3.4W", -3.4),
    ],
)
def test_degrees_are_read_as_people_write_them(read: Callable[[str], float], text: str, degrees: float) -> None:
    assert read(text) == degrees


@given(st.text(max_size=30))
def test_any_list_of_ids_is_either_refused_or_loads(text: str) -> None:
    try:
        found = ids(text)
    except UsageError:
        return
    assert [hive.id for hive in parse(text_of(ANSWERS._replace(hives=found))).hive] == found


@given(st.text(min_size=1, max_size=40))
def test_any_yard_name_gives_a_file_that_loads(name: str) -> None:
    """Names with quotes, backslashes, control characters or other scripts must not break the file."""
    assert parse(text_of(ANSWERS._replace(yard=name))).yard[0].name == name

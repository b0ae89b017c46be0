"""`hivemon calibrate` at the keyboard: options, questions, what is written where, and what the readings become."""

import pytest
import typer
from cli_samples import CONFIG

from hivemon.config import load
from hivemon.intake.translate import Translator

SCALE = """
# the old scale, mended in May
[[device]]
topic = "barn/scale1"
yard = "orchard"
hive = "o1"
quantity = "weight"
form = "json"
pointer = "/raw"
unit = "lb"      # wrong, says the label
scale = 2.0
offset = 1.0

[[device]]
topic = "barn/probe"
yard = "orchard"
hive = "o1"
quantity = "temperature"
"""
POINTS = ["--point", "0=84000", "--point", "20=516000"]


@pytest.fixture
def with_scale(config):
    config.write_text(CONFIG + SCALE)
    return config


def weight(config, payload: bytes) -> float:
    return Translator(load(config)).readings("barn/scale1", payload, 1_781_265_600_000)[0].value


def test_the_lines_for_the_configuration_are_printed(hivemon) -> None:
    answer = hivemon("calibrate", *POINTS, "--check", "40=946700")
    assert answer.code == 0
    assert "  scale = 4.6296296296296" in answer.out
    assert "  offset = -3.88888" in answer.out
    assert "-0.060  check" in answer.out


def test_what_the_scale_shows_is_shown_again_to_the_last_digit(hivemon) -> None:
    """A load cell's 24-bit converter counts to 16,777,215: six digits would hide what repeats and what does not."""
    said = hivemon("calibrate", "--point", "0=84000", "--point", "20=1019471", "--check", "40=16777215").out
    assert [line.split()[1] for line in said.splitlines()[1:4]] == ["84000", "1019471", "16777215"]


def test_they_are_written_into_the_device_and_comments_stay(hivemon, with_scale) -> None:
    answer = hivemon("calibrate", *POINTS, "--device", "barn/scale1#/raw", "--write")
    assert answer.code == 0
    assert "hivemon log add o1 scale-reset" in answer.out
    text = with_scale.read_text()
    assert text.startswith(CONFIG)
    assert "# the old scale, mended in May" in text
    assert "# wrong, says the label" in text
    assert weight(with_scale, b'{"raw": 516000}') == pytest.approx(20)
    assert weight(with_scale, b'{"raw": 84000}') == pytest.approx(0)


def test_kg_as_hivemon_shows_them_go_on_top_of_what_the_device_has(hivemon, with_scale) -> None:
    """2 x raw + 1 lb are shown; the bare stand shows 3 kg and 20 kg show 26 kg."""
    before = [(kg / 0.45359237 - 1) / 2 for kg in (3, 26)]
    shown = ["--shown", "--point", "0=3", "--point", "20=26"]
    assert hivemon("calibrate", *shown, "--device", "barn/scale1#/raw", "--write").code == 0
    assert [weight(with_scale, b'{"raw": %r}' % raw) for raw in before] == pytest.approx([0, 20])


def test_masses_may_be_pounds_and_numbers_several(hivemon) -> None:
    answer = hivemon("calibrate", "--point", "0=100,104", "--point", "44lb=10100, 10096", "--point", "20,0=10125")
    assert answer.code == 0
    assert "19.958" in answer.out  # 44 lb x 0.45359237
    assert "a hive of 60 kg is right to ±" in answer.out


def test_a_person_is_asked_for_masses(hivemon, monkeypatch) -> None:
    answers = iter(["0", "84000 84010", "twenty", "20", "516000", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(typer, "prompt", lambda *_, **__: next(answers))
    answer = hivemon("calibrate")
    assert answer.code == 0
    assert "'twenty' is no mass" in answer.out
    assert "scale = 4.6" in answer.out


@pytest.mark.parametrize(
    ("options", "said", "code"),
    [
        ([], "no masses were given", 2),
        (["--point", "20"], "no = in it", 2),
        (["--point", "x=1", "--point", "2=3"], "'x' is no mass", 2),
        (["--point", "0=1,5x", "--point", "2=3"], "'5x' is no number", 2),
        (["--point", "20=516000"], "two different masses are needed", 2),
        ([*POINTS, "--write"], "which device is not said", 2),
        ([*POINTS, "--device", "barn/scale2"], "scales there: barn/scale1#/raw", 3),
        ([*POINTS, "--device", "barn/probe"], "no scale 'barn/probe'", 3),
    ],
)
def test_what_is_wrong_is_said(hivemon, with_scale, options, said, code) -> None:
    before = with_scale.read_text()
    answer = hivemon("calibrate", *options)
    assert answer.code == code
    assert said in answer.err
    assert with_scale.read_text() == before

"""Several daemons at one broker: overlaps and gaps in their shares are found; each kind of doubt has a case."""

from pathlib import Path

import pytest

from hivemon.cli import main
from hivemon.config import Settings, parse
from hivemon.intake.translate import Translator
from hivemon.shares import Share, doubts

YARD = '[[yard]]\nid = "{}"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
BROKER = '[broker]\nhost = "127.0.0.1"\n'


def settings(*yards: str, share: str | None = None, more: str = "", broker: str = BROKER) -> Settings:
    named = f'share = "{share}"\n' if share else ""
    return parse(f"{broker}{named}{more}{''.join(map(YARD.format, yards))}")


def found(*shares: Settings, heard: tuple[str, ...] = ()) -> list[str]:
    return [doubt.what for doubt in doubts([Share(f"{n}.toml", s) for n, s in enumerate(shares)], heard)]


NORTH, SOUTH = settings("a", "b", share="north"), settings("c", share="south")


def test_yards_in_exactly_one_share_each_are_well() -> None:
    assert found(NORTH, SOUTH, heard=("a", "b", "c")) == []
    assert found(settings("a")) == [], "a daemon alone needs no share"


INFLUX = '[influx]\nurl = "http://127.0.0.1:8086"\n'
SCALE = '[[device]]\ntopic = "barn/1"\nyard = "{}"\nhive = "h"\nquantity = "weight"\n'


@pytest.mark.parametrize(
    ("shares", "heard", "said"),
    [
        ((NORTH, settings("b", "c", share="south")), (), "overlap: the yard b is in north and south"),
        ((NORTH, SOUTH), ("d",), "gap: the yard d publishes and is in no share"),
        ((NORTH, settings("c", share="north")), (), "overlap: 0.toml and 1.toml come to the broker as hivemon-north"),
        ((NORTH, settings("c")), (), "1.toml has no share: it takes what every yard publishes"),
        ((NORTH, settings("c", broker="")), (), "1.toml runs a broker of its own: it has no share in another"),
        ((NORTH, settings("c", share="south", more=INFLUX)), (), "not all have the same InfluxDB"),
        ((NORTH, settings("c", share="south", more='topic = "bees"\n')), (), "not all have the same broker and topic"),
        (
            (
                settings("a", share="north", more=SCALE.format("a")),
                settings("c", share="south", more=SCALE.format("c")),
            ),
            (),
            "overlap: the device topic barn/1 is in north and south",
        ),
    ],
)
def test_each_doubt_alone_is_found(shares: tuple[Settings, ...], heard: tuple[str, ...], said: str) -> None:
    (what,) = found(*shares, heard=heard)
    assert what.startswith(said)


def test_a_share_hears_its_own_yards_and_its_devices_and_nothing_else() -> None:
    scale = SCALE.format("a").replace("barn/1", "hives/a/scale")
    elsewhere = SCALE.format("a").replace("barn/1", "hives/z/scale").replace('"weight"', '"humidity"')
    own = settings("a", share="north", more=scale + elsewhere)
    assert Translator(own).topics() == ["hives/a/+", "hives/a", "hives/z/scale"]
    assert Translator(settings("a")).topics() == ["hives/+/+", "hives/+"]


def test_the_command_says_so_and_its_exit_code_too(tmp_path: Path, capsys) -> None:
    for name, text in (("n", "a"), ("s", "c"), ("o", "a")):
        share = {"n": "north", "s": "south", "o": "other"}[name]
        (tmp_path / f"{name}.toml").write_text(f'{BROKER}share = "{share}"\n{YARD.format(text)}')
    path = {name: str(tmp_path / f"{name}.toml") for name in "nso"}
    assert main(["shares", path["n"], path["s"]]) == 0
    said = capsys.readouterr().out
    assert "Every yard is in one share." in said
    assert "north: 1 yard, 0 hives\n" in said
    assert main(["shares", path["n"], path["s"], path["o"]]) == 7
    assert "the yard a is in north and other" in capsys.readouterr().out
    assert main(["shares", path["n"], path["o"], "--json"]) == 7

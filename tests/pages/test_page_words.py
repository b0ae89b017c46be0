"""The words of the pages: alike in every language, none missing for what the program can say, none left over."""

import re

import pytest
import said_in_code
from pages_client import NOW, free_port, with_pages

from hivemon.config import load
from hivemon.model import Entry, Event, Kind, Quantity, Urgency
from hivemon.morning import Standing
from hivemon.pages import PagesServer
from hivemon.pages.answers import choices
from hivemon.pages.static import folder
from hivemon.signals.clean import PLAUSIBLE

LIMITS = re.compile(r'"?([a-z-]+)"?: \[(-?\d+), (-?\d+)\]')
"""A quantity with its lowest and highest possible value, as the page spells them."""
SHARED = {
    "program", "unknown", "sentence", "sensors/quantity/temperature", "hive/table/nest", "hive/later", "hive/mark",
    "logbook/version", "login/title", "login/enter", "told/sensor-fault",
}  # fmt: skip
"""Words that both languages have, and forms without words."""
SHAPE = """async ([file, name]) => {
  const words = (await import(`/js/${file}.js`))[name];
  const named = new Proxy({}, { get: (_given, key) => (key === 'came' ? true : `<${String(key)}>`) });
  const call = (one) => { try { return [one(named)].flat().join(' '); } catch { return null; } };
  const shape = (node) => {
    if (typeof node !== 'function') return typeof node === 'object' ? entries(node) : String(node);
    const takes = /^\\(?\\{/.test(node.toString());
    const given = [[17, 18, 19, 17, 18], [1, 1, 1, 1, 1], [0, 0, 0, 0, 0]];
    const said = takes ? [call(node)] : given.map((numbers) => [node(...numbers)].flat().join(' '));
    return { takes: takes ? 'named' : node.length, said };
  };
  const entries = (node) => Object.fromEntries(Object.entries(node).map(([key, value]) => [key, shape(value)]));
  return entries(words);
}"""


@pytest.fixture(scope="module")
def words(judged, browser):
    """Both languages as {key: text, or what a function says to numbers or to named blanks}."""
    settings = with_pages(load(judged / "hivemon.toml"), port=free_port())
    with PagesServer(settings, clock=lambda: NOW) as server:
        page = browser.new_page()
        page.goto(f"{server.url}login")
        yield {
            language: page.evaluate(SHAPE, [f"words_{language}", name])
            for language, name in (("en", "english"), ("nl", "dutch"))
        }
        page.close()


def leaves(node, path=()):
    """Yield (path, leaf) of every word, whatever its depth."""
    for key, value in node.items():
        if isinstance(value, dict) and "takes" not in value:
            yield from leaves(value, (*path, key))
        else:
            yield (*path, key), value


def test_every_language_has_the_same_words(words):
    """Neither has more than the other, and each takes the same blanks."""
    english, dutch = (dict(leaves(words[language])) for language in ("en", "nl"))
    assert set(english) == set(dutch)
    for path, one in english.items():
        other = dutch[path]
        assert isinstance(one, str) == isinstance(other, str), path
        if isinstance(one, dict):
            assert one["takes"] == other["takes"], path


def test_every_blank_is_used_in_every_language(words):
    """What one language tells (a number, a name, a time), the other tells too."""
    english, dutch = (dict(leaves(words[language])) for language in ("en", "nl"))
    for path, one in english.items():
        if isinstance(one, dict):
            said = [re.findall(r"<\w+>|\b1[789]\b", " ".join(map(str, which["said"]))) for which in (one, dutch[path])]
            assert set(said[0]) == set(said[1]), path
            assert "undefined" not in str(one) + str(dutch[path]), path


def test_nothing_was_left_untranslated(words):
    """What is the same in both languages is a name, a number or a word that both have."""
    english, dutch = (dict(leaves(words[language])) for language in ("en", "nl"))
    same = {path for path, one in english.items() if one == dutch[path]}
    assert {"/".join(path) for path in same} == SHARED


@pytest.mark.parametrize("language", ["en", "nl"])
def test_what_the_program_can_say_has_its_words(words, language):
    """Kinds, numbers, entries, quantities, urgencies, states, refusals: each has words, and no word is idle."""
    said = words[language]
    assert set(said["kinds"]) == {kind.value for kind in Kind}
    assert {key.partition("/")[0] for key in said["told"]} == {kind.value for kind in Kind}
    assert set(said["entry"]) == {entry.value for entry in Entry}
    assert set(said["urgency"]) == {urgency.value for urgency in Urgency} | {"none", "late"}
    assert set(said["sensors"]["quantity"]) == {quantity.value for quantity in Quantity}
    assert set(said["today"]["states"]) == {state.value for state in Standing}
    assert set(said["refusals"]) == said_in_code.refusals()
    assert set(said["takenBack"]) == said_in_code.regrets()
    assert {key.rpartition("/")[2] for key in said["evidence"]} == said_in_code.evidence()


@pytest.mark.parametrize("language", ["en", "nl"])
def test_every_reason_has_its_words(words, language):
    """A name in inference is a reason with words, or stands in the list of those that are never shown."""
    reasons = set(words[language]["reasons"])
    known = {value for kind in (Kind, Entry, Quantity) for value in kind}
    in_code = said_in_code.names() | said_in_code.reasons_of_no_swarm()
    missing = in_code - reasons - said_in_code.NEVER_SHOWN - known
    by_quantity = {name for name in missing if name.partition("-")[0] in set(Quantity)}
    assert missing - by_quantity == set()
    assert reasons - in_code == set(), "words for what nobody says"
    faults = {name for name in reasons if name.startswith(("weight-", "temperature-", "humidity-", "battery-"))}
    assert set(words[language]["faults"]) == faults - {"weight-went-to-and-fro"}


@pytest.mark.parametrize("language", ["en", "nl"])
def test_every_answer_has_its_words(words, language):
    offered = set()
    for kind in Kind:
        for size in (-2.0, 2.0):
            event = Event(
                id="e", kind=kind, yard="y", hive="h", onset=NOW, onset_first=NOW, raised=NOW, confidence=0.9,
                reason="r", summary="s", size=size, unit="kg",
            )  # fmt: skip
            found = {choice.key for choice in choices(event)}
            assert found, kind
            offered |= found
    assert set(words[language]["answers"]) == offered


def test_no_other_file_of_the_pages_holds_words():
    """What a person reads stands in the words alone: nowhere else a capital, a space and more."""
    for path in (folder() / "js").glob("*.js"):
        if path.stem.startswith(("words_", "told_")):
            continue
        code = re.sub(r"^\s*//.*$", "", path.read_text(), flags=re.MULTILINE)
        assert re.findall(r"""["'`][A-Z][a-z]+ [a-z][^"'`]*["'`]""", code) == [], path.name


def test_a_curve_makes_room_for_what_the_program_holds_possible():
    """The page's limits are the program's own (signals/clean.py)."""
    plots = (folder() / "js" / "plots.js").read_text(encoding="utf-8")
    said = re.search(r"const CAN_BE = \{(.*?)\};", plots, re.DOTALL)
    assert said is not None
    limits = {name: (float(low), float(high)) for name, low, high in LIMITS.findall(said[1])}
    assert len(limits) == 4
    assert limits == {name: PLAUSIBLE[Quantity(name)] for name in limits}

"""Every text a beekeeper can get is on file, word for word, and keeps the rules of plain speech."""

import re

import pytest
import textstat
from golden_cases import CASES, golden, wanted, written

from hivemon.advice.words import LANGUAGES
from hivemon.model import Urgency

VISITS = re.compile(r"\bby (?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day\b", re.IGNORECASE)
WITHOUT_EVENTS = {
    "feed", "look-for-food", "keep-honey", "winter-stores", "winter-food", "mites", "few-mites", "count-mites",
    "recheck-mites", "weak", "colonies",
}  # fmt: skip
"""These follow from weights, hive days, the calendar or the logbook, not from an event."""
LONGEST_SENTENCE = 32  # words; the median is far shorter


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", CASES)
def test_text_is_the_one_on_file(name, language):
    """A text changes only together with its golden file: run golden_cases.py --write, then read it aloud."""
    kept = (golden(language) / f"{name}.txt").read_text(encoding="utf-8")
    assert written(wanted(name, language), language) == kept


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_golden_file_without_its_case(language):
    assert {path.stem for path in golden(language).glob("*.txt")} == set(CASES)


@pytest.mark.parametrize("name", CASES)
def test_every_field_is_filled_sensibly(name):
    """What was seen, what it means and a title are never empty; what asks for something says what else it could be."""
    advisory = wanted(name)
    assert advisory.title
    assert advisory.saw
    assert advisory.means
    if advisory.closed is None:
        assert advisory.could_also_be, "a measurement is no diagnosis"
        assert advisory.do
        assert advisory.events or advisory.id.split(":")[0] in WITHOUT_EVENTS


@pytest.mark.parametrize("name", CASES)
def test_a_visit_has_a_date(name):
    """What is urgent, or names a day to do it by in its title or steps, carries that day."""
    advisory = wanted(name)
    asks = any(VISITS.search(text) for text in (advisory.title, *advisory.do))
    if asks or (advisory.urgency is not Urgency.FOR_INFORMATION and advisory.closed is None):
        assert advisory.do_by is not None
        assert advisory.do_by >= advisory.raised


@pytest.mark.parametrize("name", CASES)
def test_plain_speech(name):
    """No exclamation marks, no blanks left open, no overlong sentences, a full stop or question mark at the end."""
    advisory = wanted(name)
    texts = [advisory.saw, advisory.means, *advisory.could_also_be, *advisory.do, *advisory.cautions]
    for text in texts:
        assert "!" not in text
        assert "{" not in text
        assert "  " not in text
        assert text.strip() == text
        assert text[-1] in ".?"
        assert text[0].isupper()
        for sentence in re.split(r"(?<=[.?:;]) ", text):
            assert len(sentence.split()) <= LONGEST_SENTENCE, sentence
    assert not advisory.title.endswith(".")
    assert len(advisory.cautions) <= 3


EASY = 60.0
"""Flesch reading ease: from 60 on plain English (Flesch 1948); the library uses Douma's constants for Dutch."""


@pytest.fixture
def reading_ease():
    """Returns the reading ease of a text in a language, by a general library."""

    def measure(text, language):
        textstat.set_lang(language)
        return textstat.flesch_reading_ease(text)

    yield measure
    textstat.set_lang("en_US")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", CASES)
def test_a_text_is_easy_to_read(name, language, reading_ease):
    """Hive names, dates and numbers included, as a person reads them."""
    advisory = wanted(name, language)
    texts = [f"{advisory.title}.", advisory.saw, advisory.means, *advisory.could_also_be, *advisory.do]
    assert reading_ease(" ".join([*texts, *advisory.cautions]), language) >= EASY


def test_the_library_tells_hard_from_easy(reading_ease):
    """A long-winded sentence of long words must fail where ours pass."""
    hard = "Notwithstanding meteorological considerations, supplementary carbohydrate administration is inadvisable."
    assert reading_ease(hard, "en") < EASY


MOST_WORDS = 260


@pytest.mark.parametrize("name", CASES)
def test_a_text_is_no_wall(name):
    """Half a minute to read what to do; a minute and a half for every word of it."""
    advisory = wanted(name)
    assert sum(len(text.split()) for text in advisory.do) <= 115
    assert len(written(advisory).split()) <= MOST_WORDS


NOW_TOPICS = {"swarm", "off-scale", "robbing", "heat", "feed"}


@pytest.mark.parametrize("name", CASES)
def test_now_is_kept_for_what_cannot_wait(name):
    """Only a swarm, an empty scale, robbing, overheated brood and starvation fetch a person at once."""
    advisory = wanted(name)
    if advisory.urgency is Urgency.NOW:
        assert advisory.id.split(":")[0] in NOW_TOPICS

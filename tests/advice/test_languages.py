"""Every text can be said in every language, with the same blanks, dates and numbers as that language writes them."""

from __future__ import annotations

import ast
from string import Formatter

import pytest
from advice_scenes import NOW, ZONE, at
from babel import dates, numbers
from catalogues import TRANSLATED, calls, catalogue, compiled, header, texts

from hivemon.advice import words
from hivemon.advice.lifecycle import really_differs
from hivemon.config import UnitSettings
from hivemon.model import DAY, Advisory, Urgency

SAID_BY_NAME = {
    ("climate.py", "text"),
    ("texts/winter.py", "source.name"),
    ("words.py", "_SMALL[value]"),
    ("words.py", "word"),
    ("words.py", "name"),
    ("words.py", "WEEKDAYS[local.weekday()]"),
    ("words.py", "MONTHS[local.month - 1]"),
    ("lifecycle.py", "name"),
    ("overdue.py", "_BY"),
    ("overdue.py", "_SOON"),
    ("overdue.py", "_TOLD"),
    ("texts/many.py", "MANY[sort]"),
}
"""What is said without standing there as text: each is taken from a list whose entries are `marked`."""


def blanks(text: str) -> set[str]:
    return {field for _, field, _, _ in Formatter().parse(text) if field is not None}


def test_every_text_stands_in_the_program_as_a_text():
    """A text put together from pieces could not be found by a translator."""
    others = {(file, ast.unparse(call.args[0])) for file, call in calls() if not isinstance(call.args[0], ast.Constant)}
    assert others <= SAID_BY_NAME


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_text_lacks_its_translation_and_none_is_left_over(language):
    """Run catalogues.py --update, then translate what is new."""
    kept = {m.id: m.string for m in catalogue(language) if m.id}
    assert set(kept) == set(texts())
    assert [text for text, translated in kept.items() if not translated] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_blanks_agree(language):
    for message in catalogue(language):
        if message.id:
            assert blanks(str(message.string)) == blanks(str(message.id)), message.id


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_compiled_catalogue_is_the_one_that_was_translated(language):
    """By gettext's own format (GNU gettext manual), as a general library reads and writes it."""
    kept = {m.id: m.string for m in catalogue(language) if m.id}
    assert {m.id: m.string for m in compiled(language) if m.id} == kept
    assert header(compiled(language)) == header(catalogue(language))


@pytest.mark.parametrize("language", TRANSLATED)
def test_sentences_keep_their_shape(language):
    """A sentence stays a sentence, a question a question, and what is part of one stays part of one."""
    for message in catalogue(language):
        english, translated = str(message.id), str(message.string)
        if message.id:
            assert (english[-1] in ".?") == (translated[-1] in ".?"), english
            assert translated == translated.strip()
            assert "  " not in translated


@pytest.mark.parametrize("language", words.LANGUAGES)
def test_days_and_months_are_those_of_the_unicode_locale_data(language):
    with words.speaking(language):
        for number in range(7):
            assert words.say(words.WEEKDAYS[number]) == dates.get_day_names("wide", locale=language)[number]
        for number in range(12):
            assert words.say(words.MONTHS[number]) == dates.get_month_names("wide", locale=language)[number + 1]


@pytest.mark.parametrize("language", words.LANGUAGES)
def test_numbers_are_written_as_the_unicode_locale_data_have_them(language):
    with words.speaking(language):
        assert words.decimal(2.5) == numbers.format_decimal(2.5, locale=language)
        assert words.number(13000) == numbers.format_decimal(13000, locale=language)
        assert words.bees(13125.0, 16154.0).startswith(numbers.format_decimal(13000, locale=language))


def test_a_beekeeper_of_the_low_countries_reads_dates_and_amounts_so():
    metric = UnitSettings()
    with words.speaking("nl"):
        assert words.day(at("2026-06-06 11:20"), ZONE) == "zaterdag 6 juni"
        assert words.weight(2.13, metric) == "2,1 kg"
        assert words.volume(4.5, metric) == "4,5 liter"
        assert words.weights(4.2, 8.9, metric) == "4 tot 9 kg"
        assert words.days(9.1, 8.9) == "ongeveer 9 dagen"
        assert words.listed(["Linde", "Es", "Iep"]) == "Linde, Es en Iep"
        assert words.counted(1, words.say("super"), words.say("supers")) == "één honingkamer"
        assert words.likely(0.95) == "bijna zeker"


def test_english_is_spoken_where_nothing_else_is_asked_for():
    with words.speaking("nl"):
        pass
    assert words.spoken() == "en"
    assert words.day(at("2026-06-06 11:20"), ZONE) == "Saturday 6 June"


def dutch(**more) -> Advisory:
    return Advisory(**{
        "id": "feed:orchard:o1", "yard": "orchard", "hive": "o1", "raised": NOW, "updated": NOW,
        "urgency": Urgency.THIS_WEEK, "title": "Linde heeft voer nodig", "saw": "Linde heeft 13.000 bijen.",
        "means": "Het is iets.", "do": ["Geef uiterlijk zaterdag 6 juni 2,1 kg."], "do_by": NOW + 2 * DAY, **more,
    })  # fmt: skip


@pytest.mark.parametrize(
    ("step", "news"),
    [
        ("Geef uiterlijk zondag 7 juni 2,1 kg.", False),
        ("Geef uiterlijk zaterdag 13 juni 2,1 kg.", True),
        ("Geef uiterlijk zaterdag 6 juni 2 kg.", False),
        ("Geef uiterlijk zaterdag 6 juni 3,1 kg.", True),
        ("Geef uiterlijk zaterdag 6 juni 21 kg.", True),
    ],
)
def test_what_is_news_is_told_in_every_language(step, news):
    """A decimal comma is no mark of thousands: 2,1 is near 2 and far from 21."""
    assert really_differs(dutch(), dutch(do=[step]), NOW + DAY) is news

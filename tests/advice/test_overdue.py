"""A day that is past is no order, in any language and of any topic."""

import re
from dataclasses import replace

import msgspec
import pytest
from advice_scenes import LIME, NOW, YARD, ZONE, days, event, scene
from catalogues import catalogue
from golden_cases import CASES, wanted

from hivemon.advice.decide import advise
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.overdue import as_overdue, is_told, merely_overdue, told_now
from hivemon.advice.words import LANGUAGES, day, say, speaking
from hivemon.model import DAY, Kind, Urgency


def super_due(language="en"):
    """Return a scene in which Lime needs a super by a day two days ago."""
    flow = event(Kind.FLOW_ONSET, NOW - 8 * DAY, size=2.5)
    yard = msgspec.structs.replace(YARD, language=language)
    first = scene(yard=yard, hives=[LIME], events=[flow], days={"o1": days([2.5] * 8, until=NOW - 3 * DAY)})
    then = replace(first, now=NOW - 3 * DAY)
    standing = reconcile([], [a for a in advise(then) if a.id.startswith("super:")], then.now)
    assert len(standing) == 1
    assert standing[0].do_by < NOW
    return replace(first, days={"o1": days([2.5] * 8)}, open=standing), standing


@pytest.mark.parametrize(
    ("language", "title", "step"),
    [
        ("en", r"Lime needs its \w+ super as soon as you can \(it was due on \w+ \d June\)", "as soon as you can."),
        (
            "nl",
            r"Lime heeft zo snel mogelijk \(dat moest al op \w+ \d juni\) zijn \w+ honingkamer nodig",
            "zo snel mog",
        ),
    ],
)
def test_told_again_once_and_in_the_same_words_everywhere(language, title, step):
    staged, standing = super_due(language)
    changes = [a for a in reconcile(standing, advise(staged), NOW) if a.id == standing[0].id]
    (late,) = changes
    assert re.fullmatch(title, late.title)
    assert step in late.do[0]
    assert late.do_by == standing[0].do_by
    again = [a for a in advise(replace(staged, open=[late])) if a.id == standing[0].id.partition("@")[0]]
    assert reconcile([late], again, NOW + DAY // 24) == []
    with speaking(language):
        assert is_told(late.title)
        assert told_now(standing[0], NOW, ZONE).title == late.title
        assert told_now(late, NOW, ZONE) == late


def test_a_day_gone_by_is_no_news_but_anything_else_is():
    staged, standing = super_due()
    (late,) = (a for a in reconcile(standing, advise(staged), NOW) if a.id == standing[0].id)
    assert merely_overdue(msgspec.structs.replace(standing[0], saw=late.saw, means=late.means, updated=NOW), late, NOW)
    other = msgspec.structs.replace(late, title="Lime has left")
    assert not merely_overdue(standing[0], other, NOW)
    moved = msgspec.structs.replace(late, do_by=NOW + 4 * DAY)
    assert not merely_overdue(standing[0], moved, NOW)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", sorted(CASES))
def test_no_overdue_advisory_names_its_day_but_as_the_one_it_was_due_on(name, language):
    """What is due `now` is never late: an alarm is over, or asked anew."""
    found = wanted(name, language)
    if found.do_by is None or found.urgency in (Urgency.NOW, Urgency.FOR_INFORMATION):
        return
    with speaking(language):
        late = as_overdue(found, found.do_by, found.do_by + DAY, ZONE)
        due = day(found.do_by, ZONE)
        assert say("by {by}", by=due) not in " ".join([late.title, *late.do]).lower()


def test_every_language_says_by_a_day_alike():
    for language in LANGUAGES[1:]:
        phrase = catalogue(language)["by {by}"].string
        for message in catalogue(language):
            if message.id and re.search(r"\b[Bb]y \{by\}", str(message.id)):
                assert str(phrase) in str(message.string).lower(), message.id

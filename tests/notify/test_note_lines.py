"""A note of a large yard is as short as that of a small one, and names every hive that must stay closed."""

import pytest
from notify_samples import LIME, YARD, advisory, at

from hivemon.advice.texts.many import MANY
from hivemon.advice.words import LANGUAGES, speaking
from hivemon.config import HiveSettings, UnitSettings
from hivemon.model import DAY, Urgency
from hivemon.notify.lines import ALIKE, Due, due_of, lines_of
from hivemon.notify.note import MOST_WORDS, NoteView, morning_note, words_in

NOW, TODAY, WEEK, NEWS = Urgency
MORNING = at("2026-06-06 06:30")
TONIGHT = at("2026-06-06 20:00")
YARD_OF_FIFTY = [HiveSettings(id=f"y1-{n:02}", yard="orchard") for n in range(1, 51)]


def note(advisories, hives=YARD_OF_FIFTY):
    return morning_note(
        NoteView(yard=YARD, hives=hives, now=MORNING, advisories=advisories, events=(), days=(),
                 heard={h.id: MORNING for h in hives}, units=UnitSettings())
    )  # fmt: skip


def wanted(topic, number, do_by, urgency=TODAY):
    hive = f"y1-{number:02}"
    return advisory(
        urgency, MORNING - DAY, id=f"{topic}:orchard:{hive}@1", hive=hive, title=f"{hive}: {topic} by", do_by=do_by
    )


SUPERS = [wanted("super", n, TONIGHT - (2 * DAY if n <= 25 else 0)) for n in range(1, 50)]
COUNT = advisory(
    WEEK, MORNING - DAY, id="count-mites:orchard:@1", hive=None, title="Orchard: count the mites by Saturday 6 June",
    do_by=TONIGHT, do=["Take bees."],
)  # fmt: skip


def test_fifty_hives_word_for_word():
    found = note([*SUPERS, COUNT])
    assert found.title == "Orchard, Saturday 6 June: two things need you"
    assert found.text == (
        "What needs you:\n"
        "- Orchard: count the mites by Saturday 6 June. Take bees.\n"
        "- 49 hives need a super: 25 overdue (y1-01, y1-02, y1-03 and 22 more) and 24 due today "
        "(y1-26, y1-27, y1-28 and 21 more). Take 49 along.\n"
        "\n"
        "Fine: hive y1-50."
    )
    assert {a.id for a in found.told} == {a.id for a in [*SUPERS, COUNT]}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_worst_of_days_is_still_read_in_half_a_minute(language):
    every = [
        wanted(topic, n, TONIGHT + day * DAY, urgency)
        for topic in MANY
        for n in range(1, 51)
        for day, urgency in ((-3, TODAY), (0, WEEK), (4, NEWS))
    ]
    alarm = wanted("robbing", 7, TONIGHT, NOW)
    with speaking(language):
        found = note([*every, COUNT, alarm])
    assert words_in(found.text) <= MOST_WORDS
    assert found.text.splitlines()[1].startswith("- y1-07: robbing"), "an alarm comes first"
    assert found.text.splitlines()[2].startswith("- Orchard: count the mites"), "then what the yard asks for"


def test_few_hives_are_told_one_by_one():
    assert [len(line.advisories) for line in lines_of(SUPERS[: ALIKE - 1])] == [1] * (ALIKE - 1)
    assert [len(line.advisories) for line in lines_of(SUPERS[:ALIKE])] == [ALIKE]
    assert [len(line.advisories) for line in lines_of([advisory(id=f"x{n}:orchard:o1@1") for n in range(9)])] == [1] * 9


@pytest.mark.parametrize(
    ("do_by", "due"),
    [
        (None, Due.OPEN),
        (at("2026-06-05 20:00"), Due.OVERDUE),
        (TONIGHT, Due.TODAY),
        (at("2026-06-07 20:00"), Due.LATER),
    ],
)
def test_when_something_is_due(do_by, due):
    assert due_of(advisory(do_by=do_by), MORNING, YARD.zone) is due


CLOSED = "has swarmed: leave the brood nest closed until Saturday 20 June, then look once for eggs by Monday 29 June"


def swarmed(hive="o1", name="Lime", topic="after-swarm"):
    """A swarm's calendar of ten days ago, its next day three weeks off."""
    return advisory(
        NEWS, MORNING - 10 * DAY, id=f"{topic}:orchard:{hive}:e@1", hive=hive, title=f"{name} {CLOSED}",
        do_by=at("2026-06-29 20:00"),
    )  # fmt: skip


@pytest.mark.parametrize("topic", ["after-swarm", "brood"])
def test_a_hive_that_must_stay_closed_is_in_every_note_and_not_fine(topic):
    pair = [LIME, YARD_OF_FIFTY[0]]
    found = note([swarmed(topic=topic)], pair)
    assert found.title.endswith("nothing needs you today")
    assert found.text == f"Nothing needs you today.\n\nThis week:\n- Lime {CLOSED}.\n\nFine: hive y1-01."
    assert note([], pair).text.endswith("Both hives are fine.")


def test_a_text_of_before_the_language_was_changed_says_its_day_once():
    """It is told anew at the next decision; until then it stands as it was."""
    late = advisory(WEEK, MORNING - DAY, title="Lime: feed it as soon as you can (it was due on Friday 5 June)",
                    do=[], do_by=at("2026-06-05 20:00"))  # fmt: skip
    with speaking("nl"):
        text = note([swarmed(), late], [LIME, YARD_OF_FIFTY[0]]).text
    assert f"- Lime {CLOSED}.\n" in text
    assert "(it was due on Friday 5 June).\n" in text


def test_it_is_not_left_out_of_a_full_note():
    assert f"Lime {CLOSED}" in note([*SUPERS, COUNT, swarmed(), *(wanted("step", n, TONIGHT) for n in range(9))]).text
    many = [swarmed(f"y1-{n:02}", f"y1-{n:02}") for n in range(1, 11)]
    assert "Ten hives have swarmed: leave their brood nests closed" in note(many).text

"""One condition, one advisory: same id while it stands, quiet while nothing changes, closed when over."""

from __future__ import annotations

import msgspec
import pytest
from advice_scenes import NOW, YARD, days, event, scene

from hivemon.advice.decide import advise
from hivemon.advice.lifecycle import really_differs, reconcile
from hivemon.model import DAY, HOUR, Advisory, Kind, Urgency

BASE = Advisory(
    id="feed:orchard:o1",
    yard="orchard",
    hive="o1",
    raised=NOW,
    updated=NOW,
    urgency=Urgency.THIS_WEEK,
    title="Lime needs food by Saturday 6 June",
    saw="Lime lost 12 kg and 3 bees at 11:20.",
    means="It means 4 things.",
    could_also_be=["Something else."],
    do=["Give 4 kg."],
    do_by=NOW + 2 * DAY,
    cautions=["Mind yourself."],
    events=["e1"],
)


def but(old: Advisory = BASE, **changes) -> Advisory:
    return msgspec.structs.replace(old, **changes)


def applied(standing: list[Advisory], changes: list[Advisory]) -> list[Advisory]:
    """Return the advisories as whoever keeps them would."""
    known = {a.id: a for a in standing} | {a.id: a for a in changes}
    return list(known.values())


def test_a_new_condition_is_raised_with_the_moment_in_its_id():
    (raised,) = reconcile([], [BASE], NOW)
    assert raised.id == "feed:orchard:o1@20260606T100000Z"
    assert (raised.raised, raised.updated, raised.closed) == (NOW, NOW, None)


def test_the_same_again_changes_nothing():
    standing = reconcile([], [BASE], NOW)
    assert reconcile(standing, [but(raised=NOW + DAY, updated=NOW + DAY)], NOW + DAY) == []


def test_an_update_keeps_id_and_raised():
    standing = reconcile([], [BASE], NOW)
    (updated,) = reconcile(standing, [but(urgency=Urgency.NOW)], NOW + HOUR)
    assert (updated.id, updated.raised, updated.updated) == (standing[0].id, NOW, NOW + HOUR)
    assert updated.urgency is Urgency.NOW


def test_what_is_no_longer_wanted_is_closed_with_its_own_words():
    standing = reconcile([], [BASE], NOW)
    (closed,) = reconcile(standing, [], NOW + HOUR)
    assert (closed.id, closed.closed, closed.title) == (standing[0].id, NOW + HOUR, BASE.title)


def test_a_farewell_gives_the_words_to_close_with():
    standing = reconcile([], [BASE], NOW)
    farewell = but(closed=NOW + HOUR, title="All is well")
    (closed,) = reconcile(standing, [farewell], NOW + HOUR)
    assert (closed.id, closed.raised, closed.closed, closed.title) == (standing[0].id, NOW, NOW + HOUR, "All is well")


def test_a_farewell_to_nobody_is_not_said():
    assert reconcile([], [but(closed=NOW)], NOW) == []


def test_a_condition_that_comes_back_gets_a_new_id():
    standing = applied([], reconcile([], [BASE], NOW))
    standing = applied(standing, reconcile(standing, [], NOW + HOUR))
    (again,) = reconcile(standing, [BASE], NOW + 2 * HOUR)
    assert again.id not in {a.id for a in standing}
    assert again.raised == NOW + 2 * HOUR


def test_of_two_wanted_about_one_condition_the_first_counts():
    found = reconcile([], [BASE, but(title="Another")], NOW)
    assert [a.title for a in found] == [BASE.title]


NEWS = {
    "urgency": ({"urgency": Urgency.TODAY}, True),
    "a date a day earlier": ({"do_by": NOW + DAY}, True),
    "a date an hour earlier": ({"do_by": NOW + 2 * DAY - HOUR}, False),
    "a date a day later": ({"do_by": NOW + 3 * DAY}, False),
    "a date two days later": ({"do_by": NOW + 4 * DAY}, True),
    "a date gone": ({"do_by": None}, True),
    "another thing to do": ({"do": ["Give 4 kg.", "Wait."]}, True),
    "other words to do": ({"do": ["Take 4 kg."]}, True),
    "a little more to give": ({"do": ["Give 4.5 kg."]}, False),
    "much more to give": ({"do": ["Give 6 kg."]}, True),
    "another caution": ({"cautions": []}, True),
    "a title's date a day later": ({"title": "Lime needs food by Sunday 7 June"}, False),
    "a title's date a week later": ({"title": "Lime needs food by Saturday 13 June"}, True),
    "another title": ({"title": "Lime is short of food"}, True),
    "the whole yard instead of a hive": ({"hive": None}, True),
    "another event behind it": ({"events": ["e1", "e2"]}, False),
    "a decimal in what was seen": ({"saw": "Lime lost 12.4 kg and 3 bees at 11:25."}, False),
    "a number in what was seen": ({"saw": "Lime lost 19 kg and 3 bees at 11:20."}, False),
    "other words for what it means": ({"means": "It means nothing."}, False),
}


@pytest.mark.parametrize("name", NEWS)
def test_only_news_goes_out_at_once(name):
    changes, news = NEWS[name]
    assert really_differs(BASE, but(**changes), NOW + HOUR) is news


REFRESHED = {
    "a number in what was seen": ({"saw": "Lime lost 19 kg and 3 bees at 11:20."}, True),
    "an hour in what was seen": ({"saw": "Lime lost 12 kg and 3 bees at 12:20."}, True),
    "a decimal in what was seen": ({"saw": "Lime lost 12.4 kg and 3 bees at 11:25."}, False),
    "other words for what it means": ({"means": "It means nothing."}, True),
    "one more explanation": ({"could_also_be": []}, True),
}


@pytest.mark.parametrize("name", REFRESHED)
def test_what_was_seen_is_brought_up_to_date_after_three_days(name):
    changes, refreshed = REFRESHED[name]
    old = but(do_by=NOW + 9 * DAY)
    new = but(old, **changes)
    assert really_differs(old, new, NOW + 2 * DAY) is False
    assert really_differs(old, new, NOW + 3 * DAY) is refreshed


def test_what_is_overdue_is_not_put_off_day_by_day():
    late = NOW + 5 * DAY
    old = but(do_by=NOW + DAY, updated=late - HOUR)
    assert (
        really_differs(old, but(old, do_by=late + 8 * HOUR, title="Lime needs food by Thursday 11 June"), late) is False
    )
    assert really_differs(old, but(old, do_by=late + 4 * DAY), late) is True


def test_the_turn_of_the_year_is_no_long_way():
    old = but(title="Look by Thursday 31 December")
    assert really_differs(old, but(title="Look by Friday 1 January"), NOW) is False
    assert really_differs(old, but(title="Look by Sunday 10 January"), NOW) is True


def season(weight_of_day):
    """Return every change to advisories over twenty days in which a hive weighs what a function of the day says."""
    standing: list[Advisory] = []
    everything = []
    for day in range(20):
        now = NOW + day * DAY
        staged = scene(
            now=now,
            weights={"o1": weight_of_day(day)},
            days={"o1": days([-0.2] * 7, until=now)},
            events=[event(Kind.DEARTH_ONSET, NOW - 3 * DAY, size=-0.2)],
            open=standing,
        )
        changes = reconcile(standing, advise(staged), now)
        everything += changes
        standing = [a for a in applied(standing, changes) if a.closed is None]
    return everything


def test_food_that_wavers_about_the_limit_is_one_advisory():
    """5 kg of stores is the limit; a scale that shows a little more and a little less by turns must not flap."""
    told = [a for a in season(lambda day: 37.0 + (0.6 if day % 2 else -0.3)) if a.id.startswith("feed:")]
    assert len({a.id for a in told}) == 1
    assert all(a.closed is None for a in told)


def test_food_that_runs_down_is_one_advisory_that_grows_urgent():
    told = [a for a in season(lambda day: 38.0 - 0.3 * day) if a.id.startswith("feed:")]
    assert len({a.id for a in told}) == 1
    assert [a.urgency for a in told][-1] is Urgency.NOW
    assert len(told) <= 20 // 3 + 3, "refreshed every third day at most, once for the new urgency, once when overdue"


def test_the_season_replayed_gives_the_same_ids():
    first, again = season(lambda day: 38.0 - 0.3 * day), season(lambda day: 38.0 - 0.3 * day)
    assert first == again


def test_another_language_is_another_text():
    """Whoever changes the yard's language reads all that stands in it after the next decision."""
    english = reconcile([], advise(hungry_in("en")), NOW)
    dutch = reconcile(english, advise(hungry_in("nl", english)), NOW + DAY)
    assert [a.id for a in dutch] == [a.id for a in english]
    assert all("voer" in a.title for a in dutch)


def hungry_in(language, standing=()):
    yard = msgspec.structs.replace(YARD, language=language)
    return scene(yard=yard, weights={"o1": 35.0}, days={"o1": days([-0.2] * 7)}, open=standing)

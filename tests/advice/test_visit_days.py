"""Every date for a visit falls on a day on which the beekeeper can come, except where the bees cannot wait."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest
from advice_scenes import LIME, NOW, YARD, ZONE, at, event, scene
from golden_cases import CASES, hungry, wanted

from hivemon.advice import words
from hivemon.advice.decide import advise
from hivemon.advice.voice import Voice
from hivemon.model import DAY, Kind, Urgency

SATURDAYS = msgspec.structs.replace(YARD, visit_days=["saturday"])
FRIDAYS = msgspec.structs.replace(YARD, visit_days=["friday"])

NOT_MOVED = {
    "brood-cold": "brood chilled for days dies",
    "brood-deserted": "robbers find its combs within days",
    "robbed-yesterday": "robbers come back the next days",
    "brood-gap-after-split": "no visit: until then warmth is due",
    "brood-gap-after-swarm-seen": "no visit: until then warmth is due",
    "brood-gap-after-new-queen": "no visit: until then warmth is due",
}


def only(staged, topic):
    return next(a for a in advise(staged) if a.id.startswith(f"{topic}:"))


def day(advisory):
    return words.day(advisory.do_by or 0, ZONE)


@pytest.mark.parametrize("name", sorted(CASES))
def test_dates_fall_on_visiting_days_unless_it_is_urgent(name, monkeypatch):
    topic, staged = CASES[name]
    monkeypatch.setitem(CASES, name, (topic, replace(staged, yard=SATURDAYS)))
    found = wanted(name)
    if found.do_by is not None and found.urgency not in (Urgency.NOW, Urgency.TODAY) and name not in NOT_MOVED:
        assert words.weekday(found.do_by, ZONE) == "saturday"
        assert day(found) in " ".join([found.title, *found.do])


@pytest.mark.parametrize("name", sorted(n for n in CASES if n not in NOT_MOVED))
def test_what_is_urgent_is_not_put_off_for_visiting_days(name, monkeypatch):
    """Friday is six days off at noon on a Saturday: an emergency keeps its evening."""
    topic, staged = CASES[name]
    plain = wanted(name)
    monkeypatch.setitem(CASES, name, (topic, replace(staged, yard=FRIDAYS)))
    if plain.urgency in (Urgency.NOW, Urgency.TODAY):
        assert wanted(name).do_by == plain.do_by


@pytest.mark.parametrize(
    ("weight", "by"),
    [
        (35.4, "Friday 12 June"),
        (34.6, "Tuesday 9 June"),
        (33.2, "Saturday 6 June"),
    ],
    ids=["food-until-then", "food-too-short-to-wait", "starving"],
)
def test_feeding_waits_for_a_visiting_day_only_while_food_lasts(weight, by):
    """2.4, 1.6 and 0.2 kg beside 33 kg of wood and bees, at 0.2 kg a day; he comes on Fridays, now is Saturday."""
    assert day(only(hungry(weight, yard=FRIDAYS), "feed")) == by


def test_chilled_brood_waits_for_no_visiting_day_but_is_seen_on_one_before():
    cold = event(Kind.BROOD_COLD, NOW - DAY, size=29.4)
    fridays, mondays = (
        only(scene(hives=[LIME], events=[cold], yard=msgspec.structs.replace(YARD, visit_days=[d])), "brood")
        for d in ("friday", "monday")
    )
    assert (day(fridays), day(mondays)) == ("Monday 8 June", "Monday 8 June")


def test_a_look_at_capping_comes_on_the_first_visit_after_it_is_due():
    """Honey is not ripe sooner for being visited: the day moves later, never earlier."""
    topic, staged = CASES["flow-over"]
    assert day(only(staged, topic)) == "Saturday 13 June"
    assert day(only(replace(staged, yard=FRIDAYS), topic)) == "Friday 19 June"


def test_the_day_asked_for_stands_when_the_next_visit_is_too_late():
    voice, monday = Voice(scene(yard=FRIDAYS)), at("2026-06-08 12:00")
    assert words.day(voice.visit(monday, latest=at("2026-06-12 23:00")), ZONE) == "Friday 12 June"
    assert words.day(voice.visit(monday, latest=at("2026-06-11 12:00")), ZONE) == "Monday 8 June"
    assert words.day(voice.visit(monday, latest=NOW - DAY), ZONE) == "Monday 8 June"


def test_a_day_that_is_none_of_his_is_owned_up_to():
    """He comes on Fridays; food for eight days at most does not last until then, and starving is for tonight."""
    asked = "Tuesday 9 June is none of your visiting days, but later may be too late. Can someone near do it?"
    assert only(hungry(34.6, yard=FRIDAYS), "feed").do[-1] == asked
    for staged in (hungry(35.4, yard=FRIDAYS), hungry(33.2, yard=FRIDAYS), hungry(34.6)):
        assert not any("visiting" in step for step in only(staged, "feed").do)


@pytest.mark.parametrize(("visits", "sooner"), [("wednesday", False), ("friday", True)])
def test_a_visit_after_the_room_is_likely_used_up_asks_to_come_sooner(visits, sooner):
    """The need lies on Thursday 11 June: Wednesday is in time, Friday perhaps not."""
    topic, staged = CASES["super-fill-unknown"]
    yard = msgspec.structs.replace(YARD, visit_days=[visits])
    found = only(replace(staged, yard=yard), topic)
    assert any("Come sooner if you can" in step for step in found.do) == sooner

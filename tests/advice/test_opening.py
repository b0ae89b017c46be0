"""Robbers come first: no advice of the same morning asks to open a hive."""

import pytest
from advice_scenes import HIVES, NOW, YARD, at, days, entry, event, scene

from hivemon.advice.decide import advise
from hivemon.advice.draft import condition
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.opening import OpeningReason, judge_opening
from hivemon.model import DAY, HOUR, Entry, Kind, Urgency

ROBBED = event(Kind.ROBBING, NOW - 4 * HOUR, "o3", size=0.4)
KNOWN = {hive.id: days([0.1] * 20, hive=hive.id) for hive in HIVES}
CASES = [
    ({"robbers": False}, True, OpeningReason.NO_ROBBERS),
    ({"opens": False}, True, OpeningReason.OPENS_NOTHING),
    ({"urgency": Urgency.NOW}, True, OpeningReason.CANNOT_WAIT),
    ({}, False, OpeningReason.ROBBERS_ABOUT),
]


@pytest.mark.parametrize(("change", "verdict", "reason"), CASES)
def test_each_reason(change, verdict, reason):
    decision = judge_opening(**{"robbers": True, "opens": True, "urgency": Urgency.THIS_WEEK, **change})
    assert (decision.verdict, decision.reason) == (verdict, reason)


def test_every_reason_has_a_case():
    assert {reason for *_, reason in CASES} == set(OpeningReason)


def asked(staged, topic):
    return next((a for a in advise(staged) if a.id.startswith(f"{topic}:")), None)


LATER = {
    "count-mites": {},
    "recheck-mites": {"logbook": [entry(Entry.TREAT, NOW - 16 * DAY, "o1")]},
    "brood": {"events": [event(Kind.BROOD_UNSTABLE, NOW - 2 * DAY, size=4.0)]},
    "after-swarm": {"events": [event(Kind.SWARM, NOW - 20 * DAY, size=2.0)]},
    "nest-room": {
        "events": [event(Kind.FLOW_ONSET, NOW - 8 * DAY, size=1.0)],
        "days": {**KNOWN, "o1": days([2.5] * 20), "o2": days([1.0] * 20, hive="o2")},
    },
}


@pytest.mark.parametrize("topic", LATER)
def test_what_opens_a_hive_waits_for_the_robbers_to_go_and_then_gets_a_new_day(topic):
    def staged(*, robbed=False, standing=()):
        more = {"days": KNOWN, **LATER[topic]}
        return scene(**{**more, "events": [*more.get("events", []), *([ROBBED] if robbed else [])], "open": standing})

    first = reconcile([], [asked(staged(), topic)], NOW - 3 * DAY)
    waiting = asked(staged(robbed=True, standing=first), topic)
    assert waiting.title.endswith("but not before the robbing is over")
    assert (waiting.urgency, waiting.do_by) == (Urgency.FOR_INFORMATION, None)
    assert len(waiting.do) == 1
    assert asked(staged(robbed=True), topic) is None, "what is new is not asked at all"
    told = reconcile(first, [waiting], NOW)
    again = asked(staged(standing=told), topic)
    assert again.do_by is not None
    assert again.do_by > NOW


def test_what_is_urgent_or_opens_nothing_goes_on():
    hungry = {"weights": {"o1": 33.0}, "days": {"o1": days([-0.2] * 7)}}
    found = {a.id.split(":")[0] for a in advise(scene(**hungry, events=[ROBBED]))}
    assert {"robbing", "feed"} <= found


def test_told_before_the_bees_fly_the_entrance_is_shrunk_before_they_do():
    """Dawn at the yard on 7 June is at about 4:50; robbing of the day before, seen at 5:00."""
    morning = at("2026-06-07 05:00")
    yesterday = event(Kind.ROBBING, NOW, "o3", size=0.4, raised=morning - HOUR // 2)
    early = asked(scene(now=morning, events=[yesterday]), "robbing")
    assert early.do[0].startswith("This morning, before they fly, shrink the entrance of hive o3")
    assert at("2026-06-07 06:00") < early.do_by < at("2026-06-07 07:30")
    late = asked(scene(now=morning + 4 * HOUR, events=[yesterday]), "robbing")
    assert late.do[0].startswith("At once, shrink")
    assert late.do_by == morning + 5 * HOUR
    assert condition("robbing", YARD.id, "o3") == early.id

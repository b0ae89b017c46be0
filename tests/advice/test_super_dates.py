"""The date of a super from day to day: earlier at once, later with restraint, on the day itself by the newest word."""

import msgspec
import pytest
from advice_scenes import LIME, NOW, ZONE, event, scene

from hivemon.advice import words
from hivemon.advice.room import DaysLeft
from hivemon.advice.supers import SuperEvidence, judge_super
from hivemon.advice.texts.supers import add_super
from hivemon.model import DAY, Kind

FLOW = event(Kind.FLOW_ONSET, NOW - 6 * DAY, size=1.1)
NAME = "super:orchard:o1:flow:1"


def asked(likely, standing=None):
    """What is asked on Saturday 6 June at noon, the room likely used up in so many days; `standing`: asked before."""
    evidence = SuperEvidence(
        in_flow=True, scale_ok=True, supers=1, since=NOW - 9 * DAY, capacity=15.0, gained=9.0, rate=1.0, typical=1.1,
        left=DaysLeft(0.0, likely, 20.0), asked=standing is not None,
    )  # fmt: skip
    staged = scene(hives=[LIME], events=[FLOW], open=[standing] if standing else [])
    return add_super(staged, NAME, LIME, FLOW, evidence, judge_super(evidence, staged.limits.supers))


def given(days):
    """An advisory that stands, its date so many days from that Saturday."""
    return msgspec.structs.replace(
        asked(4.0), id=f"{NAME}@20260601T040000Z", do_by=words.evening(NOW + days * DAY, ZONE)
    )


@pytest.mark.parametrize(
    ("before", "likely", "day"),
    [
        (None, 4.4, "Wednesday 10 June"),
        (None, 0.4, "Saturday 6 June"),
        (6, 2.4, "Monday 8 June"),  # a great day came: the earlier date counts in full
        (6, 0.4, "Saturday 6 June"),
        (2, 6.4, "Thursday 11 June"),  # a poor day: drawn towards the later date only
        (0, 3.4, "Tuesday 9 June"),  # the day itself: put off to the newest estimate
        (0, 0.4, "Saturday 6 June"),  # used up: not put off
        (-2, 3.4, "Thursday 4 June"),  # overdue: not put off
    ],
)
def test_the_date_asked_for(before, likely, day):
    advisory = asked(likely, None if before is None else given(before))
    assert words.day(advisory.do_by, ZONE) == day

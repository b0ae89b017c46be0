"""What is said of when room is used up: dates while they are dates."""

import pytest
from advice_scenes import LIME, NOW, days, entry, event, scene

from hivemon.advice.decide import advise
from hivemon.advice.room import DaysLeft
from hivemon.model import DAY, Entry, Kind

SUPER = [entry(Entry.SUPER_ON, NOW - 6 * DAY)]


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (DaysLeft(1.0, 4.0, 9.0), "used up between Sunday 7 June and Monday 15 June."),
        (DaysLeft(1.0, 4.0, 1.5), "may be used up from Sunday 7 June on."),
        (DaysLeft(1.0, 4.0, 40.0), "may be used up from Sunday 7 June on, or last for weeks."),
        (DaysLeft(1.0, 4.0, 90.0), "may be used up from Sunday 7 June on."),
    ],
    ids=["dates", "one-day", "weeks-apart", "no-end"],
)
def test_a_span_of_weeks_is_no_date(left, said, monkeypatch):
    monkeypatch.setattr("hivemon.advice.supers.days_left", lambda *_, **__: left)
    flow = event(Kind.FLOW_ONSET, NOW - 8 * DAY, size=1.0)
    staged = scene(hives=[LIME], events=[flow], days={"o1": days([1.0] * 8)}, logbook=SUPER)
    (found,) = (a for a in advise(staged) if a.id.startswith("super:"))
    assert said in found.means

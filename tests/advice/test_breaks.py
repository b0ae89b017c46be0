"""What breaks the brood counts alike for every decision that would be alarmed by it."""

import pytest
from advice_scenes import NOW, PLAIN, days, entry, event, scene

from hivemon.advice.breaks import brood_breaks
from hivemon.advice.decide import advise
from hivemon.model import DAY, Entry, Kind

WHEN = NOW - 20 * DAY
BREAKS = {
    Kind.SWARM: {"events": [event(Kind.SWARM, WHEN, size=1.8)]},
    **{
        kind: {"logbook": [entry(kind, WHEN)]} for kind in (Entry.SWARM_SEEN, Entry.SPLIT, Entry.REQUEEN, Entry.COMBINE)
    },
}


@pytest.mark.parametrize("kind", BREAKS)
def test_each_break_is_one(kind):
    staged = scene(**BREAKS[kind])
    assert [(b.time, b.by) for b in brood_breaks(staged, "o1")] == [(WHEN, kind)]
    assert brood_breaks(staged, "o2") == []


@pytest.mark.parametrize("kind", BREAKS)
def test_it_explains_an_unsteady_nest_a_weak_hive_and_spares_the_nest(kind):
    unsteady = event(Kind.BROOD_UNSTABLE, NOW - 3 * DAY, size=4.0)
    flow = event(Kind.FLOW_ONSET, NOW - 8 * DAY, size=1.0)
    gains = {"o1": days([2.0] * 8), "o2": days([1.0] * 8, hive="o2"), "o3": days([1.0] * 8, hive="o3")}
    of = {"events": [*BREAKS[kind].get("events", []), unsteady, flow], "logbook": BREAKS[kind].get("logbook", [])}
    found = advise(scene(days=gains, **of))
    assert not [a for a in found if a.hive == "o1" and "look for eggs by" in a.title and a.id.startswith("brood:")]
    assert not [a for a in found if a.id.startswith("nest-room:orchard:o1")]
    without = advise(scene(days=gains, events=[unsteady, flow]))
    assert {a.id.split(":")[0] for a in without if a.hive == "o1"} >= {"brood", "nest-room"}


@pytest.mark.parametrize("kind", BREAKS)
def test_it_explains_a_weak_hive(kind):
    july = NOW + 40 * DAY
    weak = {
        "now": july,
        "days": {
            "o1": days([-0.6] * 15, july, temperature_swing=4.0),
            "o2": days([0.4] * 15, july, "o2", temperature_swing=0.5),
            PLAIN.id: days([0.4] * 15, july, PLAIN.id, temperature_swing=0.5),
        },
    }
    moved = {
        "events": [event(Kind.SWARM, july - 20 * DAY, size=1.8)] if kind is Kind.SWARM else [],
        "logbook": [] if kind is Kind.SWARM else [entry(kind, july - 20 * DAY)],
    }
    assert [a for a in advise(scene(**weak)) if a.id.startswith("weak:orchard:o1")]
    assert not [a for a in advise(scene(**weak, **moved)) if a.id.startswith("weak:orchard:o1")]


def test_a_swarm_told_by_scale_and_beekeeper_is_one():
    both = scene(events=[event(Kind.SWARM, WHEN, size=1.8)], logbook=[entry(Entry.SWARM_SEEN, WHEN + DAY)])
    assert [b.by for b in brood_breaks(both, "o1")] == [Kind.SWARM]

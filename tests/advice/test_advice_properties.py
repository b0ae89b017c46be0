"""Whatever a yard may show: no failure, no harm, no noise."""

from __future__ import annotations

import re
from dataclasses import replace

import msgspec
from advice_scenes import ASH, LIME, NOW, PLAIN, YARD_KINDS, days, entry, event, scene
from hypothesis import given, settings
from hypothesis import strategies as st

from hivemon.advice.boxes import boxes
from hivemon.advice.decide import advise
from hivemon.advice.lifecycle import reconcile
from hivemon.config import HiveSettings, UnitSettings, YardSettings
from hivemon.model import DAY, HOUR, Advisory, Entry, Kind, Quantity, Urgency

MOMENTS = st.integers(NOW - 60 * DAY, NOW)
KILOS = st.floats(-60, 200, allow_nan=False)
REASONS = st.sampled_from(
    [f"{q.value}-{p}" for q in Quantity for p in ("stuck", "silent", "power-on-value", "impossible")] + ["odd", ""],
)


@st.composite
def events(draw):
    kind = draw(st.sampled_from(list(Kind)))
    onset = draw(MOMENTS)
    hive = draw(st.sampled_from(["o1", "o2", "o3", "unheard"]))
    raised = min(onset + draw(st.integers(0, 3 * DAY)), NOW)
    names = st.sampled_from(["rate", "rate_sd", "bees_low", "bees_high", "minutes", "until_ms"])
    return event(
        kind,
        onset,
        hive=hive,
        size=draw(st.none() | st.floats(-50, 50, allow_nan=False)),
        id=f"{kind.value}-{hive}-{onset}-{raised}",
        raised=max(raised, onset),
        withdrawn=draw(st.sampled_from([None, None, None, NOW])),
        withdrawn_because=draw(st.sampled_from(["", "it came back."])),
        confidence=draw(st.floats(0, 1)),
        reason=draw(REASONS) if kind is Kind.SENSOR_FAULT else "why",
        evidence=draw(st.dictionaries(names, st.floats(-5e4, 5e4, allow_nan=False), max_size=4)),
    )


@st.composite
def hives(draw):
    return [
        HiveSettings(
            id=base.id,
            yard="orchard",
            name=draw(st.sampled_from([base.name, "{odd} name", "50 % @ home"])),
            brood_boxes=draw(st.integers(1, 6)),
            supers=draw(st.integers(0, 3)),
            super_kg=draw(st.floats(1, 60)),
            tare_kg=draw(st.none() | st.floats(0, 60)),
            screened_floor=draw(st.booleans()),
        )
        for base in draw(st.permutations([LIME, ASH, PLAIN]))
    ]


@st.composite
def scenes(draw):
    chosen = draw(hives())
    log = st.builds(
        entry,
        st.sampled_from(list(Entry)),
        MOMENTS,
        st.sampled_from(["o1", "o2", "o3"]),
        st.none() | st.floats(-5, 60, allow_nan=False),
    )
    gains = st.lists(st.none() | st.floats(-5, 8, allow_nan=False), max_size=30)
    return scene(
        yard=YardSettings(
            id="orchard",
            name="Orchard",
            latitude=draw(st.floats(-60, 70)),
            longitude=0.0,
            timezone=draw(st.sampled_from(["Europe/Brussels", "America/Chicago", "Australia/Sydney", "UTC"])),
        ),
        hives=chosen,
        now=NOW + draw(st.integers(0, 3)) * 80 * DAY // 3 + draw(st.integers(0, 23)) * HOUR,
        events=draw(st.lists(events(), max_size=8, unique_by=lambda e: e.id)),
        days={
            h.id: days(
                draw(gains),
                hive=h.id,
                temperature_mean=draw(st.none() | st.floats(0, 45)),
                temperature_swing=draw(st.none() | st.floats(0, 20)),
            )
            for h in chosen
        },
        logbook=draw(st.lists(log, max_size=8)),
        weights=draw(st.dictionaries(st.sampled_from(["o1", "o2", "o3"]), KILOS)),
        units=UnitSettings(weight=draw(st.sampled_from(["kg", "lb"])), temperature=draw(st.sampled_from(["C", "F"]))),
        outside_celsius=draw(st.none() | st.floats(-30, 50)),
    )


@st.composite
def hungry_scenes(draw):
    """Scenes in which every hive has a known tare and next to no food, so that only the rules stand against feeding."""
    staged = draw(scenes())
    known = [msgspec.structs.replace(h, tare_kg=draw(st.floats(10, 40))) for h in staged.hives]
    bare = {h.id: (h.tare_kg or 0.0) + boxes(staged, h).wood_kg for h in known}
    return replace(
        staged,
        hives=known,
        weights={hive: wood + draw(st.floats(3, 9)) for hive, wood in bare.items()},
        days={hive: days(draw(st.lists(st.floats(-0.6, 0.1), max_size=8)), hive=hive) for hive in bare},
    )


def texts(advisory: Advisory) -> list[str]:
    return [
        advisory.title, advisory.saw, advisory.means, *advisory.could_also_be, *advisory.do, *advisory.cautions,
    ]  # fmt: skip


def merged(standing: list[Advisory], changes: list[Advisory]) -> list[Advisory]:
    known = {a.id: a for a in standing} | {a.id: a for a in changes}
    return [a for a in known.values() if a.closed is None]


@settings(max_examples=300, deadline=None)
@given(scenes())
def test_every_scene_gives_sound_advice(staged):
    """No failure, each condition once, nothing unsaid or unreadable, and no date in the past."""
    found = advise(staged)
    standing = [a for a in found if a.closed is None]
    assert len({a.id for a in standing}) == len(standing)
    for advisory in found:
        assert all(texts(advisory))
        assert not any(re.search(r"\b(?:nan|inf|None)\b|-0\b", text) for text in texts(advisory))
        if advisory.closed is None and advisory.urgency is not Urgency.FOR_INFORMATION:
            assert advisory.do_by is not None
        if advisory.do_by is not None and not staged.open:
            assert advisory.do_by > staged.now


@settings(max_examples=300, deadline=None)
@given(hungry_scenes())
def test_never_feed_with_supers_on_or_in_a_flow(staged):
    """Syrup in honey meant for people is adulteration (NSW DPI Primefact 1343: not in a flow)."""
    flowing = [e for e in staged.events if e.kind in (Kind.FLOW_ONSET, Kind.FLOW_END) and e.withdrawn is None]
    in_flow = bool(flowing) and max(flowing, key=lambda e: (e.raised, e.onset, e.id)).kind is Kind.FLOW_ONSET
    carrying = {h.id for h in staged.hives if boxes(staged, h).supers}
    for advisory in advise(staged):
        if advisory.id.startswith("feed:") or any("syrup of" in text for text in advisory.do):
            assert not in_flow
            assert advisory.hive not in carrying


@settings(max_examples=200, deadline=None)
@given(scenes(), st.randoms())
def test_the_order_in_which_things_are_known_makes_no_difference(staged, random):
    shuffled = [list(staged.events), list(staged.logbook)]
    for known in shuffled:
        random.shuffle(known)
    again = replace(staged, events=shuffled[0], logbook=shuffled[1])
    assert {a.id for a in advise(again)} == {a.id for a in advise(staged)}
    assert advise(staged) == advise(staged)


@settings(max_examples=200, deadline=None)
@given(scenes())
def test_saying_the_same_twice_changes_nothing(staged):
    """Neither with the same wish list, nor when decisions see what already stands."""
    wanted = advise(staged)
    standing = merged([], reconcile([], wanted, staged.now))
    assert reconcile(standing, wanted, staged.now) == []
    again = advise(replace(staged, open=standing))
    assert reconcile(standing, again, staged.now) == []


def test_the_kinds_of_a_yard_carry_no_hive():
    """The scenes above stage events as the contract has them."""
    assert all(event(kind, NOW).hive is None for kind in YARD_KINDS)

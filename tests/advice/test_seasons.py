"""Calendar, climate, visiting days and comparisons of hives: what new advice rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import pytest
from advice_scenes import ASH, HIVES, LIME, NOW, PLAIN, YARD, ZONE, at, days, entry, event, scene

from hivemon.advice import climate, season, words
from hivemon.advice.decide import advise
from hivemon.advice.strength import ranking
from hivemon.advice.voice import Voice
from hivemon.config import HiveSettings, YardSettings
from hivemon.limits import Limits, WinterLimits
from hivemon.model import DAY, Entry, Kind, Urgency


def topics(staged) -> list[str]:
    return [f"{a.id.split(':')[0]}:{a.hive or ''}" for a in advise(staged) if a.closed is None]


def yard(latitude: float, longitude: float = 5.0, **more) -> YardSettings:
    return YardSettings(id="orchard", name="Orchard", latitude=latitude, longitude=longitude, timezone="UTC", **more)


def local(moment: int) -> str:
    return datetime.fromtimestamp(moment / 1000, UTC).date().isoformat()


# -- the calendar ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude", "day"),
    [(45.0, "2026-10-15"), (52.0, "2026-09-24"), (60.0, "2026-09-01"), (38.0, "2026-11-05"), (25.5, "2026-11-30")],
)
def test_the_last_day_of_feeding(latitude, day):
    """By about 15 October in the northern US and Canada (USDA overwintering leaflet); three days a degree: our rule."""
    assert local(season.last_feeding(scene(yard=yard(latitude)))) == day


def test_in_the_south_it_is_half_a_year_later():
    april = scene(yard=yard(-45.0), now=at("2026-03-01 12:00"))
    assert local(season.last_feeding(april)) == "2026-04-16"


@pytest.mark.parametrize(("latitude", "day"), [(35.0, "2027-03-01"), (51.2, "2027-04-02"), (-43.0, "2026-09-16")])
def test_spring(latitude, day):
    assert local(season.spring(scene(yard=yard(latitude)))) == day


def test_spring_is_always_ahead():
    for month in range(1, 13):
        staged = scene(now=at(f"2026-{month:02d}-15 12:00"))
        assert 0 < season.spring(staged) - staged.now < 367 * DAY


def test_weeks_and_months_are_those_of_the_north():
    south = scene(yard=yard(-35.0), now=at("2026-12-05 12:00"))
    assert season.northern_month(south) == 6
    assert season.northern_week(south) == 22
    assert season.northern_week(scene(now=at("2026-06-05 12:00"))) == 23


def test_what_is_said_once_a_year_has_one_name_a_year():
    """In the south a beekeeping year runs over New Year: December and February belong together."""
    december = scene(yard=yard(-35.0), now=at("2026-12-05 12:00"))
    february = scene(yard=yard(-35.0), now=at("2027-02-05 12:00"))
    assert season.season_name(december) == season.season_name(february)
    assert season.season_name(scene()) == "2026"


# -- climate -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("latitude", "longitude", "expected"),
    [
        (51.2, 3.4, climate.EUROPE),
        (38.0, 15.0, climate.MILD),
        (-37.0, 175.0, climate.MILD),
        (33.0, -84.0, climate.MILD),
        (40.5, -77.5, climate.MIDDLE),
        (45.0, -93.0, climate.HARD),
    ],
)
def test_stores_for_winter_by_climate(latitude, longitude, expected):
    """Places of the sources themselves: England, New Zealand, Georgia, Pennsylvania, Minnesota."""
    kg, sources = expected
    found = climate.winter_target(scene(yard=yard(latitude, longitude)))
    assert found.kg == kg
    assert found.sources == sources
    assert min(s.low for s in sources) <= kg <= max(s.high for s in sources)


def test_the_beekeepers_own_target_counts():
    own = yard(51.2, advice=Limits(winter=WinterLimits(target_kg=12.0)))
    assert climate.winter_target(scene(yard=own)).kg == 12.0


# -- visiting days -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wanted", "visit"),
    [
        ("2026-06-10 12:00", "Sunday 7 June"),
        ("2026-06-13 12:00", "Saturday 13 June"),
        ("2026-06-15 12:00", "Sunday 14 June"),
        ("2026-06-06 12:00", "Saturday 6 June"),
    ],
)
def test_a_date_moves_to_the_last_visiting_day_before_it(wanted, visit):
    """Now is Saturday noon, the beekeeper comes at weekends."""
    weekend = msgspec.structs.replace(YARD, visit_days=["saturday", "sunday"])
    voice = Voice(scene(yard=weekend))
    assert words.day(voice.visit(at(wanted)), ZONE) == visit


def test_where_no_visiting_day_is_left_it_is_the_next():
    tuesdays = msgspec.structs.replace(YARD, visit_days=["tuesday"])
    assert words.day(Voice(scene(yard=tuesdays)).visit(at("2026-06-08 12:00")), ZONE) == "Tuesday 9 June"


def test_any_day_will_do_without_visiting_days():
    assert words.day(Voice(scene()).visit(at("2026-06-10 12:00")), ZONE) == "Wednesday 10 June"


def test_a_super_is_asked_for_on_the_visit_before_the_need():
    flow = event(Kind.FLOW_ONSET, at("2026-05-31 05:00"), size=1.1)
    staged = scene(
        hives=[LIME],
        events=[flow],
        logbook=[entry(Entry.SUPER_ON, at("2026-05-31 11:00"))],
        days={"o1": days([0.9, 0.8, 0.9, 1.1, 0.8, 1.2])},
    )
    sunday = replace(staged, yard=msgspec.structs.replace(YARD, visit_days=["sunday"]))
    any_day, sundays = (next(a for a in advise(s) if a.id.startswith("super")) for s in (staged, sunday))
    assert words.day(any_day.do_by or 0, ZONE) == "Friday 12 June"
    assert words.day(sundays.do_by or 0, ZONE) == "Sunday 7 June"


# -- strong and weak ---------------------------------------------------------------------------------------------------


def three(gains: dict[str, float], **more):
    return {h: days([g + (0.05 if i % 2 else -0.05) for i in range(15)], hive=h, **more) for h, g in gains.items()}


def test_hives_are_ranked_by_gain():
    ranks = ranking(scene(days=three({"o1": 0.2, "o2": 0.5, "o3": -0.1})))
    assert [r.hive for r in ranks] == ["o2", "o1", "o3"]
    assert ranks[1].score == pytest.approx(0.0, abs=1e-9)
    assert all(r.sd > 0 for r in ranks)


def test_steadier_brood_and_more_bees_in_flight_count_for_strength():
    found = {
        **three({"o1": 0.2}, temperature_swing=0.6, morning_dip=0.4),
        **three({"o2": 0.2}, temperature_swing=1.0, morning_dip=0.3),
        **three({"o3": 0.2}, temperature_swing=3.0, morning_dip=0.1),
    }
    assert [r.hive for r in ranking(scene(days=found))] == ["o1", "o2", "o3"]


def test_two_hives_are_not_ranked():
    """There is no telling which of two is the odd one."""
    assert ranking(scene(hives=[LIME, ASH], days=three({"o1": 0.2, "o2": 0.5}))) == []


def test_a_hive_whose_sensors_lie_is_not_ranked_by_them():
    stuck = event(Kind.SENSOR_FAULT, NOW - 2 * DAY, hive="o3", reason="weight-stuck")
    found = three({"o1": 0.2, "o2": 0.5, "o3": -0.4, "o4": 0.3})
    hives = [*HIVES, HiveSettings(id="o4", yard="orchard")]
    assert [r.hive for r in ranking(scene(hives=hives, days=found, events=[stuck]))] == ["o2", "o4", "o1"]


def july(**more):
    return scene(now=at("2026-07-18 12:00"), **more)


def july_days(gains: dict[str, float]):
    now = at("2026-07-18 12:00")
    return {h: days([g + (0.05 if i % 2 else -0.05) for i in range(15)], until=now, hive=h) for h, g in gains.items()}


def test_a_weak_hive_is_told_from_midsummer_unless_something_explains_it():
    found = july_days({"o1": 0.2, "o2": 0.5, "o3": -0.1})
    now = at("2026-07-18 12:00")
    assert "weak:o3" in topics(july(days=found))
    assert "weak:o3" not in topics(july(days=found, events=[event(Kind.SWARM, now - 20 * DAY, hive="o3", size=2.0)]))
    assert "weak:o3" not in topics(july(days=found, logbook=[entry(Entry.SPLIT, now - 20 * DAY, hive="o3")]))
    assert "weak:o3" in topics(july(days=found, logbook=[entry(Entry.INSPECT, now - DAY, hive="o3")]))


def test_a_weak_hive_that_was_looked_at_is_only_kept_in_mind():
    found = july_days({"o1": 0.2, "o2": 0.5, "o3": -0.1})
    said = [a for a in advise(july(days=found)) if a.id.startswith("weak")]
    standing = [msgspec.structs.replace(said[0], id=f"{said[0].id}@then")]
    looked = july(days=found, open=standing, logbook=[entry(Entry.INSPECT, at("2026-07-18 12:00"), hive="o3")])
    kept = [a for a in advise(looked) if a.id.startswith("weak")]
    assert [a.urgency for a in said] == [Urgency.THIS_WEEK]
    assert [a.urgency for a in kept] == [Urgency.FOR_INFORMATION]
    assert kept[0].do_by is None


# -- mites -------------------------------------------------------------------------------------------------------------


def test_a_count_closes_the_reminder_and_a_treatment_closes_the_count():
    known = {"o1": days([0.1] * 20)}
    assert topics(scene(days=known)) == ["count-mites:"]
    washed = entry(Entry.MITE_WASH, NOW - DAY, amount=12, note="bees=300")
    assert topics(scene(days=known, logbook=[washed])) == ["mites:o1"]
    treated = entry(Entry.TREAT, NOW)
    assert topics(scene(days=known, logbook=[washed, treated])) == []


def test_the_counts_of_a_yard_make_two_notes_at_most():
    """One for hives to treat, one for those that can wait, however many were counted."""
    washes = [entry(Entry.MITE_WASH, NOW - DAY, hive=h.id, amount=a) for h, a in zip(HIVES, (0, 8, 12), strict=True)]
    assert topics(scene(logbook=washes)) == ["mites:", "few-mites:o1"]


def test_a_treatment_that_lasts_is_over_when_its_note_says():
    started = entry(Entry.TREAT, NOW - 50 * DAY, note="days=42")
    assert topics(scene(logbook=[started])) == []
    assert topics(scene(logbook=[started], now=NOW + 3 * DAY)) == ["recheck-mites:"]


def test_a_count_without_mites_is_a_count_and_one_without_a_number_is_none():
    assert topics(scene(logbook=[entry(Entry.MITE_WASH, NOW - DAY, amount=0)])) == ["few-mites:o1"]
    assert topics(scene(logbook=[entry(Entry.MITE_WASH, NOW - DAY)])) == []


# -- winter ------------------------------------------------------------------------------------------------------------


def september(**more):
    return scene(now=at("2026-09-05 12:00"), hives=[LIME], weights={"o1": 40.0}, **more)


def test_winter_stores_are_asked_for_until_the_last_feeding_day():
    assert "winter-stores:" in topics(september())
    assert "winter-stores:" not in topics(replace(september(), now=at("2026-09-28 12:00")))
    assert "winter-stores:" not in topics(replace(september(), now=at("2026-07-05 12:00")))


def test_winter_stores_wait_while_supers_are_on_or_nectar_comes_in():
    on = september(logbook=[entry(Entry.SUPER_ON, at("2026-08-01 12:00"))], days={"o1": days([0.0] * 5)})
    assert "winter-stores:" not in topics(on)
    flow = event(Kind.FLOW_ONSET, at("2026-09-01 05:00"), size=0.6)
    assert "winter-stores:" not in topics(september(events=[flow]))


def test_nobody_is_told_of_winter_in_the_tropics():
    assert "winter-stores:" not in topics(replace(september(), yard=yard(10.0)))


def test_a_hive_alone_shows_the_arithmetic_of_colonies_in_july():
    alone = scene(hives=[PLAIN], now=at("2026-07-21 12:00"))
    assert topics(alone) == ["colonies:"]
    assert topics(replace(alone, now=at("2026-08-05 12:00"))) == []

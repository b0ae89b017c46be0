"""What decisions read out of events, hive days, weights and the logbook."""

from __future__ import annotations

import msgspec
import pytest
from advice_scenes import ASH, LIME, NOW, PLAIN, at, days, entry, event, scene

from hivemon.advice.boxes import boxes
from hivemon.advice.decide import advise
from hivemon.advice.faults import is_faulty
from hivemon.advice.larder import brood_gap, colony, colony_change, larder, regrown, regrown_after_split
from hivemon.advice.lifecycle import reconcile
from hivemon.advice.season import broodless
from hivemon.advice.supers import nest_room
from hivemon.config import HiveSettings, YardSettings
from hivemon.model import DAY, HOUR, Entry, Kind, Quantity, Urgency


def topics(staged) -> list[str]:
    """Return what is wanted that does not merely close something, as topic:hive."""
    return [f"{a.id.split(':')[0]}:{a.hive or ''}" for a in advise(staged) if a.closed is None]


def closing(staged) -> list[str]:
    return [a.id.split(":")[0] for a in advise(staged) if a.closed is not None]


# -- boxes -------------------------------------------------------------------------------------------------------------

ON, OFF, HARVEST = Entry.SUPER_ON, Entry.SUPER_OFF, Entry.HARVEST


@pytest.mark.parametrize(
    ("configured", "entries", "supers", "unsure"),
    [
        (0, [], 0, 0),
        (2, [], 2, 0),
        (0, [ON, ON], 2, 0),
        (1, [ON, OFF], 1, 0),
        (0, [OFF], 0, 0),
        (2, [HARVEST], 0, 2),
        (2, [HARVEST, ON], 1, 0),
        (2, [HARVEST, OFF], 0, 0),
        (2, [HARVEST, HARVEST], 0, 2),
        (0, [HARVEST], 0, 0),
    ],
)
def test_supers_on_the_hive(configured, entries, supers, unsure):
    hive = HiveSettings(id="o1", yard="orchard", supers=configured)
    log = [entry(kind, NOW - (10 - i) * DAY) for i, kind in enumerate(entries)]
    found = boxes(scene(hives=[hive], logbook=log), hive)
    assert (found.supers, found.unsure) == (supers, unsure)


def test_an_entry_of_tomorrow_changes_nothing_today():
    assert boxes(scene(logbook=[entry(ON, NOW + HOUR)]), LIME).supers == 0


def test_a_super_weighs_what_the_logbook_says():
    log = [entry(ON, NOW - DAY, amount=6.5), entry(ON, NOW - HOUR)]
    assert boxes(scene(logbook=log), LIME).wood_kg == pytest.approx(6.5 + 7.0)


# -- stores ------------------------------------------------------------------------------------------------------------


def test_stores_with_a_known_tare():
    """45 kg gross, 26.5 kg of wood, 6.5 kg of bees, brood and pollen in early June."""
    found = larder(scene(weights={"o1": 45.0}), LIME)
    assert found is not None
    assert found.food.mean == pytest.approx(12.0, abs=0.1)
    assert found.food.sd < 2.0


def test_stores_with_a_guessed_tare_are_in_doubt():
    """Two deep boxes of 9-11 kg, floor and lids of 5-8 kg (from memory)."""
    found = larder(scene(weights={"o2": 45.0}), ASH)
    assert found is not None
    assert found.food.mean == pytest.approx(45.0 - 26.5 - 6.5, abs=0.1)
    assert found.food.sd > 2.5


def test_supers_are_taken_off_the_weight():
    with_super = larder(scene(weights={"o1": 45.0}, logbook=[entry(ON, NOW - DAY)]), LIME)
    assert with_super is not None
    assert with_super.food.mean == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize("weight", [None, 0.4, float("nan"), float("inf")])
def test_no_stores_without_a_weight_that_a_hive_can_have(weight):
    weights = {} if weight is None else {"o1": weight}
    assert larder(scene(weights=weights), LIME) is None


def test_use_is_the_hives_own_once_its_days_tell():
    told = larder(scene(weights={"o1": 45.0}, days={"o1": days([-0.3] * 7)}), LIME)
    untold = larder(scene(weights={"o1": 45.0}, days={"o1": days([-0.3] * 2)}), LIME)
    assert told is not None
    assert untold is not None
    assert told.use.mean == pytest.approx(0.3, abs=0.02)
    assert untold.use.mean == pytest.approx(0.22)


def test_snow_and_rain_on_a_hive_are_no_use_of_food_and_no_gain():
    """Swings of two kilos a day say little about use, so what is usual counts for more."""
    swings = {"o1": days([2.0, -2.3, 2.1, -2.0, 1.9, -2.2] * 2)}
    found = larder(scene(weights={"o1": 45.0}, days=swings, outside_celsius=3.0), LIME)
    assert found is not None
    assert found.use.mean == pytest.approx(0.22, abs=0.05)
    assert found.gain is not None
    assert found.gain <= 0.0


def test_bees_that_fly_out_at_dawn_tell_how_big_the_colony_is():
    """A morning dip above the 0.32 kg usual in June speaks for more bees, so for less food in the same weight."""
    plain = larder(scene(weights={"o1": 45.0}), LIME)
    strong = larder(scene(weights={"o1": 45.0}, days={"o1": days([0.1] * 14, morning_dip=0.45)}), LIME)
    weak = larder(scene(weights={"o1": 45.0}, days={"o1": days([0.1] * 14, morning_dip=0.1)}), LIME)
    assert plain is not None
    assert strong is not None
    assert weak is not None
    assert strong.food.mean == pytest.approx(plain.food.mean - 0.7, abs=0.1)
    assert weak.food.mean == pytest.approx(plain.food.mean + 2.0, abs=0.1)


def test_a_beekeeper_without_doubts_is_believed_alone():
    """Any doubt may be set to 0, and any span: what then counts is that number, and nothing breaks."""
    sure = msgspec.structs.replace(
        scene().limits.food, summer_colony_sd_kg=0.0, dip_doubt=0.0, seen_colony_sd_kg=0.0, use_sd_kg_per_day=0.0,
        colony_drift_kg=0.0, colony_drift_days=0.0, queen_gap_days=0.0, regrown_days=0.0,
    )  # fmt: skip
    limits = msgspec.structs.replace(scene().limits, food=sure)
    staged = scene(
        yard=msgspec.structs.replace(scene().yard, advice=limits), weights={"o1": 45.0},
        days={"o1": dipping(0.3, 0.1)}, events=[left(0)],
    )  # fmt: skip
    assert larder(staged, LIME).use.mean == sure.use_kg_per_day
    assert colony_change(staged, LIME, NOW - 42 * DAY) > 0


def test_a_very_large_dip_is_believed_less():
    """Many may be out at once for other reasons than being many: half a kilo more tells less than twice as much."""
    at_dip = {
        dip: larder(scene(weights={"o1": 60.0}, days={"o1": days([0.1] * 14, morning_dip=dip)}), LIME).food.mean
        for dip in (0.32, 0.5, 0.9)
    }
    assert 0.5 < at_dip[0.32] - at_dip[0.5] < at_dip[0.32] - at_dip[0.9] < 2 * (at_dip[0.32] - at_dip[0.5])


@pytest.mark.parametrize(("days_ago", "kilos"), [(0.0, 0.0), (14.0, 1.0), (28.0, 2.0), (42.0, 1.0), (60.0, 0.0)])
def test_a_swarm_leaves_a_gap_in_the_brood(days_ago, kilos):
    """Two kilos of brood run out by the day on which the young queen's begins to weigh, and are back four weeks on."""
    assert brood_gap(scene(), left(days_ago)) == pytest.approx(kilos, abs=0.01)


def test_bees_that_flew_before_the_swarm_tell_nothing_of_those_that_stayed():
    dips = days([0.1] * 14, morning_dip=0.45)
    swarmed = scene(weights={"o1": 45.0}, days={"o1": dips}, events=[left(3)])
    unseen = scene(weights={"o1": 45.0}, events=[left(3)])
    assert colony(swarmed, LIME) == colony(unseen, LIME)


@pytest.mark.parametrize(
    ("day", "latitude", "kilos"),
    [
        ("2026-03-20", 48.0, 3.5),
        ("2026-05-01", 48.0, 5.0),
        ("2026-05-01", 40.0, 5.8),
        ("2026-07-01", 48.0, 7.0),
        ("2026-07-01", 40.0, 7.0),
        ("2026-09-01", 48.0, 5.0),
        ("2026-03-02", -48.0, 5.0),
        ("2026-05-01", 5.0, 5.5),
    ],
)
def test_a_colony_grows_to_midsummer_and_dwindles_to_autumn(day, latitude, kilos):
    """The shape of colony counts in handbooks (memory); spring is 4 days earlier a degree (Hopkins 1918, memory)."""
    yard = YardSettings(id="orchard", latitude=latitude, longitude=0.0, timezone="UTC")
    assert colony(scene(yard=yard, now=at(f"{day} 12:00")), LIME).mean == pytest.approx(kilos, abs=0.2)


NEST = {"temperature_mean": 34.6, "temperature_swing": 0.8}
COLD_NEST = {"temperature_mean": 28.0, "temperature_swing": 6.0}


def dipping(first: float, last: float, **nest):
    """Six weeks of hive days, the bees that fly out at dawn going from one mass to another halfway."""
    halfway = NOW - 21 * DAY
    return [
        *days([0.3] * 21, until=halfway, morning_dip=first, **NEST),
        *days([0.3] * 21, morning_dip=last, **(nest or NEST)),
    ]


@pytest.mark.parametrize(
    ("found", "more", "low", "high"),
    [
        (dipping(0.3, 0.3), {}, 0.4, 1.0),
        (dipping(0.3, 0.4), {}, 0.8, 1.6),
        (dipping(0.3, 0.1), {}, -1.0, -0.6),
        (dipping(0.3, 0.1, **COLD_NEST), {}, -1.6, -0.8),
        (dipping(0.3, 0.3)[-20:], {}, 1.9, 2.4),
        (dipping(0.3, 0.1), {"events": [event(Kind.SWARM, NOW - 20 * DAY, size=2.0)]}, 1.2, 1.7),
        (dipping(0.3, 0.1), {"logbook": [entry(Entry.SPLIT, NOW - 20 * DAY)]}, 2.5, 3.0),
        (dipping(0.3, 0.1), {"logbook": [entry(Entry.COMBINE, NOW - 20 * DAY)]}, 0.0, 0.0),
    ],
    ids=["usual", "more-bees", "fewer-bees", "no-brood-either", "season-alone", "swarmed", "split", "united"],
)
def test_what_bees_and_brood_gained_is_told_from_honey(found, more, low, high):
    """From late April to June a usual colony gains 2.2 kg; what the bees at dawn tell is weighed against that."""
    staged = scene(days={"o1": found}, **more)
    assert low <= colony_change(staged, LIME, NOW - 42 * DAY) <= high


def test_bees_that_swarmed_no_longer_weigh():
    found = larder(scene(weights={"o1": 45.0}, events=[left(21)]), LIME)
    assert found is not None
    assert found.food.mean == pytest.approx(12.0 + 2.0 + 0.75, abs=0.1)


@pytest.mark.parametrize(
    ("days_ago", "kg"), [(0, 0.0), (14, -0.5), (28, -1.0), (46, 0.0), (55, 0.5), (82, 2.0), (150, 2.0)]
)
def test_a_colony_that_swarmed_dwindles_until_young_brood_weighs_and_then_grows_again(days_ago, kg):
    """Two kilos left; a kilo of brood runs out by day 28, and three kilos grow in the 54 days after that."""
    assert regrown(scene(), left(days_ago)) == pytest.approx(kg, abs=0.01)


@pytest.mark.parametrize(
    ("days_ago", "amount", "kg"), [(0, None, 0.0), (41, None, 1.25), (41, 3.0, 0.75), (82, 3.0, 1.5), (200, None, 2.5)]
)
def test_a_colony_that_was_split_grows_again_evenly(days_ago, amount, kg):
    """Half of what was taken, of five kilos where nothing is written, within the 82 days a swarm takes as well."""
    split = entry(Entry.SPLIT, NOW - days_ago * DAY, amount=amount)
    assert regrown_after_split(scene(), split) == pytest.approx(kg, abs=0.01)


def test_drying_nectar_after_a_flow_is_not_taken_for_eating():
    over = event(Kind.FLOW_END, NOW - 3 * DAY)
    found = larder(scene(weights={"o1": 45.0}, days={"o1": days([-0.8] * 7)}, events=[over]), LIME)
    assert found is not None
    assert found.use.mean == pytest.approx(0.22)


def test_the_broodless_season_is_six_months_later_in_the_south_and_none_in_the_tropics():
    january = at("2026-01-10 12:00")

    def yard(latitude):
        return YardSettings(id="orchard", latitude=latitude, longitude=0.0, timezone="UTC")

    assert broodless(scene(now=january, yard=yard(50.0)))
    assert not broodless(scene(now=january, yard=yard(-35.0)))
    assert broodless(scene(now=at("2026-07-10 12:00"), yard=yard(-35.0)))
    assert not broodless(scene(now=january, yard=yard(10.0)))


# -- room in the nest --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("weight", "low", "high"),
    [(None, 4.0, 8.0), (40.0, 4.0, 8.0), (62.0, 0.0, 7.5), (90.0, 0.0, 0.0)],
)
def test_a_nest_has_room_for_what_its_combs_hold_beside_brood_and_food(weight, low, high):
    """20 frames less 5 of brood, 1 of pollen and 2 for the queen hold 32 kg at 2.7 kg a frame (extension, memory)."""
    staged = scene(weights={} if weight is None else {"o1": weight})
    assert nest_room(staged, LIME, 0.0) == pytest.approx((low, high), abs=0.3)


def test_what_came_in_since_the_flow_began_was_room_then():
    assert nest_room(scene(weights={"o1": 90.0}), LIME, 3.0) == pytest.approx((3.0, 3.0))


# -- sensors -----------------------------------------------------------------------------------------------------------


def stuck(**more):
    return event(Kind.SENSOR_FAULT, NOW - 2 * DAY, reason="weight-stuck", **more)


def test_a_fault_stands_until_it_is_over():
    assert is_faulty(scene(events=[stuck()]), "o1", Quantity.WEIGHT)
    assert not is_faulty(scene(events=[stuck()]), "o1", Quantity.TEMPERATURE)
    assert not is_faulty(scene(events=[stuck()]), "o2", Quantity.WEIGHT)
    assert not is_faulty(scene(events=[stuck(evidence={"until_ms": float(NOW)})]), "o1", Quantity.WEIGHT)
    assert not is_faulty(scene(events=[stuck(withdrawn=NOW)]), "o1", Quantity.WEIGHT)
    later = scene(events=[stuck()], now=NOW + 40 * DAY)
    assert is_faulty(later, "o1", Quantity.WEIGHT)
    assert "sensor:o1" not in topics(later)  # no news any more, and no truth either
    reset = entry(Entry.SCALE_RESET, NOW - HOUR)
    assert not is_faulty(scene(events=[stuck()], logbook=[reset]), "o1", Quantity.WEIGHT)


def test_a_silent_scale_that_speaks_for_a_whole_day_has_mended_itself():
    silent = event(Kind.SENSOR_FAULT, NOW - 4 * DAY, reason="weight-silent")
    assert is_faulty(scene(events=[silent]), "o1", Quantity.WEIGHT)
    assert not is_faulty(scene(events=[silent], days={"o1": days([0.1] * 3)}), "o1", Quantity.WEIGHT)


def test_a_lying_scale_gives_no_advice_on_food_or_supers():
    hungry = {"weights": {"o1": 33.0}, "days": {"o1": days([-0.2] * 7)}}
    assert "feed:o1" in topics(scene(**hungry))
    assert "feed:o1" not in topics(scene(**hungry, events=[stuck()]))


@pytest.mark.parametrize("when", [-3 * HOUR, 3 * HOUR])
def test_an_entry_near_a_step_answers_the_question(when):
    step = event(Kind.UNLOGGED_STEP, NOW - 6 * HOUR, size=6.8)
    assert topics(scene(events=[step])) == ["step:o1"]
    assert topics(scene(events=[step], logbook=[entry(ON, step.onset + when)])) == []


def test_a_visit_that_names_no_amount_is_no_answer():
    step = event(Kind.UNLOGGED_STEP, NOW - 6 * HOUR, size=6.8, reason="visit-tells-no-amount")
    visit = entry(Entry.INSPECT, step.onset)
    assert topics(scene(events=[step], logbook=[visit])) == ["step:o1"]
    assert topics(scene(events=[step], logbook=[visit, entry(ON, step.onset)])) == []


def test_a_hive_back_on_its_scale_closes_the_alarm_with_good_news():
    gone = event(Kind.OFF_SCALE, NOW - 3 * HOUR, size=0.4)
    assert topics(scene(events=[gone])) == ["off-scale:o1"]
    assert closing(scene(events=[gone], weights={"o1": 44.0})) == ["off-scale"]


@pytest.mark.parametrize(
    ("kind", "hours", "asked"),
    [
        (Entry.INSPECT, -2, False),
        (Entry.MOVED, 2, False),
        (Entry.NOTE, -2, True),
        (Entry.NOTE, 0, False),  # an answer to the alarm
        (Entry.SWARM_SEEN, 0, True),
        (Entry.INSPECT, -30, True),
    ],
)
def test_only_hands_or_an_answer_silence_the_alarm_of_an_empty_scale(kind, hours, asked):
    gone = event(Kind.OFF_SCALE, NOW - 3 * HOUR, size=0.4)
    found = topics(scene(events=[gone], logbook=[entry(kind, gone.onset + hours * HOUR)]))
    assert ("off-scale:o1" in found) is asked


# -- swarms ------------------------------------------------------------------------------------------------------------


def left(days_ago: float, **more):
    return event(Kind.SWARM, NOW - round(days_ago * DAY), size=2.0, **more)


def test_first_the_search_then_the_calendar():
    assert topics(scene(events=[left(0.1)])) == ["swarm:o1"]
    assert topics(scene(events=[left(2)])) == ["after-swarm:o1"]
    assert topics(scene(events=[left(50)])) == []


def test_a_swarm_that_was_found_needs_no_search():
    assert topics(scene(events=[left(0.1)], logbook=[entry(Entry.SWARM_SEEN, NOW)])) == ["after-swarm:o1"]


def test_an_afterswarm_is_searched_for_but_has_no_calendar_of_its_own():
    prime, after = left(9), left(0.1, id="second")
    assert sorted(topics(scene(events=[prime, after]))) == ["after-swarm:o1", "swarm:o1"]
    later = msgspec.structs.replace(after, onset=NOW - 2 * DAY)
    assert topics(scene(events=[prime, later])) == ["after-swarm:o1"]


def test_an_inspection_before_eggs_are_due_does_not_end_the_calendar():
    events = [left(18)]
    assert topics(scene(events=events, logbook=[entry(Entry.INSPECT, NOW - 10 * DAY)])) == ["after-swarm:o1"]
    assert topics(scene(events=events, logbook=[entry(Entry.INSPECT, NOW - DAY)])) == []


def test_a_new_queen_has_a_calendar_of_her_own():
    given = entry(Entry.REQUEEN, NOW - DAY)
    found = next(a for a in advise(scene(events=[left(10)], logbook=[given])) if a.closed is None)
    assert (found.id.split(":")[0], found.urgency) == ("after-swarm", Urgency.FOR_INFORMATION)
    assert "new queen" in found.title
    assert topics(scene(events=[left(30)], logbook=[entry(Entry.REQUEEN, NOW - 15 * DAY)])) == []


def test_eggs_seen_end_the_calendar_and_no_eggs_put_it_off():
    events = [left(18)]
    seen = entry(Entry.INSPECT, NOW - DAY, note="eggs")
    assert topics(scene(events=events, logbook=[seen])) == []
    none = entry(Entry.INSPECT, NOW - DAY, note="no eggs")
    found = [a for a in advise(scene(events=events, logbook=[none])) if a.closed is None]
    assert [a.title for a in found] == ["Lime: no eggs yet; look again by Friday 12 June"]


def test_eggs_seen_the_day_after_a_swarm_are_the_old_queens():
    """Eggs hatch in three days; the old queen laid until she left."""
    seen = entry(Entry.INSPECT, NOW - 8 * DAY, note="eggs")
    assert topics(scene(events=[left(9)], logbook=[seen])) == ["after-swarm:o1"]


def test_a_swarm_fetches_a_person_for_the_flying_day_only():
    def urgency(hours):
        return next(a.urgency for a in advise(scene(events=[left(hours / 24)])) if a.id.startswith("swarm"))

    assert urgency(9.0) is Urgency.NOW
    assert urgency(18.0) is Urgency.TODAY


def test_a_swarm_taken_back_is_closed_with_its_reason():
    taken = left(0.1, withdrawn=NOW, withdrawn_because="the weight came back")
    found = advise(scene(events=[taken]))
    assert {a.id.split(":")[0] for a in found} == {"swarm", "after-swarm"}
    assert all(a.closed == NOW for a in found)
    assert all("the weight came back" in a.saw for a in found)


# -- brood and heat ----------------------------------------------------------------------------------------------------


def test_a_gap_in_the_brood_after_a_swarm_is_left_to_the_swarms_own_calendar():
    loose = event(Kind.BROOD_UNSTABLE, NOW - DAY)
    assert topics(scene(events=[loose])) == ["brood:o1"]
    assert topics(scene(events=[left(20), loose])) == ["after-swarm:o1"]


def test_a_nest_cold_right_after_an_inspection_gets_two_days():
    cold = event(Kind.BROOD_COLD, NOW - 5 * HOUR)
    opened = [entry(Entry.INSPECT, NOW - 8 * HOUR)]
    assert topics(scene(events=[cold], logbook=opened)) == []
    assert topics(scene(events=[cold], logbook=opened, now=NOW + 3 * DAY)) == ["brood:o1"]


def test_the_last_word_on_the_brood_counts():
    hot, well = event(Kind.BROOD_HOT, NOW - 3 * DAY), event(Kind.BROOD_RECOVERED, NOW - DAY)
    assert topics(scene(events=[hot])) == ["heat:o1"]
    assert topics(scene(events=[hot, well])) == []
    assert "heat" in closing(scene(events=[hot, well]))


def test_a_nest_whose_day_was_cool_enough_is_over_its_heat():
    hot = event(Kind.BROOD_HOT, NOW - 3 * DAY)
    warm = scene(events=[hot], days={"o1": days([0.0] * 2, temperature_mean=36.4)})
    cool = scene(events=[hot], days={"o1": days([0.0] * 2, temperature_mean=35.2)})
    assert topics(warm) == ["heat:o1"]
    assert topics(cool) == []
    assert closing(cool) == ["heat"]


def test_two_hot_hives_make_one_note_for_the_yard():
    events = [event(Kind.BROOD_HOT, NOW - HOUR), event(Kind.BROOD_HOT, NOW - HOUR, hive="o2")]
    found = [a for a in advise(scene(events=events)) if a.closed is None]
    assert [(a.hive, a.urgency) for a in found] == [(None, Urgency.NOW)]
    assert len(found[0].events) == 2


def test_the_yards_note_on_heat_stays_one_note_when_all_but_one_have_cooled():
    events = [event(Kind.BROOD_HOT, NOW - HOUR), event(Kind.BROOD_HOT, NOW - HOUR, hive="o2")]
    yard = [a for a in advise(scene(events=events)) if a.closed is None]
    stands = [msgspec.structs.replace(yard[0], id=f"{yard[0].id}@then")]
    assert topics(scene(events=events[:1])) == ["heat:o1"]
    assert topics(scene(events=events[:1], open=stands)) == ["heat:"]


def test_heat_of_a_departing_swarm_is_no_overheating():
    assert topics(scene(events=[left(0.1), event(Kind.BROOD_HOT, NOW - 2 * HOUR)])) == ["swarm:o1"]


# -- dearth, robbing, flow ---------------------------------------------------------------------------------------------


def test_a_flow_ends_a_dearth():
    dearth = event(Kind.DEARTH_ONSET, NOW - 9 * DAY, size=-0.2)
    flow = event(Kind.FLOW_ONSET, NOW - DAY, size=0.5)
    assert "dearth:" in topics(scene(events=[dearth]))
    assert "dearth:" not in topics(scene(events=[dearth, flow]))


def test_what_the_beekeeper_took_is_no_robbing():
    robbed = event(Kind.ROBBING, NOW - 2 * HOUR, size=0.2)
    assert topics(scene(events=[robbed])) == ["robbing:o1"]
    assert topics(scene(events=[robbed], logbook=[entry(HARVEST, NOW - 3 * HOUR)])) == []


def test_a_robbed_hive_is_not_fed():
    hungry = {"weights": {"o1": 33.0}, "days": {"o1": days([-0.2] * 7)}}
    robbed = event(Kind.ROBBING, NOW - 2 * HOUR, size=0.2)
    assert "feed:o1" not in topics(scene(**hungry, events=[robbed]))
    assert "feed:o1" in topics(scene(**hungry, events=[robbed], now=NOW + 2 * DAY))


def test_a_hive_that_gains_little_in_a_flow_of_others_is_not_asked_a_super():
    flow = event(Kind.FLOW_ONSET, NOW - 6 * DAY, size=1.2)
    found = {"o1": days([1.2] * 6), "o3": days([0.3] * 6, hive="o3")}
    assert [t for t in topics(scene(hives=[LIME, PLAIN], events=[flow], days=found)) if "super" in t] == ["super:o1"]


def test_a_date_told_stands_while_the_scale_is_in_doubt():
    """The bees do not wait for the scale: what it said while it could be believed is the best that is known."""
    flow = event(Kind.FLOW_ONSET, NOW - 6 * DAY, size=1.2)
    facts = {"hives": [LIME], "days": {"o1": days([1.2] * 6)}}
    told = reconcile([], advise(scene(**facts, events=[flow])), NOW)
    drifts = event(Kind.SENSOR_FAULT, NOW - HOUR, reason="weight-drift")
    now = {**facts, "events": [flow, drifts], "now": NOW + HOUR}
    asked = [a for a in told if a.id.startswith("super")]
    assert asked
    assert not [c for c in reconcile(asked, advise(scene(**now, open=asked)), NOW + HOUR) if c.closed]
    assert "super:o1" not in topics(scene(**now))


def test_a_super_taken_off_full_leaves_room_in_the_next():
    flow = event(Kind.FLOW_ONSET, NOW - 12 * DAY, size=1.2)
    log = [entry(ON, NOW - 12 * DAY), entry(ON, NOW - 6 * DAY), entry(OFF, NOW - 2 * DAY)]
    gains = {"o1": days([1.4] * 12)}
    before = advise(scene(hives=[LIME], events=[flow], days=gains, logbook=log[:1]))
    after = advise(scene(hives=[LIME], events=[flow], days=gains, logbook=log))
    assert next(a.urgency for a in before if a.id.startswith("super")) is Urgency.TODAY
    assert next(a.urgency for a in after if a.id.startswith("super")) is Urgency.THIS_WEEK


# -- mites -------------------------------------------------------------------------------------------------------------

WASH = entry(Entry.MITE_WASH, NOW - DAY, amount=8, note="bees=300")


@pytest.mark.parametrize(
    ("more", "bare"),
    [
        ({}, False),
        ({"events": [left(12)]}, False),
        ({"events": [left(26)]}, True),
        ({"events": [left(45)]}, False),
        ({"logbook": [WASH, entry(Entry.SPLIT, NOW - 26 * DAY)]}, True),
        ({"logbook": [WASH, entry(Entry.SPLIT, NOW - 26 * DAY, hive="o2")]}, False),
    ],
    ids=["with-brood", "brood-still-capped", "swarmed", "brood-capped-again", "split", "another-hive"],
)
def test_a_count_without_capped_brood_says_that_it_shows_nearly_all_mites(more, bare):
    (found,) = (a for a in advise(scene(**{"logbook": [WASH], **more})) if a.id.startswith("mites:"))
    assert any("Little brood was capped" in doubt for doubt in found.could_also_be) == bare

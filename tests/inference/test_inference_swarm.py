"""Swarms: every reason against one, what each evidence weighs, and the published masses and times behind it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from inference_cases import NOON, RULES, change, event, evidence, look

from hivemon.inference import swarm
from hivemon.inference.cause import Cause
from hivemon.inference.evidence import Swarmed
from hivemon.inference.steps import Step, verdict
from hivemon.model import HOUR, MINUTE, Kind

WATCHED = 2 * HOUR


def test_a_plain_prime_swarm_is_one():
    """Two kilograms gone in ten minutes at noon in May, nobody about."""
    assert swarm.why_not(evidence(), RULES) is None
    assert swarm.confidence(evidence()) > 0.9


NO_SWARM = {
    "gain": evidence(2.2),
    "too-small": evidence(-0.5),
    "too-much-for-bees": evidence(-6.5),
    "dark": evidence(daylight=False),
    "wrong-hour": evidence(solar_hour=6.5),
    "too-cold-to-fly": evidence(outside=9.0),
    "raining": evidence(rain=4.0),
    "happens-every-day": evidence(-1.2, routine_kg=0.9),
    "not-at-rest-before": evidence(stood=5 * MINUTE),
    "too-slow": evidence(minutes=55),
    "too-small ": evidence(-0.9, trend=-0.3),  # nectar that would have come in meanwhile
    "by-degrees": evidence(-0.9, largest=-0.15),
    "weight-went-to-and-fro": evidence(overshoot=3.0),
    "hive-opened": evidence(nest_change=-4.0),
    "likelier-a-person": evidence(-1.5, underway=0, minutes=5, visit_nearby=True),
}


@pytest.mark.parametrize("reason", NO_SWARM)
def test_each_reason_against_a_swarm_is_given_by_its_name(reason):
    """One fact changed in a plain swarm makes it none, and says why."""
    assert swarm.why_not(NO_SWARM[reason], RULES) == reason.strip()


def test_an_open_lid_shows_in_temperature_and_humidity_together():
    """A nest that cools by 1.5 °C and dries by 15 points was opened; either alone may be the bees (Ferrari 2008)."""
    assert swarm.why_not(evidence(nest_change=-2.0, humidity_change=-18.0), RULES) == "hive-opened"
    assert swarm.why_not(evidence(nest_change=-2.0, humidity_change=1.0), RULES) is None


MORE_LIKELY = {
    "suddenness": (evidence(), evidence(underway=0, minutes=5)),
    "suddenness ": (evidence(), evidence(reversals=2)),
    "path": (evidence(), evidence(reversals=2)),
    "season": (evidence(), evidence(season_days=60.0)),
    "hour": (evidence(), evidence(solar_hour=16.5)),
    "size": (evidence(), evidence(-0.9)),
    "nest": (evidence(nest_change=2.4), evidence()),
    "nest ": (evidence(nest_change=-1.6), evidence()),  # half the bees are gone
    "nest  ": (evidence(nest_change=-1.6), evidence(nest_change=-1.6, humidity_change=-9.0)),  # or the lid was off
    "nest      ": (evidence(nest_change=0.5), evidence()),  # a warm-up as the edge of the nest feels it
    "nest       ": (evidence(nest_change=-1.6), evidence(nest_change=-1.6, visit_nearby=True)),  # a lid may be off
    "nest     ": (  # nothing tells whether the lid was off
        evidence(nest_change=-1.6, humidity_change=None),
        evidence(nest_change=-1.6, humidity_change=None, visit_nearby=True),
    ),
    "nest   ": (evidence(nest_change=-1.6), evidence(nest_change=-1.6, nest_routine=1.2)),  # as on any other day
    "nest    ": (evidence(nest_change=None), evidence()),
    "humidity ": (evidence(visited=True), evidence(visited=True, humidity_change=-6.0)),  # a visit that opened nothing
    "humidity": (evidence(), evidence(humidity_change=-9.0)),
    "visit": (evidence(), evidence(visit_nearby=True)),
    "visit ": (evidence(visit_nearby=True), evidence(handled_before=True)),  # near is not at it
    "habit": (evidence(), evidence(losses_before=3)),
    "swapped": (evidence(swapped=True), evidence(swapped=True, underway=0)),
    "afterswarm": (evidence(-1.2, swarmed=Swarmed(9.0, 2.5)), evidence(-2.5, swarmed=Swarmed(9.0, 2.5))),
    "put-on-before": (evidence(underway=0), evidence(underway=0, put_on_before=0.1)),
    "put-on-before ": (evidence(underway=1), evidence(underway=1, put_on_before=0.1)),
    "put-on-before  ": (evidence(underway=0, put_on_before=0.5), evidence(underway=0, put_on_before=0.1)),
    "wind": (evidence(), evidence(windy=True)),
    "gap": (
        evidence(underway=0, gap=10 * MINUTE, interval=10 * MINUTE),
        evidence(underway=0, gap=10 * MINUTE, interval=5 * MINUTE),
    ),
    "seen": (evidence(swarm_seen=True), evidence()),
}


@pytest.mark.parametrize("name", MORE_LIKELY)
def test_each_piece_of_evidence_weighs_the_right_way(name):
    """The first of each pair speaks more for a swarm than the second, in that piece and in the sum."""
    more, less = MORE_LIKELY[name]
    assert swarm.weights(more)[name.strip()] > swarm.weights(less)[name.strip()]
    assert swarm.log_odds(more) > swarm.log_odds(less)


@pytest.mark.parametrize("visit", [{"visit_nearby": True}, {"visited": True}, {"swapped": True}])
def test_bees_that_pour_out_are_no_persons_doing_whoever_is_about(visit):
    """Caught twice underway within a quarter of an hour: hands lift, bees pour."""
    assert swarm.why_not(evidence(minutes=15, underway=2, **visit), RULES) is None
    assert swarm.why_not(evidence(minutes=5, underway=0, **visit), RULES) == "likelier-a-person"


def test_a_missing_reading_hides_a_pour():
    """A swarm that leaves while the sensor is silent for half an hour looks sudden, and is believed all the same."""
    assert swarm.why_not(evidence(underway=0, minutes=30, gap=30 * MINUTE), RULES) is None
    assert swarm.why_not(evidence(underway=0, minutes=5), RULES) == "likelier-a-person"


@pytest.mark.parametrize(
    ("minutes", "largest", "pours"),
    [(5, 0.3, False), (5, 0.7, True), (10, 0.6, False), (10, 1.0, True), (60, 0.9, True)],
)
def test_what_never_pours_is_no_swarm(minutes, largest, pours):
    """Twenty minutes at the longest (Winston 1987): some interval holds its part of that, or half."""
    case = evidence(-2.2, interval=minutes * MINUTE, largest=-largest, minutes=25, gap=minutes * MINUTE)
    assert (swarm.why_not(case, RULES) != "by-degrees") is pours


def test_every_weight_has_its_case():
    """A new piece of evidence needs a new case here."""
    assert {name.strip() for name in MORE_LIKELY} == set(swarm.weights(evidence()))


@pytest.mark.parametrize(
    ("days", "said"),
    [(None, 0.0), (-100.0, 0.7), (0.0, 0.7), (60.0, -0.7), (150.0, -2.5), (-170.0, -2.5), (-125.0, -0.9)],
)
def test_the_season_of_swarms(days, said):
    """Spring and early summer; a few in late summer; none from autumn to late winter; the tropics say nothing."""
    assert swarm.weights(evidence(season_days=days))["season"] == pytest.approx(said)


def test_a_slight_warm_up_tells_nothing_where_readings_are_rarer_than_it_lasts():
    """It builds within ten to twenty minutes (Zacepins et al. 2016, from memory): in an hour a nest moves by itself."""
    for minutes, told in ((10, True), (60, False)):
        warmer, still = (evidence(nest_change=went, interval=minutes * MINUTE) for went in (0.5, 0.1))
        assert (swarm.weights(warmer)["nest"] > swarm.weights(still)["nest"]) is told


def test_a_warm_up_says_more_the_warmer_it_was():
    """What a sensor shows by a third of a degree is hardly more than one that stood still."""
    said = [swarm.weights(evidence(nest_change=went))["nest"] for went in (0.1, 0.37, 0.6, 0.9, 1.5)]
    assert said == sorted(said)
    assert said[1] < 0.0 < said[2]


def test_a_nest_that_jumps_further_than_any_warm_up_tells_of_no_swarm():
    """Eight degrees up within minutes is the sensor."""
    assert swarm.weights(evidence(nest_change=8.0))["nest"] == swarm.weights(evidence(nest_change=0.1))["nest"]


@pytest.mark.parametrize("interval", [1, 2, 5, 10, 15, 30, 60])
def test_the_chances_of_seeing_a_departure_underway_are_those_of_simulated_ones(interval):
    """Departures of even length between the limits, begun at any moment: how many readings fall into each?"""
    rng = np.random.default_rng(interval)
    begins = rng.uniform(0, interval, 200_000)
    ends = begins + rng.uniform(*swarm.EXIT_MINUTES, len(begins))
    readings = np.minimum(np.floor(ends / interval), 2).astype(int)
    simulated = np.bincount(readings, minlength=3) / len(begins)
    assert swarm.chance_underway(interval * MINUTE) == pytest.approx(tuple(simulated), abs=0.01)


@pytest.mark.parametrize(
    ("bees", "low", "high"),
    [(5_000, 0.65, 0.8), (12_000, 1.56, 1.92), (16_000, 2.08, 2.56), (20_000, 2.6, 3.2), (30_000, 3.9, 4.8)],
)
def test_the_count_of_bees_follows_published_masses(bees, low, high):
    """130 to 160 mg a bee with her load (Combs 1972; Otis 1982, from memory; trade packages 3,500 to the pound)."""
    for mass in (low, high):
        told = swarm.tell(look(), evidence(-mass), "x").evidence
        assert told["bees_low"] - 1 <= bees <= told["bees_high"] + 1


def test_the_limits_hold_the_published_range_of_swarms():
    """5,000 to 30,000 bees (Fell et al. 1977, from memory) lie within the rule's least and most."""
    assert RULES.swarm.least_kg <= 5_000 * 145e-6
    assert RULES.swarm.most_kg >= 30_000 * 160e-6


def test_confidence_is_the_probability_of_the_odds():
    """Log odds of zero are an even chance."""
    for case in MORE_LIKELY.values():
        odds = swarm.log_odds(case[0])
        assert swarm.confidence(case[0]) == pytest.approx(math.exp(odds) / (1 + math.exp(odds)))


def step(size: float, minutes_after: float) -> Step:
    before = NOON + round(minutes_after * MINUTE)
    return Step(before, before + 5 * MINUTE, size, Cause.UNLOGGED)


@pytest.mark.parametrize(
    ("size", "minutes", "level", "taken_back"),
    [
        (2.0, 60, 44.9, True),  # back within the hour
        (2.1, 170, 45.0, True),  # late, but as much as left
        (2.0, 300, 45.0, False),  # next time
        (6.5, 60, 49.3, False),  # a super
        (0.6, 60, 43.4, False),  # foragers
        (-3.5, 30, 39.3, True),  # frames went too
        (-3.5, 120, 39.3, False),  # another story
    ],
)
def test_a_swarm_is_taken_back_when_the_weight_says_so(size, minutes, level, taken_back):
    """A return restores the weight; more taken soon after was a person all along."""
    told = next(iter(event(Kind.SWARM, NOON, size=2.2).values()))
    why = swarm.taken_back(look(), told, NOON, step(size, minutes), level)
    assert (why is not None) is taken_back


VERDICTS = {
    "logged": (evidence(-8.0, fitting_entry=True, visited=True), Cause.LOGGED),
    "logged-visit": (evidence(-0.6, visited=True), Cause.LOGGED),
    "logged-visit ": (evidence(-6.0, visited=True, weight_entry=True), Cause.LOGGED),
    "logged-visit  ": (evidence(4.1, visited=True, undoes=True), Cause.LOGGED),  # what it took off is on again
    "visit-tells-no-amount": (evidence(6.8, visited=True), Cause.UNLOGGED),
    "whole-yard": (evidence(1.0, others_kg=0.9), Cause.WEATHER),
    "too-slow-for-a-step": (evidence(-1.0, minutes=120), Cause.WEATHER),
    "rain": (evidence(0.8, rain_until_now=4.0, underway=0, others_kg=None, others=0), Cause.WEATHER),
    "no-faster-than-nature": (evidence(0.7, underway=0, minutes=60, gap=HOUR, interval=HOUR), Cause.WEATHER),
    "no-faster-than-nature ": (evidence(-1.8, minutes=120, gap=HOUR, interval=HOUR, underway=1), Cause.WEATHER),
    "in-parts": (evidence(-0.6, largest=-0.15), Cause.WEATHER),
    "as-on-other-days": (evidence(-0.6, underway=0, routine_kg=0.3), Cause.WEATHER),
    "loss-within-minutes-in-flying-weather": (evidence(), Cause.SWARM),
    "gain": (evidence(4.0), Cause.UNLOGGED),
    "too-much-for-bees": (evidence(-20.0, old=60.0), Cause.UNLOGGED),
    "hive-gone": (evidence(-43.0), Cause.OFF_SCALE),
    "likelier-a-person": (evidence(-2.0, underway=0, minutes=5, put_on_before=0.1), Cause.UNLOGGED),
    "scale-drops-out": (evidence(-43.0, dead=True), Cause.FAULT),
}


@pytest.mark.parametrize("reason", VERDICTS)
def test_each_verdict_on_a_step(reason):
    """Who did that, and why: one case each."""
    case, cause = VERDICTS[reason]
    assert verdict(case, RULES, watched=WATCHED) == (cause, reason.strip(), False)


def test_a_hive_that_is_taken_apart_is_waited_for():
    """Boxes set down and lifted again: whoever does that puts them back; a hive that is gone at once is told soon."""
    quarter = 16 * MINUTE
    assert verdict(evidence(-43.0), RULES, watched=quarter) == (Cause.OFF_SCALE, "hive-gone", False)
    assert verdict(evidence(-43.0, overshoot=5.0), RULES, watched=quarter) == (Cause.OFF_SCALE, "hive-gone", True)
    assert not verdict(evidence(-43.0, overshoot=5.0), RULES, watched=2 * HOUR)[2]


@pytest.mark.parametrize(
    ("size", "old", "gone"),
    [
        (-43.0, 45.0, True),  # nothing stands there
        (-44.5, 50.0, True),  # its floor and stand do: 5.5 kg
        (-60.0, 80.0, False),  # a harvest leaves brood box, bees and food: 20 kg
        (-9.0, 14.0, False),  # a nucleus in a light box has little to lose
        (-30.0, 43.0, True),  # it fell, and leans there: 13 kg
    ],
)
def test_a_hive_is_off_its_scale_when_no_hive_weighs_what_is_left(size, old, gone):
    """Floor, lid and one box weigh 14 to 20 kg empty (woodware, from memory); a stand or a floor alone less than 10."""
    assert evidence(size, old=old).left_scale is gone


@pytest.mark.parametrize("hands", [{"visited": True}, {"overshoot": 4.0}, {"reversals": 3}])
def test_hands_may_leave_a_light_box(hands):
    """Plastic foam weighs half of wood: whoever took its supers off leaves 13 kg, and the bees in it."""
    assert not evidence(-30.0, old=43.0, **hands).left_scale


def test_a_colony_that_swarmed_has_not_the_foragers_to_lose_as_much():
    """Three quarters of a kilogram an hour may be foragers leaving, but not those of half a colony."""
    hourly = {"minutes": 60, "underway": 0, "gap": HOUR, "interval": HOUR}
    assert evidence(-0.75, **hourly).unhurried
    assert evidence(-0.75, **hourly, swarmed=Swarmed(30.0, 2.5)).unhurried
    assert not evidence(-0.75, **hourly, swarmed=Swarmed(9.0, 2.5)).unhurried


@pytest.mark.parametrize(
    ("size", "more", "rain"),
    [
        (0.8, {"rain_until_now": 4.0, "underway": 0}, True),
        (0.8, {"rain_until_now": None, "underway": 3}, True),  # no gauge, but it came by degrees
        (
            0.8,
            {"rain_until_now": None, "underway": 0, "minutes": 60, "gap": HOUR},
            True,
        ),  # an hour in which nobody looked
        (0.8, {"rain_until_now": 0.0, "underway": 0, "minutes": 60, "gap": HOUR}, False),  # a gauge that stayed dry
        (0.8, {"rain_until_now": None, "underway": 0}, False),  # laid on at once
        (2.5, {"rain_until_now": 4.0, "underway": 3}, False),  # more than rain lays on a hive
        (0.8, {"rain_until_now": 4.0, "overshoot": 3.0}, False),  # hands
    ],
)
def test_a_shower_on_a_single_hive_is_no_visit(size, more, rain):
    """No neighbour to compare with: a gauge, or how it came, tells."""
    assert evidence(size, others_kg=None, others=0, **more).rained_on is rain


def test_a_slow_loss_beyond_any_weather_is_somebodys():
    """Forty kilograms frame by frame are a harvest, however slowly."""
    assert verdict(evidence(-40.0, minutes=60, old=95.0), RULES, watched=WATCHED)[0] is Cause.UNLOGGED


@pytest.mark.parametrize(
    ("case", "minutes", "waits"),
    [
        (evidence(), 5, False),
        (evidence(visit_nearby=True, nest_change=2.4), 5, False),
        (evidence(visit_nearby=True), 20, True),
        (evidence(visit_nearby=True), 40, True),  # watched since before it left
        (evidence(visit_nearby=True, settled=30 * MINUTE), 40, False),
        (evidence(-43.0), 5, True),
        (evidence(-43.0), 20, False),
        (evidence(-43.0, reversals=4), 20, True),  # it is being taken apart
        (evidence(-43.0, reversals=4, daylight=False), 20, False),  # nobody does that by night
        (evidence(-43.0, visited=True), 20, True),
        (evidence(-43.0, visited=True), 95, False),
        (evidence(4.0, settled=10 * MINUTE), 15, True),  # more may be lifted yet
        (evidence(4.0, settled=20 * MINUTE), 25, False),
        (evidence(-4.0, visited=True, settled=10 * MINUTE, overshoot=4.0), 15, True),
        (evidence(8.0, fitting_entry=True, settled=10 * MINUTE), 15, True),
        (evidence(8.0, fitting_entry=True, settled=10 * MINUTE), 301, False),
        (evidence(2.2, settled=10 * MINUTE, swarmed=Swarmed(1 / 24, 2.2)), 15, False),  # it comes home
        (evidence(0.8, underway=0, rain_due=True), 25, True),  # the gauge will tell
        (evidence(3.0, rain_due=True), 25, False),  # no gauge could
    ],
)
def test_what_is_sure_is_said_at_once_and_the_rest_is_watched(case, minutes, waits):
    """A swarm beyond doubt does not wait; where somebody is about, a lifted lid gets time to be put back."""
    assert verdict(case, RULES, watched=minutes * MINUTE)[2] is waits


@pytest.mark.parametrize("minutes", [1, 5, 15, 60])
def test_a_departure_may_straddle_one_reading_more_than_it_fills(minutes):
    """Half an hour at hourly sampling can touch two intervals; that is not slow."""
    longest = RULES.swarm.longest_minutes
    spans = (math.ceil(longest / minutes) + 1) * minutes
    case = evidence(interval=minutes * MINUTE, minutes=spans)
    assert swarm.why_not(case, RULES) != "too-slow"
    assert swarm.why_not(evidence(interval=minutes * MINUTE, minutes=1.2 * spans), RULES) == "too-slow"


def test_a_change_knows_its_size():
    """Signed, new less old."""
    assert change(-2.5).size == -2.5

"""Each decision, each named reason, every "no" included: evidence in, verdict and reason out."""

from __future__ import annotations

import math

import pytest
from advice_scenes import NOW, event

from hivemon.advice import between, brood, dearth, heat, robbing, sensors, supers, swarm
from hivemon.advice.between import BetweenReason
from hivemon.advice.brood import BroodReason, BroodVerdict
from hivemon.advice.dearth import DearthReason, FeedReason, FeedVerdict
from hivemon.advice.decision import first_that_holds
from hivemon.advice.eggs import Eggs
from hivemon.advice.food import Estimate, Lasts
from hivemon.advice.heat import Entrance, EntranceReason, HeatReason
from hivemon.advice.larder import Larder
from hivemon.advice.robbing import RobbingReason, RobbingVerdict
from hivemon.advice.room import DaysLeft
from hivemon.advice.sensors import FaultReason, OffScaleReason, StepReason
from hivemon.advice.supers import FlowReason, SuperReason, SuperVerdict
from hivemon.advice.swarm import SwarmReason, SwarmVerdict
from hivemon.limits import Limits
from hivemon.model import DAY, Entry, Kind, Quantity, Urgency

LIMITS = Limits()


def test_a_table_without_a_last_row_is_a_mistake_that_says_so():
    with pytest.raises(LookupError, match="last row"):
        first_that_holds([(False, "never", 1.0)])


SUPER = supers.SuperEvidence(
    in_flow=True,
    scale_ok=True,
    supers=1,
    since=NOW - 9 * DAY,
    capacity=12.0,
    gained=6.0,
    rate=1.0,
    typical=1.1,
    left=DaysLeft(1.0, 4.0, 8.0),
    asked=False,
)
SUPERS = [
    ({"in_flow": False}, SuperVerdict.LEAVE, SuperReason.NO_FLOW),
    ({"scale_ok": False}, SuperVerdict.LEAVE, SuperReason.SCALE_FAULTY),
    ({"scale_ok": False, "asked": True}, SuperVerdict.KEEP, SuperReason.SCALE_FAULTY),
    ({"rate": None}, SuperVerdict.LEAVE, SuperReason.RATE_UNKNOWN),
    ({"rate": 0.1}, SuperVerdict.LEAVE, SuperReason.NOT_GAINING),
    ({"rate": -1.0}, SuperVerdict.LEAVE, SuperReason.NOT_GAINING),
    ({"rate": 0.4}, SuperVerdict.LEAVE, SuperReason.WEAK),
    ({"rate": 0.4, "asked": True}, SuperVerdict.ADD, SuperReason.ROOM_RUNS_OUT),
    ({"rate": 0.2, "asked": True}, SuperVerdict.LEAVE, SuperReason.WEAK),
    ({"rate": 0.4, "left": DaysLeft(0.0, 1.5, 9.0)}, SuperVerdict.ADD, SuperReason.ROOM_RUNS_OUT),
    ({"rate": 0.07, "typical": None, "asked": True}, SuperVerdict.LEAVE, SuperReason.NOT_GAINING),
    ({"rate": 0.4, "typical": None}, SuperVerdict.ADD, SuperReason.ROOM_RUNS_OUT),
    ({"left": DaysLeft(3.0, 7.1, 12.0)}, SuperVerdict.LEAVE, SuperReason.ROOM_ENOUGH),
    ({"left": DaysLeft(math.inf, math.inf, math.inf)}, SuperVerdict.LEAVE, SuperReason.ROOM_ENOUGH),
    ({"left": DaysLeft(3.0, 7.1, 12.0), "asked": True}, SuperVerdict.ADD, SuperReason.ROOM_RUNS_OUT),
    ({"left": DaysLeft(6.0, 10.1, 12.0), "asked": True}, SuperVerdict.LEAVE, SuperReason.ROOM_ENOUGH),
    ({"supers": 0}, SuperVerdict.ADD, SuperReason.FIRST_SUPER),
    ({}, SuperVerdict.ADD, SuperReason.ROOM_RUNS_OUT),
    ({"left": DaysLeft(0.0, 1.0, 4.0)}, SuperVerdict.ADD, SuperReason.FULL_NOW),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), SUPERS)
def test_supers(given, verdict, reason):
    decision = supers.judge_super(SUPER._replace(**given), LIMITS.supers)
    assert (decision.verdict, decision.reason) == (verdict, reason)


def test_a_super_whose_filling_is_not_known_is_judged_with_less_confidence():
    known = supers.judge_super(SUPER, LIMITS.supers)
    guessed = supers.judge_super(SUPER._replace(since=None), LIMITS.supers)
    assert guessed.confidence < known.confidence


ONSET, END = event(Kind.FLOW_ONSET, NOW - 20 * DAY), event(Kind.FLOW_END, NOW - 3 * DAY)
FLOWS = [
    ({"last": None}, False, FlowReason.NO_FLOW_KNOWN),
    ({"last": ONSET}, True, FlowReason.FLOW_ON),
    ({"supers_on": 0}, False, FlowReason.NO_SUPERS_ON),
    ({"now": NOW + 30 * DAY}, False, FlowReason.LONG_OVER),
    ({"dearth": True}, True, FlowReason.DEARTH_AFTER),
    ({}, True, FlowReason.RIPENING),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), FLOWS)
def test_flow_and_its_end(given, verdict, reason):
    evidence = {"last": END, "supers_on": 2, "dearth": False, "now": NOW, "limits": LIMITS.supers} | given
    assert supers.judge_flow(**evidence)[:2] == (verdict, reason)


BETWEEN = between.YardEvidence(in_flow=False, dearth=False, week=23, days_since_flow=14.0)
BETWEENS = [
    ({"in_flow": True}, False, BetweenReason.IN_FLOW),
    ({"dearth": True}, False, BetweenReason.DEARTH),
    ({"week": 14}, False, BetweenReason.OUT_OF_SEASON),
    ({"week": 36}, False, BetweenReason.OUT_OF_SEASON),
    ({"week": None}, True, BetweenReason.BETWEEN_FLOWS),
    ({"days_since_flow": 9.0}, False, BetweenReason.FLOW_JUST_OVER),
    ({"days_since_flow": None}, True, BetweenReason.BETWEEN_FLOWS),
    ({}, True, BetweenReason.BETWEEN_FLOWS),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), BETWEENS)
def test_a_time_between_flows(given, verdict, reason):
    assert between.judge_yard(BETWEEN._replace(**given), LIMITS.supers)[:2] == (verdict, reason)


TRICKLE = between.SupersEvidence(scale_ok=True, since=NOW - 30 * DAY, trickled=3.0, left=2.0, asked=False)
TRICKLES = [
    ({"scale_ok": False}, False, BetweenReason.SCALE_FAULTY),
    ({"since": None}, False, BetweenReason.FILL_UNKNOWN),
    ({"trickled": 1.9}, False, BetweenReason.NO_TRICKLE),
    ({"trickled": 1.1, "asked": True}, True, BetweenReason.NEARLY_FULL),
    ({"trickled": 0.9, "asked": True}, False, BetweenReason.NO_TRICKLE),
    ({"left": 3.1}, False, BetweenReason.ROOM_ENOUGH),
    ({"left": 3.1, "asked": True}, True, BetweenReason.NEARLY_FULL),
    ({"left": 6.1, "asked": True}, False, BetweenReason.ROOM_ENOUGH),
    ({"left": -4.0}, True, BetweenReason.NEARLY_FULL),
    ({}, True, BetweenReason.NEARLY_FULL),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), TRICKLES)
def test_supers_that_fill_between_flows(given, verdict, reason):
    assert between.judge_supers(TRICKLE._replace(**given), LIMITS.supers)[:2] == (verdict, reason)


@pytest.mark.parametrize(
    ("hours", "found", "verdict", "reason"),
    [
        (1.0, False, SwarmVerdict.LOOK, SwarmReason.JUST_LEFT),
        (1.0, True, SwarmVerdict.QUIET, SwarmReason.FOUND),
        (10.1, False, SwarmVerdict.LOOK, SwarmReason.MAY_HANG),
        (25.0, False, SwarmVerdict.QUIET, SwarmReason.SEARCH_OVER),
    ],
)
def test_search_for_a_swarm(hours, found, verdict, reason):
    assert swarm.judge_search(hours=hours, found=found, limits=LIMITS.swarm)[:2] == (verdict, reason)


QUEEN = swarm.QueenEvidence(
    days=10.0,
    afterswarm=False,
    requeened=None,
    seen=Eggs.NOT_SAID,
    looked=False,
    warm=None,
)
QUEENS = [
    ({"afterswarm": True}, SwarmVerdict.QUIET, SwarmReason.AFTERSWARM),
    ({"seen": Eggs.SEEN}, SwarmVerdict.QUIET, SwarmReason.EGGS_SEEN),
    ({"seen": Eggs.SEEN, "requeened": 3.0}, SwarmVerdict.QUIET, SwarmReason.EGGS_SEEN),
    ({"requeened": 3.0}, SwarmVerdict.CALENDAR, SwarmReason.QUEEN_GIVEN),
    ({"requeened": 8.0, "looked": True}, SwarmVerdict.QUIET, SwarmReason.REQUEENED),
    ({"requeened": 14.1}, SwarmVerdict.QUIET, SwarmReason.REQUEENED),
    ({"seen": Eggs.NONE, "days": 18.0, "looked": True}, SwarmVerdict.CALENDAR, SwarmReason.NO_EGGS),
    ({"seen": Eggs.NONE, "days": 31.0, "looked": True}, SwarmVerdict.CHECK, SwarmReason.QUEEN_FAILED),
    ({"looked": True}, SwarmVerdict.QUIET, SwarmReason.LOOKED),
    ({"days": 46.0}, SwarmVerdict.QUIET, SwarmReason.LONG_AGO),
    ({"days": 15.9}, SwarmVerdict.CALENDAR, SwarmReason.QUEEN_DUE),
    ({"days": 10.0, "warm": True}, SwarmVerdict.CALENDAR, SwarmReason.QUEEN_DUE),
    ({"days": 16.0}, SwarmVerdict.CALENDAR, SwarmReason.EGGS_DUE),
    ({"days": 20.0, "warm": True}, SwarmVerdict.CALENDAR, SwarmReason.EGGS_DUE),
    ({"days": 26.0, "warm": True}, SwarmVerdict.QUIET, SwarmReason.BROOD_BACK),
    ({"days": 29.0, "warm": False}, SwarmVerdict.CALENDAR, SwarmReason.EGGS_DUE),
    ({"days": 31.0, "warm": False}, SwarmVerdict.CHECK, SwarmReason.QUEEN_FAILED),
    ({"days": 31.0, "warm": None}, SwarmVerdict.CALENDAR, SwarmReason.EGGS_DUE),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), QUEENS)
def test_the_young_queen_after_a_swarm(given, verdict, reason):
    """Days from a 16-day queen (Cornell fact sheet), mating and 2-4 days to eggs (from memory); derived."""
    assert swarm.judge_queen(QUEEN._replace(**given), LIMITS.swarm)[:2] == (verdict, reason)


def larder(food: float, *, sd: float = 1.5, use: float = 0.2, tare_known: bool = True, unsure: int = 0) -> Larder:
    days = max(food, 0.0) / use
    return Larder(Estimate(food, sd), Estimate(use, 0.04), Lasts(days / 2, days, days * 2), tare_known, 0, unsure, None)


FEED = dearth.FeedEvidence(
    in_flow=False,
    gaining=False,
    scale_ok=True,
    fed_lately=False,
    looked_lately=False,
    robbed=False,
    supers=0,
    larder=larder(3.0),
    asked=False,
    alarmed=False,
)
FEEDS = [
    ({"in_flow": True}, FeedVerdict.LEAVE, FeedReason.IN_FLOW),
    ({"in_flow": True, "larder": larder(0.1)}, FeedVerdict.LEAVE, FeedReason.IN_FLOW),
    ({"gaining": True}, FeedVerdict.LEAVE, FeedReason.GAINING),
    ({"scale_ok": False}, FeedVerdict.LEAVE, FeedReason.SCALE_FAULTY),
    ({"larder": None}, FeedVerdict.LEAVE, FeedReason.NO_WEIGHT),
    ({"fed_lately": True}, FeedVerdict.LEAVE, FeedReason.JUST_FED),
    ({"larder": larder(5.1)}, FeedVerdict.LEAVE, FeedReason.ENOUGH),
    ({"larder": larder(5.1), "asked": True}, FeedVerdict.FEED, FeedReason.LOW),
    ({"larder": larder(7.1), "asked": True}, FeedVerdict.LEAVE, FeedReason.ENOUGH),
    ({"larder": larder(5.1, use=0.5)}, FeedVerdict.FEED, FeedReason.LOW),
    ({"larder": larder(7.5, use=0.5)}, FeedVerdict.LEAVE, FeedReason.ENOUGH),
    ({"larder": larder(7.5, use=0.5), "asked": True}, FeedVerdict.FEED, FeedReason.LOW),
    ({"supers": 1}, FeedVerdict.KEEP_HONEY, FeedReason.SUPERS_ON),
    ({"supers": 1, "larder": larder(0.1)}, FeedVerdict.KEEP_HONEY, FeedReason.SUPERS_ON),
    ({"robbed": True}, FeedVerdict.LEAVE, FeedReason.ROBBED),
    ({"larder": larder(3.0, unsure=1)}, FeedVerdict.LOOK, FeedReason.SUPERS_UNSURE),
    ({"larder": larder(3.0, sd=3.0, tare_known=False)}, FeedVerdict.LOOK, FeedReason.UNSURE),
    (
        {"larder": larder(3.0, sd=3.0, tare_known=False), "looked_lately": True},
        FeedVerdict.LEAVE,
        FeedReason.LOOKED_LATELY,
    ),
    ({"larder": larder(0.9)}, FeedVerdict.FEED, FeedReason.STARVING),
    ({"larder": larder(1.5), "alarmed": True}, FeedVerdict.FEED, FeedReason.STARVING),
    ({"larder": larder(1.5)}, FeedVerdict.FEED, FeedReason.LOW),
    ({"larder": larder(2.1), "alarmed": True}, FeedVerdict.FEED, FeedReason.LOW),
    ({"larder": larder(-4.0, sd=3.0, tare_known=False)}, FeedVerdict.LOOK, FeedReason.UNSURE),
    ({}, FeedVerdict.FEED, FeedReason.LOW),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), FEEDS)
def test_feeding(given, verdict, reason):
    """Feed below 4.5-7 kg (extension, from memory); never in a flow nor with supers on (NSW DPI Primefact 1343)."""
    assert dearth.judge_feed(FEED._replace(**given), LIMITS.food)[:2] == (verdict, reason)


DROUGHT = event(Kind.DEARTH_ONSET, NOW - 5 * DAY)


@pytest.mark.parametrize(
    ("onset", "since", "hot", "verdict", "reason"),
    [
        (None, 0.0, False, False, DearthReason.NO_DEARTH),
        (DROUGHT, 61.0, False, False, DearthReason.LONG_AGO),
        (DROUGHT, 5.0, False, True, DearthReason.DEARTH),
        (DROUGHT, 5.0, True, True, DearthReason.DEARTH_IN_HEAT),
    ],
)
def test_dearth(onset, since, hot, verdict, reason):
    assert dearth.judge_dearth(onset, days=since, hot=hot, limits=LIMITS.food)[:2] == (verdict, reason)


@pytest.mark.parametrize(
    ("hot", "robbers", "screened", "verdict", "reason"),
    [
        (False, False, False, Entrance.LEAVE, EntranceReason.NOTHING),
        (False, False, True, Entrance.LEAVE, EntranceReason.NOTHING),
        (False, True, False, Entrance.REDUCE, EntranceReason.ROBBERS),
        (False, True, True, Entrance.REDUCE, EntranceReason.ROBBERS),
        (True, False, False, Entrance.VENTILATE, EntranceReason.HEAT),
        (True, False, True, Entrance.VENTILATE, EntranceReason.HEAT),
        (True, True, False, Entrance.VENTILATE, EntranceReason.HEAT_BEFORE_ROBBING),
        (True, True, True, Entrance.REDUCE, EntranceReason.FLOOR_SCREENED),
    ],
)
def test_entrance_in_heat_and_robbing(hot, robbers, screened, verdict, reason):
    """Common practice: in great heat ventilation first; reduce the entrance only over a screened floor."""
    assert heat.judge_entrance(hot=hot, robbers=robbers, screened=screened)[:2] == (verdict, reason)


HEAT = heat.HeatEvidence(hot=True, sensor_ok=True, swarmed=False, others_hot=False, outside=None)


@pytest.mark.parametrize(
    ("given", "verdict", "reason"),
    [
        ({"hot": False}, False, HeatReason.NOT_HOT),
        ({"sensor_ok": False}, False, HeatReason.SENSOR_FAULTY),
        ({"swarmed": True}, False, HeatReason.SWARMING),
        ({"others_hot": True}, True, HeatReason.HEAT_OUTSIDE),
        ({"outside": 35.0}, True, HeatReason.HEAT_OUTSIDE),
        ({"outside": 34.9}, True, HeatReason.HIVE_ALONE),
        ({}, True, HeatReason.HIVE_ALONE),
    ],
)
def test_hot_nest(given, verdict, reason):
    assert heat.judge_heat(HEAT._replace(**given), LIMITS.heat)[:2] == (verdict, reason)


@pytest.mark.parametrize(
    ("given", "verdict", "reason"),
    [
        ({"scale_believed": False}, RobbingVerdict.QUIET, RobbingReason.SCALE_FAULTY),
        ({"taken_by_person": True}, RobbingVerdict.QUIET, RobbingReason.BEEKEEPER_TOOK),
        ({"hours": 5.9}, RobbingVerdict.ACT, RobbingReason.UNDER_WAY),
        ({"hours": 6.1}, RobbingVerdict.WATCH, RobbingReason.MAY_COME_BACK),
        ({"hours": 73.0}, RobbingVerdict.QUIET, RobbingReason.OVER),
    ],
)
def test_robbing(given, verdict, reason):
    evidence = {"hours": 1.0, "scale_believed": True, "taken_by_person": False, "limits": LIMITS.heat} | given
    assert robbing.judge_robbing(**evidence)[:2] == (verdict, reason)


BROOD = brood.BroodEvidence(
    kind=Kind.BROOD_COLD,
    days=1.0,
    sensor_ok=True,
    looked=False,
    warm_again=False,
    winter=False,
    deserted=False,
    broken_by=None,
    just_opened=False,
    others=False,
)
BROODS = [
    ({"sensor_ok": False}, BroodVerdict.QUIET, BroodReason.SENSOR_FAULTY),
    ({"looked": True}, BroodVerdict.QUIET, BroodReason.LOOKED),
    ({"warm_again": True}, BroodVerdict.QUIET, BroodReason.WARM_AGAIN),
    ({"days": 22.0}, BroodVerdict.QUIET, BroodReason.LONG_AGO),
    ({"winter": True}, BroodVerdict.QUIET, BroodReason.WINTER),
    ({"deserted": True, "broken_by": Kind.SWARM}, BroodVerdict.CHECK, BroodReason.DESERTED),
    ({"broken_by": Kind.SWARM}, BroodVerdict.QUIET, BroodReason.SWARMED),
    ({"broken_by": Entry.SWARM_SEEN}, BroodVerdict.EXPLAIN, BroodReason.SWARM_SEEN),
    ({"broken_by": Entry.SPLIT}, BroodVerdict.EXPLAIN, BroodReason.SPLIT),
    ({"broken_by": Entry.REQUEEN}, BroodVerdict.EXPLAIN, BroodReason.NEW_QUEEN),
    ({"broken_by": Entry.COMBINE}, BroodVerdict.EXPLAIN, BroodReason.NEW_QUEEN),
    ({"just_opened": True}, BroodVerdict.QUIET, BroodReason.JUST_OPENED),
    ({"kind": Kind.BROOD_UNSTABLE}, BroodVerdict.CHECK, BroodReason.NO_BROOD_AT_SENSOR),
    ({"kind": Kind.BROOD_UNSTABLE, "others": True}, BroodVerdict.CHECK, BroodReason.NO_BROOD_AT_SENSOR),
    ({"others": True}, BroodVerdict.CHECK, BroodReason.COLD_FOR_ALL),
    ({}, BroodVerdict.CHECK, BroodReason.COLD_ALONE),
]


@pytest.mark.parametrize(("given", "verdict", "reason"), BROODS)
def test_cold_or_unsteady_nest(given, verdict, reason):
    assert brood.judge_brood(BROOD._replace(**given), LIMITS.brood)[:2] == (verdict, reason)


@pytest.mark.parametrize(
    ("quantity", "urgency", "reason"),
    [
        (Quantity.WEIGHT, Urgency.THIS_WEEK, FaultReason.WEIGHT_BLIND),
        (Quantity.BATTERY, Urgency.THIS_WEEK, FaultReason.BATTERY_LOW),
        (Quantity.TEMPERATURE, Urgency.FOR_INFORMATION, FaultReason.BROOD_BLIND),
        (Quantity.HUMIDITY, Urgency.FOR_INFORMATION, FaultReason.MINOR),
        (Quantity.RAIN, Urgency.FOR_INFORMATION, FaultReason.MINOR),
        (None, Urgency.FOR_INFORMATION, FaultReason.MINOR),
    ],
)
def test_faulty_sensor(quantity, urgency, reason):
    """No hive is opened for a sensor: the one between the brood frames waits for the next inspection."""
    assert sensors.judge_fault(quantity)[:2] == (urgency, reason)


@pytest.mark.parametrize(
    ("given", "verdict", "reason"),
    [
        ({"handled": True}, False, OffScaleReason.HANDLED),
        ({"weight": 38.0}, False, OffScaleReason.BACK),
        ({"weight": 0.4}, True, OffScaleReason.GONE),
        ({"days": 8.0}, False, OffScaleReason.LONG_AGO),
        ({}, True, OffScaleReason.GONE),
    ],
)
def test_hive_off_its_scale(given, verdict, reason):
    evidence = {"days": 0.1, "handled": False, "weight": None, "limits": LIMITS.sensors} | given
    assert sensors.judge_off_scale(**evidence)[:2] == (verdict, reason)


@pytest.mark.parametrize(
    ("given", "verdict", "reason"),
    [
        ({"answered": True}, False, StepReason.ANSWERED),
        ({"days": 8.0}, False, StepReason.LONG_AGO),
        ({"size": None}, True, StepReason.SIZE_UNKNOWN),
        ({"size": 2.0}, True, StepReason.FED),
        ({"size": 7.0}, True, StepReason.BOX_ON),
        ({"size": 20.0}, True, StepReason.BIG_ON),
        ({"size": -3.0}, True, StepReason.LITTLE_OFF),
        ({"size": -18.0}, True, StepReason.BOX_OFF),
    ],
)
def test_step_nobody_logged(given, verdict, reason):
    evidence = {"days": 0.1, "size": 2.0, "answered": False, "limits": LIMITS.sensors} | given
    assert sensors.judge_step(**evidence)[:2] == (verdict, reason)


TABLES = {
    SuperReason: {r for _, _, r in SUPERS},
    FlowReason: {r for _, _, r in FLOWS},
    FeedReason: {r for _, _, r in FEEDS},
    BroodReason: {r for _, _, r in BROODS},
    SwarmReason: {r for _, _, r in QUEENS}
    | {SwarmReason.JUST_LEFT, SwarmReason.MAY_HANG, SwarmReason.FOUND, SwarmReason.SEARCH_OVER},
}


@pytest.mark.parametrize("reasons", TABLES)
def test_the_long_tables_leave_no_reason_out(reasons):
    assert set(reasons) == TABLES[reasons]

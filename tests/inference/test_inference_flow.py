"""Flow and dearth: each turn, its date and rate, and every day that says nothing."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from inference_cases import DAWN, RULES, event, look

from hivemon.inference import flow
from hivemon.inference.cause import Cause
from hivemon.inference.changepoints import crossing_day, strongest_run, turning_day
from hivemon.inference.feeding import SHRINKS, USUAL_MEAL_KG, Meal, meals
from hivemon.inference.flow import FlowMemory, Mode
from hivemon.inference.steps import Step, StepMemory
from hivemon.inference.yard_day import YardDay, yard_day
from hivemon.model import DAY, HOUR, Entry, HiveDay, Kind, LogEntry
from hivemon.rules import FlowRule, Rules
from hivemon.signals.weather import Weather

FINE = Weather(flying=True, water=0.0, soaked=False, flying_hours=9.0, rain_mm=0.0)


def yard_days(nets, **more):
    """Days that follow each other from DAWN on; a net of None says nothing. `more` sets the same fact for all."""
    facts = {"flying": True, "hours": 9.0, "soaked": False, **more}
    return [
        YardDay(DAWN + n * DAY, DAWN + (n + 1) * DAY, net, 0 if net is None else 4, 0.05, **facts)
        for n, net in enumerate(nets)
    ]


def judged(days):
    """Judge day after day; return what was told, in order."""
    memory, told = FlowMemory(), {}
    for day in days:
        seen = look(day.end + HOUR, None, events=dict(told))
        memory = flow.judge(seen, memory, day)
        told |= seen.told
    return memory, list(told.values())


CALM = [0.02, -0.03, 0.04, 0.0, 0.03, -0.02]
FLOW = [0.9, 1.2, 1.0, 1.1, 0.8, 1.0]
DEARTH = [-0.2, -0.25, -0.22, -0.18, -0.24, -0.21, -0.2]


@pytest.mark.parametrize(
    ("nets", "kinds", "mode"),
    [
        (CALM * 2, [], Mode.NEITHER),
        (CALM + FLOW, [Kind.FLOW_ONSET], Mode.FLOW),
        (CALM + FLOW + CALM, [Kind.FLOW_ONSET, Kind.FLOW_END], Mode.NEITHER),
        (CALM + DEARTH, [Kind.DEARTH_ONSET], Mode.DEARTH),
        (CALM + DEARTH + CALM + CALM, [Kind.DEARTH_ONSET, Kind.DEARTH_END], Mode.NEITHER),
        (CALM + FLOW + DEARTH, [Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET], Mode.DEARTH),
        ([*CALM, 2.0, *CALM], [], Mode.NEITHER),  # one lucky day is no flow
        ([*CALM, -0.6, *CALM], [], Mode.NEITHER),  # nor one poor day a dearth
        (CALM + [None] * 8 + CALM, [], Mode.NEITHER),
    ],
)
def test_each_turn_is_told_once(nets, kinds, mode):
    """Between flow and dearth is neither; nothing flaps."""
    memory, told = judged(yard_days(nets))
    assert [e.kind for e in told] == kinds
    assert memory.mode is mode


@pytest.mark.parametrize(
    ("nets", "kind", "days"), [(CALM + FLOW, Kind.FLOW_ONSET, 3), (CALM + DEARTH, Kind.DEARTH_ONSET, 4)]
)
def test_an_onset_is_told_within_days_and_dated_to_the_day(nets, kind, days):
    """A plain flow within three days of its beginning, a plain dearth within four; with its rate and uncertainty."""
    _, told = judged(yard_days(nets))
    onset = next(e for e in told if e.kind is kind)
    assert abs(onset.onset - (DAWN + len(CALM) * DAY)) <= DAY
    assert onset.raised - (DAWN + len(CALM) * DAY) <= days * DAY + 2 * HOUR
    assert onset.size == pytest.approx(nets[-2], abs=0.35)
    assert onset.evidence["rate_sd"] > 0


@pytest.mark.parametrize(("doubt", "ended"), [(0.03, True), (0.2, False)])
def test_a_flow_is_not_called_over_by_days_that_may_be_drying_or_drift(doubt, ended):
    """Two poor days in the middle of a flow: where the scales are sure it is over, where they are not it may go on."""
    nets = [*CALM, *FLOW, 0.25, -0.04, -0.12]
    told = [e.kind for e in judged(yard_days(nets, doubt=doubt))[1]]
    assert (Kind.FLOW_END in told) is ended
    _, told = judged(yard_days([*nets, *[0.03] * 5], doubt=doubt))
    assert [e.kind for e in told] == [Kind.FLOW_ONSET, Kind.FLOW_END]
    assert abs(told[1].onset - (DAWN + (len(nets) - 2) * DAY)) <= DAY


def days_until_a_dearth(before, level, **more):
    """Return how many days of a steady loss are seen when it is told."""
    nets = [*before, *[level] * 15]
    for n in range(len(before), len(nets) + 1):
        _, told = judged(yard_days(nets[:n], **more))
        if any(e.kind is Kind.DEARTH_ONSET for e in told):
            return n - len(before)
    return None


def test_a_dearth_is_told_sooner_after_a_flow_and_later_where_rain_is_not_known():
    """What follows a flow is the usual dearth; what no gauge speaks of may be rain."""
    assert days_until_a_dearth(CALM + FLOW, -0.25) <= 3
    slow = days_until_a_dearth(CALM * 2, -0.12)
    assert days_until_a_dearth(CALM + FLOW, -0.12) < slow
    assert days_until_a_dearth(CALM * 2, -0.12, gauged=False) > slow


SAYS_NOTHING = [
    {"flying": False},  # no flying weather
    {"soaked": True},  # rained on
    {"hours": 9.0, "net": None},  # nothing measured
]


@pytest.mark.parametrize("given", SAYS_NOTHING)
def test_days_without_forage_are_no_dearth(given):
    """Rain days are neither flow nor dearth; nor are days on which bees stay at home."""
    given = dict(given)
    nets = [given.pop("net")] * 8 if "net" in given else [-0.3] * 8
    memory, told = judged(yard_days(CALM) + yard_days([0.0] * 6 + nets, **given)[6:])
    assert told == []
    assert memory.mode is Mode.NEITHER


def test_a_poor_flying_day_says_little():
    """Two good hours a day beside nine before: what is eaten then is no dearth."""
    days = yard_days(CALM) + yard_days([0.0] * 6 + DEARTH, hours=2.0)[6:]
    assert judged(days)[1] == []


@pytest.mark.parametrize(("level", "most"), [(0.05, 0), (0.02, 0), (0.0, 2)])
def test_a_level_near_the_rule_makes_hardly_an_event(level, most):
    """Seasons of 60 days in which nothing happens, luck of 80 g from day to day: how many of twenty tell something.

    Where all that comes in is eaten, luck alone brings a week below the rule now and then: by the rule a dearth.
    """
    seasons = [np.random.default_rng(seed).normal(level, 0.08, 60).tolist() for seed in range(20)]
    assert sum(bool(judged(yard_days(nets))[1]) for nets in seasons) <= most


def test_a_long_dearth_does_not_flap():
    """Three months of a slight dearth, 150 g a day lost with luck of 80 g: one onset, and no end but the real one."""
    for seed in range(10):
        luck = np.random.default_rng(seed)
        nets = [*luck.normal(0.05, 0.08, 20), *luck.normal(-0.15, 0.08, 90), *luck.normal(0.1, 0.08, 20)]
        _, told = judged(yard_days([float(net) for net in nets]))
        assert [e.kind for e in told] == [Kind.DEARTH_ONSET, Kind.DEARTH_END], f"seed {seed}"
        assert abs(told[1].onset - (DAWN + 110 * DAY)) <= 4 * DAY


def test_a_slight_loss_is_told_after_the_rules_days():
    """0.12 kg a day beside calm ones: after about as many days as the rule names, and not before."""
    for days in (3, 5, 10):
        rules = Rules(flow=FlowRule(dearth_days=days))
        memory, told = FlowMemory(), []
        for number, day in enumerate(yard_days([*CALM, *[-0.12] * 20]), 1):
            seen = look(day.end + HOUR, None, rules=rules)
            memory = flow.judge(seen, memory, day)
            told += [number - len(CALM)] * len(seen.told)
        assert told == [pytest.approx(days, abs=1 + days // 5)]


def test_rain_between_a_flow_and_plain_loss_belongs_to_the_dearth():
    """Two showery days that lose as much say nothing by themselves; after days of plain loss they were its first."""
    rained = yard_days([*CALM, *FLOW, -0.25, -0.25, *DEARTH])
    rained = [msgspec.structs.replace(d, soaked=n in (12, 13)) for n, d in enumerate(rained)]
    _, told = judged(rained)
    assert [e.kind for e in told] == [Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET]
    assert told[-1].onset == DAWN + 12 * DAY
    assert told[-1].size == pytest.approx(-0.2, abs=0.05)


def test_a_dearth_that_all_its_days_speak_against_is_taken_back():
    """What looked like loss was rain drying, as later days show: no dearth, and so no end of one."""
    days = yard_days([0.12] * 6)
    memory = FlowMemory(days=tuple(days[:-1]), mode=Mode.DEARTH, since=DAWN)
    seen = look(days[-1].end + HOUR, None, events=event(Kind.DEARTH_ONSET, DAWN, hive=None))
    memory = flow.judge(seen, memory, days[-1])
    (onset,) = seen.told.values()
    assert (onset.kind, memory.mode) == (Kind.DEARTH_ONSET, Mode.NEITHER)
    assert onset.withdrawn == seen.now
    assert "no dearth" in onset.withdrawn_because


def test_a_yard_that_is_less_sure_is_believed_later():
    """What scales, visits and meals leave in doubt delays a dearth; it does not prevent it."""
    _, sure = judged(yard_days(CALM + DEARTH * 2))
    _, unsure = judged(yard_days(CALM + DEARTH * 2, doubt=0.12))
    assert [e.kind for e in sure] == [e.kind for e in unsure] == [Kind.DEARTH_ONSET]
    assert unsure[0].raised > sure[0].raised


def test_rain_coming_and_drying_is_no_turn():
    """Half a kilogram of water on the hives every other day."""
    nets = [0.5, -0.5] * 6
    days = [
        YardDay(
            DAWN + n * DAY,
            DAWN + (n + 1) * DAY,
            net,
            4,
            0.05,
            flying=True,
            hours=9.0,
            soaked=False,
            water=0.3 if net > 0 else 0.0,
        )
        for n, net in enumerate(nets)
    ]
    assert judged(days)[1] == []


@pytest.mark.parametrize(("before", "days", "kind"), [(FLOW, 10, Kind.FLOW_END), (DEARTH, 40, Kind.DEARTH_END)])
def test_weeks_without_flight_end_what_stood(before, days, kind):
    """Nothing is known of a flow after ten days without flight, and that is said; a dearth lasts on into winter."""
    began = len(CALM + before)
    still = yard_days(CALM + before) + yard_days([-0.1] * (began + days), flying=False)[began:]
    assert judged(still)[0].mode is not Mode.NEITHER
    memory, told = judged(still + yard_days([-0.1] * (began + days + 1), flying=False)[began + days :])
    assert (told[-1].kind, told[-1].reason) == (kind, "no-flying-weather")
    assert memory.mode is Mode.NEITHER


@given(st.lists(st.one_of(st.none(), st.floats(-0.5, 2.0)), max_size=40))
def test_turns_alternate_whatever_comes(nets):
    """An end follows its onset, and no onset another."""
    standing = None
    for told in judged(yard_days(nets))[1]:
        if told.kind in (Kind.FLOW_ONSET, Kind.DEARTH_ONSET):
            assert standing is None
            standing = told.kind
        else:
            assert standing is (Kind.FLOW_ONSET if told.kind is Kind.FLOW_END else Kind.DEARTH_ONSET)
            standing = None
        assert told.onset <= told.raised
        assert 0 < told.confidence < 1


def hive_day(hive: str, net: float | None, **more) -> HiveDay:
    fields = {"coverage": 1.0, **more}
    return HiveDay(
        yard="y",
        hive=hive,
        date="2024-05-20",
        start=DAWN,
        dusk=DAWN + 17 * HOUR,
        end=DAWN + DAY,
        net_gain=net,
        **fields,
    )


def summed(*days: HiveDay, fed=None, events=None, robbed_on=()) -> YardDay:
    """Sum up a day of hives whose scales can be trusted; `fed` names what each was fed lately."""
    seen = look(DAWN + DAY + HOUR, None, events=events or {})
    return yard_day(seen, days[0], days, fed or {}, len(days), FINE, robbed_on=robbed_on)


def test_a_yard_is_its_median_working_hive():
    """One strong and one weak hive change nothing."""
    day = summed(hive_day("a", 0.5), hive_day("b", 3.0), hive_day("c", 0.1))
    assert (day.net, day.hives) == (0.5, 3)


def test_a_hive_alone_is_less_sure_than_one_of_several_that_agree():
    """Nobody else in the yard says whether its loss is forage or its own."""
    alone, agreeing = summed(hive_day("a", -0.2)), summed(*[hive_day(hive, -0.2) for hive in "abc"])
    assert alone.net == agreeing.net
    assert alone.doubt > 2 * agreeing.doubt


SILENT = {
    "not measured": hive_day("d", None),
    "hardly measured": hive_day("d", 9.0, coverage=0.3),
    "a step not taken out": hive_day("d", -4.0),
    "not sure of itself": hive_day("d", 9.0, uncertainty=0.5),
}


@pytest.mark.parametrize("name", SILENT)
def test_a_hive_that_says_nothing_of_forage_is_left_out(name):
    """A hive that was handled, or not measured well, has no voice that day."""
    assert summed(hive_day("a", 0.5), hive_day("b", 0.6), hive_day("c", 0.4), SILENT[name]).hives == 3


def test_a_meal_that_shrinks_is_no_loss():
    """Syrup loses a third of its weight as water in days; what a fed hive loses beyond that is eaten."""
    meal = Meal(DAWN - 6 * HOUR, 3.0)
    fed = summed(*[hive_day(hive, -0.3) for hive in "abc"], fed={hive: [meal] for hive in "abc"})
    assert -0.05 < fed.net < 0.15
    assert fed.doubt > 2 * summed(*[hive_day(hive, -0.3) for hive in "abc"]).doubt


def test_all_of_a_meals_water_goes_within_eight_days():
    """The parts that single days lose add up to what the mass balance on sugar says."""
    meal = {"a": [Meal(DAWN, 2.0)]}
    ages = [{"start": DAWN + number * DAY, "end": DAWN + (number + 1) * DAY} for number in range(8)]
    lost = [summed(msgspec.structs.replace(hive_day("a", 0.0), **age), fed=meal).net for age in ages]
    assert sum(lost) == pytest.approx(SHRINKS * 2.0, rel=0.05)
    assert lost == sorted(lost, reverse=True)


def test_a_fresh_large_meal_leaves_no_voice():
    """Where more is in doubt than a flow brings, the day says nothing."""
    assert summed(hive_day("a", 0.5), fed={"a": [Meal(DAWN + HOUR, 6.0)]}).net is None


def test_a_gain_that_no_neighbour_shares_says_nothing():
    """Nectar comes to all; a meal that was overlooked comes to one."""
    fed = {hive: [Meal(DAWN - DAY, 2.0)] for hive in "bc"}
    assert summed(hive_day("a", 3.2), hive_day("b", -0.1), hive_day("c", -0.2), fed=fed).net is None


def test_a_handled_hive_speaks_more_softly():
    """A step is never taken out to the gram: calm hives are heard first, handled ones where there are no others."""
    handled = [hive_day(hive, 0.5, handled=5.0) for hive in "abc"]
    assert summed(*handled).net == 0.5
    assert summed(*handled).doubt > 2 * summed(*[hive_day(hive, 0.5) for hive in "abc"]).doubt
    assert summed(handled[0], hive_day("d", -0.2), hive_day("e", -0.2)).net == pytest.approx(-0.2, abs=0.02)


def fed_memory(*gains: Step) -> StepMemory:
    return StepMemory(steps=gains)


def test_a_logged_meal_weighs_what_the_scale_saw():
    """Beekeepers log late and roughly: the step about then tells when and how much; without one, the logbook does."""
    entry = LogEntry(time=DAWN + 9 * HOUR, hive="a", entry=Entry.FEED, amount=2.0)
    step = Step(DAWN + 10 * HOUR, DAWN + 10 * HOUR + 1, 2.6, Cause.LOGGED)
    seen, day = look(DAWN + DAY + HOUR, None, logbook=(entry,)), hive_day("a", 0.0)
    assert meals(seen, fed_memory(step), day) == [Meal(step.after, 2.6)]
    assert meals(seen, fed_memory(), day) == [Meal(entry.time, 2.0)]
    blank = LogEntry(time=entry.time, hive="a", entry=Entry.FEED)
    assert meals(look(DAWN + DAY + HOUR, None, logbook=(blank,)), fed_memory(), day)[0].kg == USUAL_MEAL_KG


NO_MEALS = {
    "a super": Step(DAWN, DAWN + HOUR, 7.0, Cause.UNLOGGED),
    "rain": Step(DAWN, DAWN + HOUR, 0.8, Cause.WEATHER),
    "something taken off": Step(DAWN, DAWN + HOUR, -2.0, Cause.UNLOGGED),
    "long ago": Step(DAWN - 9 * DAY, DAWN - 9 * DAY, 2.0, Cause.UNLOGGED),
    "not yet given": Step(DAWN + DAY, DAWN + DAY + HOUR, 2.0, Cause.UNLOGGED),
}


@pytest.mark.parametrize("name", NO_MEALS)
def test_what_is_no_meal_is_not_reckoned_with(name):
    """Only a meal's weight that somebody put on counts, while it shrinks."""
    seen, day = look(DAWN + 2 * DAY, None), hive_day("a", 0.0)
    assert meals(seen, fed_memory(NO_MEALS[name]), day) == []
    unlogged = Step(DAWN, DAWN + HOUR, 2.0, Cause.UNLOGGED)
    assert meals(seen, fed_memory(unlogged), day) == [Meal(unlogged.after, 2.0)]


def test_a_robbed_hive_is_left_out():
    """Its loss is robbers', not the season's."""
    robbed = event(Kind.ROBBING, DAWN + 8 * HOUR, hive="c")
    assert summed(hive_day("a", 0.5), hive_day("b", 0.6), hive_day("c", -2.0), events=robbed).hives == 2


def test_what_robbers_brought_home_is_no_nectar():
    """Two kilograms taken from one hive lie in the four others, if the robbers were theirs; that is known to half."""
    robbed = event(Kind.ROBBING, DAWN + 8 * HOUR, hive="e")
    day = summed(*[hive_day(hive, 0.25) for hive in "abcd"], hive_day("e", -2.0), events=robbed)
    assert day.net == pytest.approx(-0.25)
    assert day.doubt == pytest.approx(0.25, abs=0.05)


def test_robbing_told_days_ago_is_no_season_either():
    """While it goes on, what is lost and brought home is loot, on its third day as on its first."""
    days = [*(hive_day(hive, 0.05) for hive in "abcd"), hive_day("e", -2.0)]
    told_before = event(Kind.ROBBING, DAWN - 2 * DAY, hive="e")
    goes_on = summed(*days, events=told_before, robbed_on={"e"})
    assert goes_on.net == pytest.approx(-0.45)
    assert goes_on.hives == 4
    assert summed(*days, events=told_before).net == pytest.approx(0.05)


def test_the_daily_rules_are_labelled_as_ours_and_as_issued():
    """No published cut-offs exist; the defaults are 0.3 and 0.1 kg over 3 days, and 0.05 kg lost beyond doubt."""
    rule = RULES.flow
    assert (rule.flow_kg_per_day, rule.flow_end_kg_per_day, rule.flow_days) == (0.3, 0.1, 3)
    assert rule.dearth_kg_per_day == -0.05


def test_a_turn_is_dated_where_a_cumulative_sum_says():
    """Page 1954: the sum of departures from between the levels turns on the first day of the new one."""
    assert turning_day([0.0] * 6 + [1.0] * 3, 0.3, rising=True) == 6
    assert turning_day([1.0] * 6 + [0.0] * 3, 0.1, rising=False) == 6
    assert crossing_day([0.1] * 6 + [-0.2] * 3, -0.05, rising=False) == 6


def test_evidence_is_the_likelihood_ratio_of_two_levels():
    """By hand: three days 0.2 beyond, each 0.1 unsure; levels 0.1 apart: 0.1 x 3 x 0.6 / 0.03 = 6 (normal theory)."""
    run = strongest_run([-0.3, 0.2, 0.2, 0.2], [0.1] * 4, [0.0] * 4, apart=0.1, most=0.5)
    assert (run.evidence, run.first) == (pytest.approx(6.0), 1)


def test_water_between_the_ends_of_a_run_cancels():
    """What lay on the hives in the middle of a run has come and gone; at its ends it leaves doubt."""
    days, own = [0.2, 0.2, 0.2], [0.1] * 3
    middle = strongest_run(days, own, [0.0, 0.5, 0.0], apart=0.1, most=0.5)
    assert middle.evidence == pytest.approx(6.0)
    assert strongest_run(days, own, [0.0, 0.0, 0.5], apart=0.1, most=0.5).evidence < 1


def test_one_wild_day_counts_for_no_more_than_its_share():
    """A step overlooked, a swarm, a scale that jumped: whatever it was, one day is not a season."""
    tame, wild = (strongest_run([day], [0.1], [0.0], apart=0.1, most=0.25).evidence for day in (0.25, 2.0))
    assert tame == wild


def test_a_flow_that_fades_ends_where_it_falls_below_the_rule():
    """Two kilograms a day, then a half for days: by half-way between the levels it would be over a week too early."""
    assert turning_day([2.0] * 5 + [0.5] * 6 + [0.0] * 3, 0.1, rising=False) == 11


def test_an_end_that_no_flight_showed_lies_half_way():
    """Six days of cold between a flow and a yard without gain: it ended then, and nobody knows on which day."""
    before = len(CALM + FLOW)
    cold = yard_days([-0.2] * (before + 6), flying=False)[before:]
    after = yard_days([0.0] * (before + 10))[before + 6 :]
    _, told = judged([*yard_days(CALM + FLOW), *cold, *after])
    ended = next(e for e in told if e.kind is Kind.FLOW_END)
    assert ended.onset == DAWN + (before + 3) * DAY


def test_more_than_bees_carry_home_is_no_gain():
    """Over 9 kg a day is exceptional (Crane 1990, from memory): twenty on every scale were laid there."""
    assert summed(*(hive_day(hive, 20.0) for hive in "abcd")).net is None
    assert summed(*(hive_day(hive, 8.0) for hive in "abcd")).net == 8.0

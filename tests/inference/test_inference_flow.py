"""Flow and dearth: each turn, its date and rate, and every day that says nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from inference_cases import DAWN, RULES, event, look

from hivemon.inference import flow
from hivemon.inference.changepoints import levels, turning_day
from hivemon.inference.flow import FlowMemory, Mode, YardDay, yard_day
from hivemon.model import DAY, HOUR, HiveDay, Kind
from hivemon.signals.weather import Weather

FINE = Weather(flying=True, wet=False, soaked=False, flying_hours=9.0, warmest=22.0, rain_mm=0.0)


def yard_days(nets, **more):
    """Days that follow each other from DAWN on; a net of None says nothing. `more` sets the same fact for all."""
    facts = {"flying": True, "hours": 9.0, "wet": False, "soaked": False, **more}
    return [
        YardDay(DAWN + n * DAY, DAWN + (n + 1) * DAY, net, 0 if net is None else 4, 0.05, **facts)
        for n, net in enumerate(nets)
    ]


def judged(days):
    """Judge day after day; return what was told, in order."""
    memory, told = FlowMemory(), []
    for day in days:
        seen = look(day.end + HOUR, None)
        memory = flow.judge(seen, memory, day)
        told += seen.told.values()
    return memory, told


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


def test_rain_coming_and_drying_is_no_turn():
    """Half a kilogram of water on the hives every other day."""
    nets = [0.5, -0.5] * 6
    days = [
        YardDay(DAWN + n * DAY, DAWN + (n + 1) * DAY, net, 4, 0.05, flying=True, hours=9.0, wet=net > 0, soaked=False)
        for n, net in enumerate(nets)
    ]
    assert judged(days)[1] == []


def test_weeks_without_flight_end_what_stood():
    """Nothing is known of forage after ten days without flying weather, and that is said."""
    days = yard_days(CALM + FLOW) + yard_days([0.0] * 24, flying=False)[12:]
    memory, told = judged(days)
    assert (told[-1].kind, told[-1].reason) == (Kind.FLOW_END, "no-flying-weather")
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


def summed(*days: HiveDay, fed=(), events=None) -> YardDay:
    """Sum up a day of hives whose scales can be trusted."""
    return yard_day(look(DAWN + DAY + HOUR, None, events=events or {}), days[0], days, set(fed), len(days), FINE)


def test_a_yard_is_its_median_working_hive():
    """One strong and one weak hive change nothing."""
    day = summed(hive_day("a", 0.5), hive_day("b", 3.0), hive_day("c", 0.1))
    assert (day.net, day.hives) == (0.5, 3)


SILENT = {
    "not measured": hive_day("d", None),
    "hardly measured": hive_day("d", 9.0, coverage=0.3),
    "handled": hive_day("d", 9.0, handled=4.0),
}


@pytest.mark.parametrize("name", SILENT)
def test_a_hive_that_says_nothing_of_forage_is_left_out(name):
    """A hive that was handled, or not measured well, has no voice that day."""
    assert summed(hive_day("a", 0.5), hive_day("b", 0.6), hive_day("c", 0.4), SILENT[name]).hives == 3


def test_fed_hives_speak_for_a_flow_and_for_nothing_else():
    """Syrup only grows lighter: what fed hives gain beyond doubt is nectar, what they lose says nothing."""
    gaining = [hive_day(hive, 0.9) for hive in "abc"]
    losing = [hive_day(hive, -0.3) for hive in "abc"]
    assert summed(*gaining, fed="abc").net == 0.9
    assert summed(*losing, fed="abc").net is None


def test_a_gain_that_no_neighbour_shares_says_nothing():
    """Nectar comes to all; a meal that was overlooked comes to one."""
    assert summed(hive_day("a", 3.2), hive_day("b", -0.1), hive_day("c", -0.2), fed="bc").net is None


def test_a_robbed_hive_is_left_out():
    """Its loss is robbers', not the season's."""
    robbed = event(Kind.ROBBING, DAWN + 8 * HOUR, hive="c")
    assert summed(hive_day("a", 0.5), hive_day("b", 0.6), hive_day("c", -2.0), events=robbed).hives == 2


def test_a_day_on_which_nearly_all_were_handled_says_nothing():
    """A round of visits leaves too few calm hives to speak for the yard."""
    handled = [hive_day(hive, 0.5, handled=5.0) for hive in "abc"]
    assert summed(*handled, hive_day("d", 0.5)).net is None


def test_the_daily_rules_are_labelled_as_ours_and_as_issued():
    """No published cut-offs exist; the defaults are 0.3 and 0.1 kg over 3 days, and 0.05 kg lost over 5."""
    rule = RULES.flow
    assert (rule.flow_kg_per_day, rule.flow_end_kg_per_day, rule.flow_days) == (0.3, 0.1, 3)
    assert (rule.dearth_kg_per_day, rule.dearth_days) == (-0.05, 5)


def test_a_turn_is_dated_where_a_cumulative_sum_says():
    """Page 1954: the sum of departures from between the levels turns on the first day of the new one."""
    assert turning_day([0.0] * 6 + [1.0] * 3, 0.3, rising=True) == 6
    assert turning_day([1.0] * 6 + [0.0] * 3, 0.1, rising=False) == 6
    assert turning_day([0.1] * 6 + [-0.2] * 3, -0.05, rising=False, at_limit=True) == 6


def test_levels_of_a_series_are_found():
    """Two plain levels, and none where there is but one."""
    assert levels([0.0] * 8 + [1.5] * 8) == [0, 8]
    assert levels([0.1] * 12) == [0]

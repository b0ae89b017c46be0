"""Robbing: every reason against it, the published payloads behind its limits, and whole days beside the neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from inference_cases import DAWN, RULES, event, look, series

from hivemon.inference import robbing
from hivemon.inference.robbing import Known, Loss, RobbingMemory, judge, restless_at_night, why_not, why_not_now
from hivemon.inference.robbing_day import DayLoss, close_day, take_back, why_not_that_day
from hivemon.model import DAY, EMPTY, HOUR, HiveDay, Kind, Quantity, Series, Stream

CALM = RobbingMemory()
AFTERNOON = DAWN + 11 * HOUR
ROBBED = Loss(rate=0.3, today=2.0, usual=0.2, others=0.1)


def test_the_limits_lie_within_published_payloads():
    """20 mg (Meikle et al. 2018) to 40 mg a trip, 1,000 to 10,000 trips an hour: 0.02 to 0.4 kg an hour; DERIVED."""
    slowest, fastest = 1_000 * 20e-6, 10_000 * 40e-6
    assert slowest < RULES.robbing.least_kg_per_hour < fastest
    assert fastest < RULES.robbing.most_kg_per_hour <= 3 * fastest


NOT_NOW = {
    "flow-is-on": (AFTERNOON, Known(flow=True)),
    "wrong-hour": (DAWN + 5 * HOUR, Known()),
    "handled-lately": (AFTERNOON, Known(last_step=AFTERNOON - HOUR)),
}


@pytest.mark.parametrize("reason", NOT_NOW)
def test_each_reason_not_to_ask_now(reason):
    """In a flow nobody robs; in the morning foragers leave; after a visit the weight says nothing."""
    now, known = NOT_NOW[reason]
    assert why_not_now(look(now), known) == reason
    assert why_not_now(look(AFTERNOON), Known()) is None


NO_ROBBING = {
    "too-fast-for-robbers": ROBBED._replace(rate=3.0),
    "nothing-to-compare-with": ROBBED._replace(usual=None),
    "could-be-foragers-or-drying": ROBBED._replace(others=1.2),
    "could-be-foragers-or-drying ": ROBBED._replace(today=1.3, fed=True),
    "could-be-foragers-or-drying  ": ROBBED._replace(today=1.3, ripening=0.5),
    "could-be-foragers-or-drying   ": ROBBED._replace(today=1.3, noise=0.2),
    "rain-drying-alone": ROBBED._replace(others=None),
}


@pytest.mark.parametrize("reason", NO_ROBBING)
def test_each_reason_against_robbing(reason):
    """One fact changed in a plain robbing makes it none, and says why."""
    rain = {Stream(None, Quantity.RAIN): series(AFTERNOON - 3 * HOUR, [4.0], 60)}
    assert why_not(look(AFTERNOON, streams=rain), NO_ROBBING[reason]) == reason.strip()
    assert why_not(look(AFTERNOON, streams=rain), ROBBED) is None


def test_a_hive_that_fights_heat_is_not_robbed():
    """It evaporates water; a smaller entrance would be the last thing it needs."""
    hot = event(Kind.BROOD_HOT, AFTERNOON - 5 * HOUR)
    assert why_not(look(AFTERNOON, events=hot), ROBBED) == "cooling-its-nest"
    today = a_day("a", 5, -0.9)
    seen = look(today.end + HOUR, days=history(), events=event(Kind.BROOD_HOT, today.start + 9 * HOUR))
    close_day(seen, CALM, today, [a_day(hive, 5, -0.1) for hive in "bc"], wet=False, fed=False)
    assert not seen.told


def test_nobody_robs_where_nobody_flies():
    """Snow that melts off one lid weighs kilograms; a thermometer at 9 °C all day says that it was not bees."""
    times = np.arange(DAWN, AFTERNOON, HOUR)
    cold, mild = (
        {Stream(None, Quantity.OUTSIDE_TEMPERATURE): Series(times, np.full(len(times), celsius))}
        for celsius in (9.0, 15.0)
    )
    assert why_not(look(AFTERNOON, streams=cold), ROBBED) == "too-cold-to-fly"
    assert why_not(look(AFTERNOON, streams=mild), ROBBED) is None


def weight(now: int, *, lost: float, dip: float = 0.15) -> np.ndarray:
    """Three ordinary days and a last one on which `lost` kg go from mid-morning on; five-minute readings up to now."""
    time = np.arange(DAWN - 3 * DAY - HOUR, now, HOUR // 12)
    hour = ((time - DAWN) % DAY) / HOUR
    out = dip * np.clip(np.minimum(hour - 2, 16 - hour), 0, 1)
    gone = lost * np.clip((time - DAWN - 5 * HOUR) / (8 * HOUR), 0, 1)
    return 40 - out - gone + np.random.default_rng(1).normal(0, 0.02, len(time))


def yard(now: int, lost: float, others_lost: float = 0.0):
    start = DAWN - 3 * DAY - HOUR
    streams = {Stream("a", Quantity.WEIGHT): series(start, weight(now, lost=lost))}
    for hive in "bcd":
        streams[Stream(hive, Quantity.WEIGHT)] = series(start, weight(now, lost=others_lost))
    return streams


def test_a_hive_that_loses_alone_for_hours_is_told():
    """Two kilograms in eight hours while the others stay."""
    now = DAWN + 11 * HOUR
    seen = look(now, streams=yard(now, 2.0))
    memory = judge(seen, RobbingMemory(), Known())
    assert [e.kind for e in seen.told.values()] == [Kind.ROBBING]
    told = seen.told[memory.event]
    assert told.size == pytest.approx(0.25, abs=0.05)
    assert DAWN + 3 * HOUR < told.onset < DAWN + 7 * HOUR


def test_robbers_that_come_after_a_visit_are_told_the_same_day():
    """An opened hive in a dearth draws them (common practice): what went before it was closed is not counted."""
    now, visit = DAWN + 11 * HOUR, DAWN + 4 * HOUR
    streams = yard(now, 2.0)
    time, value = streams[Stream("a", Quantity.WEIGHT)]
    streams[Stream("a", Quantity.WEIGHT)] = Series(time, value + 5.0 * (time >= visit))
    seen = look(now, streams=streams)
    memory = judge(seen, RobbingMemory(), Known(last_step=visit))
    assert 1.2 < seen.told[memory.event].evidence["today"] < 2.2


@pytest.mark.parametrize(("lost", "others"), [(0.0, 0.0), (2.0, 2.0), (0.3, 0.0)])
def test_what_all_lose_or_what_is_little_is_not_told(lost, others):
    """A drying yard, an ordinary day, a few hundred grams."""
    now = DAWN + 11 * HOUR
    seen = look(now, streams=yard(now, lost, others))
    judge(seen, RobbingMemory(), Known())
    assert not seen.told


def a_day(hive: str, number: int, gain: float, **more) -> HiveDay:
    start = DAWN + number * DAY
    fields = {"foraging_gain": gain, "overnight_change": -0.05, "net_gain": gain - 0.05, **more}
    return HiveDay(
        yard="y",
        hive=hive,
        date=f"2024-05-{20 + number}",
        start=start,
        dusk=start + 17 * HOUR,
        end=start + DAY,
        **fields,
    )


def history(days: int = 5):
    """Hive a usually gains a little less than its neighbours."""
    return {
        hive: [a_day(hive, number, -0.1 - 0.05 * (hive == "a") + 0.02 * (number % 2)) for number in range(days)]
        for hive in "abc"
    }


def reckon(gain: float, *, memory: RobbingMemory = CALM, days: int = 5, wet: bool = False, fed: bool = False, **more):
    today = a_day("a", 5, gain, **more)
    seen = look(today.end + HOUR, days=history(days), events=more.get("events", {}))
    others = [a_day(hive, 5, -0.1) for hive in "bc"]
    return close_day(seen, memory, today, others, wet=wet, fed=fed), list(seen.told.values())


ROBBED_DAY = DayLoss(
    gain=-0.9,
    others=-0.1,
    lost=0.8,
    spread=0.1,
    days=5,
    alike=True,
    steady=0.7,
    overnight=-0.1,
    hours=17.0,
    hot=False,
    cold=False,
    restless=False,
)
NO_ROBBING_THAT_DAY = {
    "drying-or-fed": ROBBED_DAY,  # excused
    "nothing-to-compare-with": ROBBED_DAY._replace(days=2),
    "hardly-lost": ROBBED_DAY._replace(gain=-0.2),
    "as-usual-beside-neighbours": ROBBED_DAY._replace(spread=0.3),
    "neighbours-lost-too": ROBBED_DAY._replace(alike=False, others=-0.3),
    "within-an-hour": ROBBED_DAY._replace(steady=0.2),
    "cooling-its-nest": ROBBED_DAY._replace(hot=True),
    "too-cold-to-fly": ROBBED_DAY._replace(cold=True),
    "scale-restless-at-night": ROBBED_DAY._replace(restless=True),
    "lost-at-night-too": ROBBED_DAY._replace(overnight=-0.5),
    "too-much-for-robbers": ROBBED_DAY._replace(lost=30.0, steady=25.0),
}


@pytest.mark.parametrize("reason", NO_ROBBING_THAT_DAY)
def test_each_reason_against_a_day_of_robbing(reason):
    """One fact changed in a plain day of robbing makes it none, and says why."""
    excused = 0.5 if reason == "drying-or-fed" else 0.0
    assert why_not_that_day(RULES.robbing, NO_ROBBING_THAT_DAY[reason], excused) == reason
    assert why_not_that_day(RULES.robbing, ROBBED_DAY, 0.0) is None


def test_a_strong_hive_is_compared_with_days_like_today():
    """In a flow it gained far more than its neighbours; on the first day without, a little less is left: no robbery."""
    flow = {hive: [a_day(hive, number, 1.8 if hive == "a" else 0.9) for number in range(5)] for hive in "abc"}
    today = a_day("a", 5, -0.5)
    seen = look(today.end + HOUR, days=flow)
    close_day(seen, CALM, today, [a_day(hive, 5, -0.2) for hive in "bc"], wet=False, fed=False)
    assert not seen.told


def test_a_jump_of_the_scale_is_no_robbery():
    """The same loss within a minute, where robbers take hours."""
    today = a_day("a", 5, -0.9)
    jump = series(today.start, np.where(np.arange(17 * 12) < 100, 40.0, 39.1))
    slow = series(today.start, np.linspace(40.0, 39.1, 17 * 12))
    for weight_, told in ((jump, 0), (slow, 1)):
        seen = look(today.end + HOUR, days=history(), streams={Stream("a", Quantity.WEIGHT): weight_})
        close_day(seen, CALM, today, [a_day(hive, 5, -0.1) for hive in "bc"], wet=False, fed=False)
        assert len(seen.told) == told


def test_a_day_of_loss_beside_calm_neighbours_is_told():
    """Half a kilogram and more that only this hive lost, where it usually keeps up."""
    _, told = reckon(-0.9)
    assert [(e.kind, e.reason) for e in told] == [(Kind.ROBBING, "loses-alone-all-day")]


@pytest.mark.parametrize(
    "given",
    [
        {"gain": -0.4},  # little
        {"gain": -0.9, "wet": True},  # drying
        {"gain": -0.9, "fed": True},  # a meal
        {"gain": -0.9, "days": 2},  # nothing to compare with
        {"gain": -0.9, "handled": 3.0},  # a visit
        {"gain": -30.0},  # more than robbers carry
    ],
)
def test_other_days_are_not_told(given):
    """Each of these explains a day's loss, or makes it no measure."""
    assert reckon(**given)[1] == []


def test_bees_that_came_home_after_all_take_it_back():
    """Told in the afternoon, back by dusk: foragers."""
    told = event(Kind.ROBBING, DAWN + 5 * DAY + 9 * HOUR)
    id_ = next(iter(told))
    today = a_day("a", 5, 0.1)
    seen = look(today.end + HOUR, events=told, days=history())
    memory = close_day(seen, RobbingMemory(event=id_, lost=1.0), today, [], wet=False, fed=False)
    assert seen.told[id_].withdrawn == today.end + HOUR
    assert memory == RobbingMemory()


@pytest.mark.parametrize(
    ("weight_", "words"),
    [
        (np.where(np.arange(17 * 12) < 100, 40.0, 39.1), "within an hour"),
        (np.linspace(40.0, 39.5, 17 * 12), "than it usually does"),
    ],
)
def test_what_the_whole_day_shows_otherwise_is_taken_back(weight_, words):
    """Told while the day ran: at its end it was one jump, or no more than on other days."""
    told = event(Kind.ROBBING, DAWN + 5 * DAY + 9 * HOUR)
    id_ = next(iter(told))
    today = a_day("a", 5, weight_[-1] - 40.0)
    streams = {Stream("a", Quantity.WEIGHT): series(today.start, weight_)}
    seen = look(today.end + HOUR, events=told, days=history(), streams=streams)
    others = [a_day(hive, 5, -0.1) for hive in "bc"]
    memory = close_day(seen, RobbingMemory(event=id_, lost=0.3), today, others, wet=False, fed=False)
    assert words in (seen.told[id_].withdrawn_because or "")
    assert memory == RobbingMemory()


def test_nectar_that_ripens_is_no_loot():
    """Whoever gathered most dries most on the day after: nine kilograms of nectar may well lose two more."""
    days = {hive: [a_day(hive, number, -0.1) for number in range(4)] for hive in "abc"}
    for number in (4, 5, 6):
        days["a"].append(a_day("a", number, 3.0))
        days["b"].append(a_day("b", number, 2.0))
        days["c"].append(a_day("c", number, 2.0))
    today = a_day("a", 7, -1.6)
    seen = look(today.end + HOUR, days=days)
    close_day(seen, CALM, today, [a_day(hive, 7, -0.4) for hive in "bc"], wet=False, fed=False)
    assert not seen.told
    days["a"][4:] = [a_day("a", number, 0.3) for number in (4, 5, 6)]
    close_day(seen, CALM, today, [a_day(hive, 7, -0.4) for hive in "bc"], wet=False, fed=False)
    assert seen.told


def test_what_is_lost_at_night_too_was_no_robbery():
    """A scale that creeps, a feeder that drips: robbers sleep."""
    told = event(Kind.ROBBING, DAWN + 5 * DAY + 9 * HOUR)
    id_ = next(iter(told))
    today = a_day("a", 5, -3.0, overnight_change=-2.5)
    seen = look(today.end + HOUR, events=told, days=history())
    memory = close_day(seen, RobbingMemory(event=id_, lost=2.0), today, [], wet=False, fed=False)
    assert "night" in (seen.told[id_].withdrawn_because or "")
    assert memory == RobbingMemory()


@pytest.mark.parametrize(("own", "others", "restless"), [(-3.0, -0.1, True), (2.5, -0.1, True), (-1.5, -1.2, False)])
def test_a_scale_that_went_alone_in_the_night_shows_no_robbing_by_day(own, others, restless):
    """Nobody robs or gathers at night; what dries off all lids is weather."""
    days = history()
    for hive in "abc":
        days[hive][-1] = a_day(hive, 4, -0.1, overnight_change=own if hive == "a" else others)
    dawn = DAWN + 5 * DAY
    assert restless_at_night(look(dawn + 12 * HOUR, days=days), "a", dawn) is restless
    assert not restless_at_night(look(dawn + 12 * HOUR, days=days), "a", dawn + DAY)  # that night is not known yet


@pytest.mark.parametrize(("days_ago", "taken"), [(0, True), (2, False)])
def test_a_scale_that_wanders_by_itself_has_shown_no_robbing(days_ago, taken):
    """What was told that day is taken back; what stood before it stays."""
    today = a_day("a", 5, -3.0)
    told = event(Kind.ROBBING, today.start + 9 * HOUR - days_ago * DAY)
    id_ = next(iter(told))
    seen = look(today.end + HOUR, events=told, days=history())
    memory = take_back(seen, RobbingMemory(event=id_, lost=2.0), today)
    assert (id_ in seen.told) is taken
    assert (memory == RobbingMemory()) is taken


def test_a_hive_in_somebodys_hands_is_not_robbed():
    """A box set down beside it and lifted back on within the hour."""
    weight = np.where((np.arange(37) > 24) & (np.arange(37) < 31), 30.0, 44.0)
    lifted = {Stream("a", Quantity.WEIGHT): series(AFTERNOON - 3 * HOUR, weight, 5)}
    assert why_not(look(AFTERNOON, streams=lifted), ROBBED) == "handled-lately"
    assert why_not(look(AFTERNOON), ROBBED) is None


def test_after_a_change_of_hives_the_days_before_are_no_measure():
    """The colony that stands there now need not keep up with the neighbours as the one before did."""
    days = history(8)
    days["a"][6] = a_day("a", 6, -0.1, handled=4.1)
    today = a_day("a", 8, -0.65)
    seen = look(today.end + HOUR, days=days)
    close_day(seen, CALM, today, [a_day(hive, 8, -0.2) for hive in "bc"], wet=False, fed=False)
    assert not seen.told


def test_robbing_that_goes_on_is_one_event():
    """The next day's loss is the same story."""
    told = event(Kind.ROBBING, DAWN + 4 * DAY + 9 * HOUR)
    id_ = next(iter(told))
    today = a_day("a", 5, -0.9)
    seen = look(today.end + HOUR, events=told, days=history())
    memory = close_day(seen, RobbingMemory(event=id_, lost=1.0), today, [a_day("b", 5, -0.1)], wet=False, fed=False)
    assert not seen.told
    assert memory.event == id_


def test_the_gate_needs_two_hours_of_loss():
    """A flat weight never asks; a loss at the rule's rate does, after noon by the sun, wherever that is."""
    losing = 40 - 0.2 / 12 * np.arange(60)
    assert not len(robbing.gate(series(DAWN + 9 * HOUR, [40.0] * 60), 0, RULES, 0.0))
    assert len(robbing.gate(series(DAWN + 9 * HOUR, losing), 0, RULES, 0.0))
    assert not len(robbing.gate(series(DAWN, losing), 0, RULES, 0.0))
    assert len(robbing.gate(series(DAWN, losing), 0, RULES, 9 * 15.0))
    assert not len(robbing.gate(EMPTY, 0, RULES, 0.0))

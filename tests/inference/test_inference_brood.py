"""The nest: heat, cold, looseness, recovery, and every reason why nothing is said."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from inference_cases import DAWN, NOON, RULES, event, hours, look

from hivemon.inference import brood
from hivemon.inference.brood import BroodMemory, expected, judge_day, judge_hour
from hivemon.model import DAY, HOUR, Entry, HiveDay, Kind, LogEntry, Quantity, Stream

SETTLED = BroodMemory(steady_days=10, usual=34.8)
NEST = Stream("a", Quantity.TEMPERATURE)
OCTOBER = round(datetime(2024, 10, 10, 12, tzinfo=UTC).timestamp() * 1000)


def day(start: int) -> HiveDay:
    return HiveDay(yard="y", hive="a", date="2024-05-20", start=start, dusk=start + 17 * HOUR, end=start + DAY)


def after_hours(*celsius: float, memory: BroodMemory = SETTLED, logbook=(), now: int = NOON):
    """Judge at `now` after a good day and then these hourly means."""
    values = [34.8] * 30 + list(celsius)
    streams = {NEST: hours(now - len(values) * HOUR, values)}
    seen = look(now, streams=streams, logbook=logbook)
    return judge_hour(seen, memory), list(seen.told.values())


def after_days(*swings: float, memory: BroodMemory = SETTLED, mean: float = 34.5, events=None, start: int = DAWN):
    """Judge day after day with these swings; return the memory and everything told."""
    told = []
    for number, swing in enumerate(swings):
        begin = start + number * DAY
        wave = mean + swing / 2 * np.sin(np.arange(24) / 24 * 2 * np.pi) / np.sin(8 / 24 * 2 * np.pi)
        seen = look(begin + 25 * HOUR, streams={NEST: hours(begin, wave)}, events=events or {})
        memory = judge_day(seen, memory, day(begin))
        told += seen.told.values()
    return memory, told


def test_the_limits_are_the_published_nest_range():
    """Brood is held at 32-36 °C (Becher & Moritz 2009); it suffers below 32 and above 37-38 °C (Himmer 1932)."""
    assert RULES.brood.cold_celsius == 32.0
    assert 36.0 < RULES.brood.hot_celsius <= 38.0
    low, high = brood.STEADY_BAND
    assert 32.0 <= low < high <= 36.0 + 2 * brood.PROBE_ERROR


@pytest.mark.parametrize(
    ("celsius", "kind"),
    [
        ((39.0, 39.5, 40.0), Kind.BROOD_HOT),
        ((38.0, 38.5, 39.0, 39.0), Kind.BROOD_HOT),
        ((29.0, 28.5, 28.0, 27.5), Kind.BROOD_COLD),
        ((39.5,), None),  # duration matters more than a single reading
        ((37.2, 37.3, 37.3), None),  # within a probe's error
        ((31.5, 31.5, 31.5, 31.5), None),  # hardly below
        ((29.0, 28.0), None),
        ((), None),
    ],
)
def test_heat_and_cold_are_said_when_they_last(celsius, kind):
    """Hours beyond the limits are said, minutes and tenths are not."""
    _, told = after_hours(*celsius)
    assert [e.kind for e in told] == ([kind] if kind else [])


def test_a_nest_that_never_was_steady_says_nothing():
    """A sensor outside the brood follows the weather, and is no alarm."""
    assert after_hours(20.0, 19.0, 18.0, 17.0, memory=BroodMemory())[1] == []
    assert after_days(9.0, 9.0, 9.0, memory=BroodMemory())[1] == []


@pytest.mark.parametrize(("usual", "said"), [(34.5, True), (34.0, True), (32.8, False)])
def test_cold_is_judged_by_what_the_place_has_shown(usual, said):
    """Nights of 30.9 °C are a chill in the heart of the brood, and usual at its edge."""
    told = after_hours(30.9, *[30.9] * 11, memory=BroodMemory(steady_days=10, usual=usual))[1]
    assert bool(told) is said


def test_a_sensor_that_jumps_is_not_heat():
    """Ten degrees between two hours are a wire and no weather."""
    assert after_hours(52.0, 52.0, 52.0)[1] == []


def test_an_opened_hive_may_be_cool_for_a_while():
    """The logbook explains a few cool hours."""
    entry = LogEntry(time=NOON - 4 * HOUR, hive="a", entry=Entry.INSPECT)
    assert after_hours(29.0, 28.5, 28.0, 27.5, logbook=[entry])[1] == []


def test_a_standing_trouble_is_not_said_again():
    """One condition, one event."""
    memory, told = after_hours(39.0, 39.5, 40.0)
    assert len(told) == 1
    assert after_hours(39.0, 39.5, 40.0, memory=memory)[1] == []


def test_a_nest_gone_loose_is_said_after_two_days():
    """A swing of several degrees on two days, in a nest that was steady."""
    _, told = after_days(0.5, 4.0, 5.0, 6.0)
    assert [e.kind for e in told] == [Kind.BROOD_UNSTABLE]
    assert told[0].reason == "swing-without-reason"
    assert told[0].onset == DAWN + DAY


def test_one_loose_day_is_none():
    """A cold night with a lid off is no lost queen."""
    assert after_days(0.5, 4.0, 0.5, 4.0, 0.5)[1] == []


def test_a_day_steady_again_is_a_recovery():
    """Told once, with the end of the trouble."""
    memory, told = after_days(5.0, 5.0, 5.0, 0.5, 0.5)
    assert [e.kind for e in told] == [Kind.BROOD_UNSTABLE, Kind.BROOD_RECOVERED]
    assert memory.event == ""


EXPECTED = {
    "after-swarm": {"events": event(Kind.SWARM, NOON - 18 * DAY, size=2.4)},
    "after-split-or-new-queen": {"logbook": [LogEntry(time=NOON - 20 * DAY, hive="a", entry=Entry.SPLIT)]},
    "after-unlogged-loss": {"events": event(Kind.UNLOGGED_STEP, NOON - 20 * DAY, size=-3.0)},
    "autumn": {"now": OCTOBER},
}


@pytest.mark.parametrize("reason", EXPECTED)
def test_each_break_that_is_to_be_expected(reason):
    """After a swarm, a split, a new queen, a loss that may have been either, and in autumn."""
    given = dict(EXPECTED[reason])
    now = given.pop("now", NOON)
    assert expected(look(now, **given), now) == reason


def test_a_nest_that_goes_cold_after_an_afterswarm_is_no_news():
    """The old queen left two weeks before, and her last brood is hatching."""
    values = [34.8] * 17 + [17.0] * 13
    swarms = event(Kind.SWARM, NOON - 14 * DAY, size=3.5) | event(Kind.SWARM, NOON - DAY, size=1.1)
    seen = look(NOON, streams={NEST: hours(NOON - 30 * HOUR, values)}, events=swarms)
    judge_hour(seen, SETTLED)
    assert not seen.told


NOT_EXPECTED = [
    {"events": event(Kind.SWARM, NOON - 31 * DAY, size=2.4)},
    {"events": event(Kind.SWARM, NOON - 18 * DAY, hive="b", size=2.4)},
    {"events": event(Kind.UNLOGGED_STEP, NOON - 20 * DAY, size=-25.0)},
    {"events": event(Kind.UNLOGGED_STEP, NOON - 20 * DAY, size=3.0)},
    {"logbook": [LogEntry(time=NOON - 20 * DAY, hive="a", entry=Entry.INSPECT)]},
    {},
]


@pytest.mark.parametrize(
    ("celsius", "days_ago", "told"),
    [
        (17.0, 1, True),  # all of them are gone
        (28.0, 1, False),  # a small rest has drawn away from the sensor
        (17.0, 5, False),  # an empty box would have cooled at once
        (17.0, 20, False),  # the brood has hatched, and the young queen has not laid yet
    ],
)
def test_a_nest_as_cold_as_the_day_after_its_bees_left_is_deserted(celsius, days_ago, told):
    """What a swarm leaves behind has brood to warm for nine days and more (egg to capping: Winston 1987)."""
    values = [34.8] * 17 + [celsius] * 13
    swarmed = event(Kind.SWARM, NOON - days_ago * DAY, size=3.5)
    seen = look(NOON, streams={NEST: hours(NOON - 30 * HOUR, values)}, events=swarmed)
    judge_hour(seen, SETTLED)
    assert [e.reason for e in seen.told.values()] == ["colder-than-any-rest-of-bees"] * told


@pytest.mark.parametrize("given", NOT_EXPECTED)
def test_nothing_else_excuses_a_break(given):
    """Another hive's swarm, a harvest, a feed, an inspection, a swarm long ago."""
    assert expected(look(**given), NOON) is None


def test_the_break_lasts_as_long_as_a_queen_takes():
    """Queen 16 days, worker 21, drone 24 (Morse, Cornell fact sheet); she mates from 5 days on, lays 2 to 4 later.

    A prime swarm leaves at about day 8 of the first cell, so new eggs come on day 16 to 25 after it (DERIVED): no warm
    brood by then and a few days is a queen lost, and before then it is no alarm.
    """
    queen, worker, drone = 16, 21, 24
    first_eggs = queen - 8 + 5 + 2
    last_eggs = queen - 8 + 10 + 4 + 3
    assert first_eggs < worker < drone <= last_eggs < brood.BREAK_DAYS <= 30


def test_a_break_that_does_not_end_is_said_when_it_should_have():
    """Loose from day 14 after a swarm: excused until day 30, then a lost queen, dated when the excuse ended."""
    swarmed = event(Kind.SWARM, DAWN - 13 * DAY, size=2.4)
    _, told = after_days(*[6.0] * 22, mean=29.0, events=swarmed)
    assert [e.kind for e in told] == [Kind.BROOD_UNSTABLE]
    assert told[0].reason == "break-too-long"
    assert brood.BREAK_DAYS * DAY <= told[0].onset - (DAWN - 13 * DAY) <= (brood.BREAK_DAYS + 2) * DAY


def test_the_end_of_brood_in_autumn_is_no_alarm_then_or_later():
    """The nest must show itself anew in spring before it is believed."""
    start = OCTOBER // DAY * DAY + 6 * HOUR
    memory, told = after_days(*[7.0] * 5, mean=22.0, start=start)
    assert told == []
    assert memory.steady_days == 0


def test_the_gate_lets_through_only_hours_beyond_the_limits():
    """A good nest is never looked at by the hour."""
    start = DAWN // HOUR * HOUR
    good, hot = hours(start, [34.8] * 24), hours(start, [34.8, 39.0, 34.8])
    assert not len(brood.gate(good, 0, RULES))
    assert brood.gate(hot, 0, RULES).tolist() == [start + 2 * HOUR]

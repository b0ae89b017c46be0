"""Steps from end to end: streams and logbook in, who did it out; every explanation on made-up weights."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inference_cases import NOON, RULES, YARD, change, event, look, series

from hivemon.config import HiveSettings
from hivemon.fold import advance, begin
from hivemon.inference.cause import Cause
from hivemon.inference.gather import gather
from hivemon.inference.steps import Step, verdict, visit_goes_on
from hivemon.model import DAY, HOUR, MINUTE, Entry, Event, Kind, LogEntry, Quantity, Series, Stream
from hivemon.rules import Rules

HIVES = [HiveSettings(id=hive, yard="y") for hive in "abcd"]
START = NOON - 4 * DAY


def quiet(seed: int, minutes: float = 5, until: int = NOON + 6 * HOUR) -> Series:
    """A hive that gathers a little, eats a little, and sends foragers out every morning."""
    n = int((until - START) / (minutes * MINUTE))
    whole = series(START, np.zeros(n), minutes)
    hour = ((whole.time - NOON) / HOUR + 12) % 24
    foragers = -0.25 * np.clip(np.minimum(hour - 6, 20 - hour), 0, 1)
    return Series(whole.time, 42 + foragers + np.random.default_rng(seed).normal(0, 0.02, n))


def yard(minutes: float = 5) -> dict[Stream, Series]:
    streams = {Stream(hive, Quantity.WEIGHT): quiet(n, minutes) for n, hive in enumerate("abcd")}
    outside = quiet(9, minutes)
    streams[Stream(None, Quantity.OUTSIDE_TEMPERATURE)] = Series(outside.time, np.full(len(outside.time), 21.0))
    return streams


YARD_STREAMS = yard()


def moved(whole: Series, *moves: tuple[float, float]) -> Series:
    """Add moves of (hours from noon, kg); those before noon of the last day are negative hours."""
    value = whole.value.copy()
    for hours, size in moves:
        value = value + size * (whole.time >= NOON + round(hours * HOUR))
    return Series(whole.time, value)


def swarm(whole: Series, size: float, hours: float = 0.0, minutes: float = 12) -> Series:
    """Let a swarm leave over some minutes, as an even stream."""
    share = np.clip((whole.time - NOON - hours * HOUR) / (minutes * MINUTE), 0, 1)
    return Series(whole.time, whole.value - size * share)


def folded(streams, logbook=()):
    state, changes = advance(begin(YARD, HIVES, Rules()), streams, logbook)
    return state, list({c.id: c for c in changes if isinstance(c, Event)}.values())


def causes(state, hive: str = "a") -> list[Cause]:
    return [step.cause for step in state.core.hives[hive].steps.steps]


WEIGHT = Stream("a", Quantity.WEIGHT)


@pytest.mark.parametrize("minutes", [1, 2, 5, 10, 15])
def test_a_swarm_is_found_at_any_sampling_and_dated_to_the_interval(minutes):
    """2.3 kg over twelve minutes at noon."""
    streams = yard(minutes)
    streams[WEIGHT] = swarm(streams[WEIGHT], 2.3)
    _, told = folded(streams)
    assert [e.kind for e in told if e.kind is not Kind.FLOW_ONSET] == [Kind.SWARM]
    found = told[-1]
    assert found.size == pytest.approx(2.3, abs=0.15)
    assert abs(found.onset - (NOON + 6 * MINUTE)) <= max(minutes, 6) * MINUTE
    assert found.raised - NOON <= max(35, 4 * minutes) * MINUTE


def test_a_swarm_that_comes_back_withdraws_itself():
    """Home after forty minutes."""
    streams = yard()
    streams[WEIGHT] = swarm(swarm(streams[WEIGHT], 2.3), -2.3, 0.7)
    _, told = folded(streams)
    found = next(e for e in told if e.kind is Kind.SWARM)
    assert found.withdrawn is not None
    assert found.withdrawn - (NOON + round(0.9 * HOUR)) <= 90 * MINUTE


def test_a_swarm_that_leaves_in_two_bursts_is_one_swarm():
    """A rest of six minutes, then half a kilogram more: one event, of all the bees."""
    streams = yard()
    streams[WEIGHT] = swarm(swarm(streams[WEIGHT], 1.8, minutes=8), 0.7, 14 / 60, minutes=6)
    _, told = folded(streams)
    assert [e.kind for e in told if e.kind is not Kind.FLOW_ONSET] == [Kind.SWARM]
    assert told[-1].size == pytest.approx(2.5, abs=0.15)
    assert told[-1].evidence["bees_high"] > 18_000


def test_opening_the_hive_after_a_swarm_does_not_take_it_back():
    """Told of a swarm, the keeper looks at once: lid and supers off and on again, half an hour later."""
    streams = yard()
    time, value = swarm(streams[WEIGHT], 2.3)
    opened = (time >= NOON + 45 * MINUTE) & (time < NOON + 75 * MINUTE)
    streams[WEIGHT] = Series(time, np.where(opened, value - 9.0, value))
    _, told = folded(streams)
    found = next(e for e in told if e.kind is Kind.SWARM)
    assert found.withdrawn is None


@pytest.mark.parametrize("minutes", [5, 10])
@pytest.mark.parametrize("logged", [True, False])
def test_an_open_hive_leaves_its_net_gain_alone(minutes, logged):
    """Lid and super off for twenty-five minutes, frames lifted and set down: what came off goes on again."""
    streams = yard(minutes)
    lifted = ((0.0, -5.7), (0.2, 0.5), (0.42, 5.2), (0.6, -5.3), (0.85, 5.34))
    streams[WEIGHT] = moved(streams[WEIGHT], *lifted)
    state, _ = folded(streams, [LogEntry(time=NOON + HOUR, hive="a", entry=Entry.INSPECT)] if logged else [])
    steps = [step for step in state.core.hives["a"].steps.steps if step.cause is not Cause.WEATHER]
    assert sum(step.size for step in steps) == pytest.approx(sum(size for _, size in lifted), abs=0.2)


@pytest.mark.parametrize(
    ("moves", "asked"),
    [
        (((0.0, 6.8),), [6.8]),  # a super
        (((0.0, -4.0), (0.7, 3.9)), []),  # frames set aside for as long as they were looked at
        (((0.0, -4.0), (0.7, 1.2), (1.2, 2.7)), []),
        (((0.0, 1.0),), []),  # nothing to speak of
    ],
)
def test_a_visit_is_asked_about_that_left_a_hive_heavier_or_lighter(moves, asked):
    """The logbook says that somebody was there, but not what was put on or taken off."""
    streams = yard()
    streams[WEIGHT] = moved(streams[WEIGHT], *moves)
    _, told = folded(streams, [LogEntry(time=NOON, hive="a", entry=Entry.INSPECT)])
    questions = [e for e in told if e.kind is Kind.UNLOGGED_STEP and e.withdrawn is None]
    assert [round(e.size, 1) for e in questions] == pytest.approx(asked, abs=0.2)


@pytest.mark.parametrize(
    ("moves", "asked"),
    [
        (((0.0, 6.8), (4.0, -6.7)), []),  # another hive's super, set down for an afternoon
        (((0.0, -6.8), (4.0, 6.9)), []),
        (((0.0, 6.8), (4.0, -2.0)), [6.8, -2.0]),
        (((-30.0, 6.8), (0.0, -6.7)), [6.8, -6.7]),
    ],
)
def test_what_came_and_went_within_a_day_is_asked_about_no_more(moves, asked):
    """Nobody wrote it down, and nothing of it is left."""
    streams = yard()
    streams[WEIGHT] = moved(streams[WEIGHT], *moves)
    _, told = folded(streams)
    questions = [e for e in told if e.kind is Kind.UNLOGGED_STEP and e.withdrawn is None]
    assert [e.size for e in questions] == pytest.approx(asked, abs=0.2)


def wandering(whole: Series) -> Series:
    """Three kilograms up and down again around one at night, as water in a plug does it."""
    hour = (whole.time - NOON) / HOUR % 24
    return Series(whole.time, whole.value + np.interp(hour, [10, 13, 16], [0.0, 3.0, 0.0]))


@pytest.mark.parametrize(("size", "kind"), [(2.3, Kind.SWARM), (9.0, Kind.UNLOGGED_STEP)])
def test_a_scale_known_to_wander_tells_of_no_swarm_and_asks_nothing(size, kind):
    """Water in a plug lets go of two kilograms within minutes, and of nine."""
    streams = yard()
    streams[WEIGHT] = swarm(streams[WEIGHT], size)
    assert [e.kind for e in folded(streams)[1]] == [kind]
    streams[WEIGHT] = wandering(streams[WEIGHT])
    state, told = folded(streams)
    assert {e.kind for e in told} == {Kind.SENSOR_FAULT}
    assert causes(state)[-1] is Cause.FAULT


def test_a_swarm_of_the_day_before_a_scale_is_found_to_wander_is_taken_back():
    """Known at dawn only: who was sent to look for a swarm at noon is told by breakfast."""
    streams = yard()
    whole = streams[WEIGHT]
    fallen = swarm(whole, 2.3, -24.0)
    wet = np.where(whole.time > NOON - 20 * HOUR, wandering(fallen).value, fallen.value)
    streams[WEIGHT] = Series(whole.time, wet)
    _, told = folded(streams)
    (found,) = [e for e in told if e.kind is Kind.SWARM]
    assert found.withdrawn_because == "the scale was found to go up and down by itself"


@pytest.mark.parametrize(("fallen", "cause"), [(4.0, Cause.WEATHER), (0.0, Cause.UNLOGGED)])
def test_a_gauge_is_waited_for_before_a_shower_on_a_single_hive_is_put_down_to_hands(fallen, cause):
    """A gauge's row tells what fell before it, so that of a shower comes after the weight."""
    streams = {name: s for name, s in yard().items() if name.hive in ("a", None)}
    streams[WEIGHT] = moved(streams[WEIGHT], (0.0, 0.6))
    times = streams[WEIGHT].time[::2] + 3 * MINUTE
    first = int(np.searchsorted(times, NOON + 5 * MINUTE))
    streams[Stream(None, Quantity.RAIN)] = Series(times, np.where(np.arange(len(times)) == first, fallen, 0.0))
    state, _ = folded(streams)
    assert causes(state) == [cause]


def entry(kind: Entry, amount: float | None = None, hours: float = 0.0) -> LogEntry:
    return LogEntry(time=NOON + round(hours * HOUR), hive="a", entry=kind, amount=amount)


NOT_SWARMS = {
    "split, logged an hour late": (((0.0, -2.4),), [entry(Entry.SPLIT, 2.5, 1.0)], Cause.LOGGED),
    "harvest, unlogged": (((0.0, -18.0),), [], Cause.UNLOGGED),
    "super put on": (((0.0, 7.0),), [], Cause.UNLOGGED),
    "at night": (((-11.0, -2.0),), [], Cause.UNLOGGED),
    "stone put on, fallen off": (((-3.0, 1.9), (0.0, -1.9)), [], Cause.UNLOGGED),
    "hive gone": (((0.0, -41.0),), [], Cause.OFF_SCALE),
}


@pytest.mark.parametrize("name", NOT_SWARMS)
def test_these_are_no_swarms(name):
    """Each is told for what it is."""
    moves, logbook, cause = NOT_SWARMS[name]
    streams = yard()
    streams[WEIGHT] = moved(streams[WEIGHT], *moves)
    state, told = folded(streams, logbook)
    assert causes(state)[-1] is cause
    assert not [e for e in told if e.kind is Kind.SWARM]


def test_a_hive_blown_off_a_coarse_scale_is_off_it():
    """A scale of 100 g repeats what is left on it to the last digit, as one that has died would."""
    streams = yard(10)
    time, value = streams[WEIGHT]
    gusty = value + 0.15 * np.sin(time / MINUTE)
    streams[WEIGHT] = Series(time, np.where(time < NOON, np.round(gusty, 1), 0.6))
    state, _ = folded(streams)
    assert causes(state)[-1] is Cause.OFF_SCALE


def test_frames_lifted_one_by_one_and_set_down_once_did_not_swarm():
    """Taken alone, the first ten minutes look like bees pouring out: who is not done yet is waited for."""
    streams = yard()
    moves = ((0.0, -2.1), (0.08, -1.95), (0.16, -3.45), (0.24, 3.2), (0.32, 4.15), (0.41, -4.6))
    streams[WEIGHT] = moved(streams[WEIGHT], *moves)
    state, told = folded(streams)
    assert not [e for e in told if e.kind is Kind.SWARM]
    assert sum(step.size for step in state.core.hives["a"].steps.steps) == pytest.approx(-4.75, abs=0.2)


@pytest.mark.parametrize("seed", range(5))
def test_a_lull_in_a_gale_did_not_swarm(seed):
    """Wind shakes the scale all morning; within ten minutes it presses less by a kilogram and a half, for a while."""
    streams = yard()
    time, value = streams[WEIGHT]
    gale = np.where((time > NOON - 3 * HOUR) & (time < NOON + 3 * HOUR), 0.22, 0.0)
    shaken = value + gale * np.random.default_rng(seed).normal(0, 1, len(time))
    streams[WEIGHT] = moved(Series(time, shaken), (0.0, -0.5), (0.09, -0.5), (0.17, -0.5), (0.42, 1.5))
    _, told = folded(streams)
    assert not [e for e in told if e.kind is Kind.SWARM]


@pytest.mark.parametrize(("sizes", "there"), [((1.9,), True), ((1.9, -1.92), False), ((1.9, -1.9, 1.95), True)])
def test_a_stone_that_was_taken_off_again_says_nothing_of_a_later_loss(sizes, there):
    """What weighs as much and leaves at noon may be bees by then."""
    earlier = [
        Step(NOON - (9 - n) * HOUR, NOON - (9 - n) * HOUR + MINUTE, kg, Cause.UNLOGGED) for n, kg in enumerate(sizes)
    ]
    assert (gather(look(NOON + HOUR), change(-1.9), quiet(1), earlier).put_on_before is not None) is there


def test_of_many_things_on_a_hive_one_is_as_heavy_as_bees_by_luck():
    """The chance grows with what lies there and with how roughly the scale weighs; sizes spread over the rule's."""
    span = RULES.swarm.most_kg - RULES.swarm.least_kg
    earlier = [Step(NOON - n * DAY, NOON - n * DAY + 1, kg, Cause.UNLOGGED) for n, kg in enumerate((1.9, 3.1, 7.0))]

    def by_luck(steps, noise):
        return gather(look(NOON + HOUR), change(-1.9, noise=noise), quiet(1), steps).put_on_before

    assert by_luck(earlier[:1], 0.03) == pytest.approx(2 * 0.16 / span)
    assert by_luck(earlier, 0.03) == pytest.approx(3 * by_luck(earlier[:1], 0.03))
    assert by_luck(earlier, 0.3) > by_luck(earlier, 0.03)


def test_a_jump_tells_a_stone_where_the_levels_rise_and_fall():
    """Foragers leave meanwhile: levels half an hour apart differ by more than what was laid on and taken off."""
    laid_on = Step(NOON - 3 * HOUR, NOON - 2 * HOUR, 3.4, Cause.UNLOGGED, jump=3.7)
    assert gather(look(NOON + HOUR), change(-4.1, largest=-3.8), quiet(1), [laid_on]).put_on_before is not None
    assert gather(look(NOON + HOUR), change(-4.1, largest=-4.1), quiet(1), [laid_on]).put_on_before is None
    unknown = msgspec.structs.replace(laid_on, jump=0.0)
    assert gather(look(NOON + HOUR), change(-4.1, largest=0.0), quiet(1), [unknown]).put_on_before is None


def test_a_nest_that_wanders_every_noon_tells_nothing_at_noon():
    """A sensor far from the brood warms with the day; half the bees leaving shows beside that, or not at all."""
    days = [NOON - n * DAY for n in (3, 2, 1, 0)]
    for wandering, told in ((0.0, -1.6), (-1.5, 0.0), (-0.3, -1.6)):
        nest = [series(day - 2 * HOUR, [34.5] * 24 + [34.5 + wandering] * 12) for day in days[:-1]]
        nest.append(series(days[-1] - 2 * HOUR, [34.5] * 24 + [32.9] * 12))
        joined = Series(np.concatenate([n.time for n in nest]), np.concatenate([n.value for n in nest]))
        seen = look(NOON + HOUR, streams={Stream("a", Quantity.TEMPERATURE): joined})
        e = gather(seen, change(-2.0), quiet(1), [])
        assert e.nest_change == pytest.approx(-1.6)
        assert e.nest_excursion == pytest.approx(told)


def test_hives_that_change_places_are_seen_to_be_swapped_though_read_at_other_minutes():
    """An hour apart, one of them a minute before the other: its newest reading knows already."""
    other = Series(NOON + np.array([-91, -31, 29]) * MINUTE, np.array([31.8, 31.8, 36.5]))
    seen = look(NOON + 90 * MINUTE, streams={Stream("b", Quantity.WEIGHT): other})
    own = series(NOON - 5 * HOUR - 30 * MINUTE, [35.7] * 6 + [31.0, 31.0], 60)
    e = gather(seen, change(-4.7, minutes=60, underway=0), own, [])
    assert e.others_kg == pytest.approx(4.7)
    assert e.swapped


@pytest.mark.parametrize(("falls", "wire"), [((), False), ((-90,), False), ((-90, -50), True)])
def test_a_weight_that_came_back_by_itself_twice_hangs_on_a_loose_wire(falls, wire):
    """Nothing for one reading, then all of it again: a hive that is carried off goes once."""
    time = NOON + np.arange(-60, 4) * 5 * MINUTE
    value = np.where((time >= NOON) | np.isin(time, NOON + np.array(falls, np.int64) * MINUTE), 0.0, 42.0)
    own = Series(time, value)
    seen = look(NOON + 15 * MINUTE, streams={WEIGHT: own})
    assert gather(seen, change(-42.0, old=42.0, minutes=5, underway=0), own, []).dropped_out_before is wire


def test_weather_on_a_hive_is_no_hand():
    """A shower or a burst of nectar that was judged hours before does not speak for a person."""
    for cause, handled in ((Cause.WEATHER, False), (Cause.UNLOGGED, True), (Cause.LOGGED, True)):
        earlier = [Step(NOON - 2 * HOUR, NOON - 2 * HOUR + MINUTE, 0.6, cause)]
        assert gather(look(NOON + HOUR), change(-2.0), quiet(1), earlier).handled_before is handled


def test_rain_on_all_hives_is_the_weathers():
    """Half an hour of rain lays a kilogram on each: nobody is asked about it."""
    streams = {
        name: Series(s.time, s.value + 1.1 * np.clip((s.time - NOON) / (30 * MINUTE), 0, 1))
        if name.quantity is Quantity.WEIGHT
        else s
        for name, s in yard().items()
    }
    state, told = folded(streams)
    assert not [e for e in told if e.hive is not None]
    assert set(causes(state)) <= {Cause.WEATHER}


@settings(max_examples=50, deadline=None)
@given(
    size=st.floats(-12, 12),
    overshoot=st.sampled_from([0.0, 1.0, 6.0]),
    settled=st.integers(5, 30),
    watched=st.integers(5, 400),
    kind=st.sampled_from([Entry.INSPECT, Entry.SUPER_ON, Entry.HARVEST, Entry.NOTE]),
    swarmed=st.sampled_from([None, -1, -60, -400]),
)
def test_a_visit_that_waits_without_the_evidence_would_wait_with_it(size, overshoot, settled, watched, kind, swarmed):
    """What is told by little is what everything together would say."""
    found = change(size, overshoot=overshoot, settled=settled * MINUTE)
    events = {} if swarmed is None else event(Kind.SWARM, NOON + swarmed * MINUTE, size=2.0)
    now = found.after + settled * MINUTE
    seen = look(now, logbook=[entry(kind)], streams=YARD_STREAMS, events=events)
    if visit_goes_on(seen, found, watched=watched * MINUTE):
        assert kind is not Entry.NOTE
        gathered = gather(seen, found, seen.own(Quantity.WEIGHT), ())
        assert verdict(gathered, RULES, watched=watched * MINUTE)[2]


def test_an_inspection_leaves_no_question_behind():
    """Lid and supers off and on again: nothing changed that anyone need log."""
    streams = yard()
    time, value = streams[WEIGHT]
    opened = (time >= NOON) & (time < NOON + 25 * MINUTE)
    rough = np.where(opened, value + np.random.default_rng(8).choice([-14.0, -7.0, -9.0, 3.0], len(time)), value)
    streams[WEIGHT] = Series(time, rough)
    _, told = folded(streams)
    assert not [e for e in told if e.kind in (Kind.SWARM, Kind.UNLOGGED_STEP, Kind.OFF_SCALE)]


def test_hives_that_change_places_did_not_swarm():
    """What one scale loses another gains in the same minutes."""
    streams = yard()
    streams[WEIGHT] = moved(streams[WEIGHT], (0.0, -2.2))
    streams[Stream("b", Quantity.WEIGHT)] = moved(streams[Stream("b", Quantity.WEIGHT)], (0.0, 2.2))
    assert not [e for e in folded(streams)[1] if e.kind is Kind.SWARM]


def test_a_scale_that_follows_the_sun_did_not_swarm():
    """A kilogram and more down every morning and back every evening: months without a swarm."""
    streams = yard()
    for n, hive in enumerate("abcd"):
        time, value = streams[Stream(hive, Quantity.WEIGHT)]
        hour = ((time - NOON) / HOUR + 12) % 24
        warm = np.clip(np.sin((hour - 7) / 12 * np.pi), 0, 1)
        streams[Stream(hive, Quantity.WEIGHT)] = Series(time, value - (2.0 - n) * warm)
    _, told = folded(streams)
    assert not [e for e in told if e.kind in (Kind.SWARM, Kind.OFF_SCALE)]


def test_foragers_leaving_at_dawn_did_not_swarm():
    """0.8 kg of bees gone within an hour, as every day."""
    streams = yard()
    time, value = streams[WEIGHT]
    hour = ((time - NOON) / HOUR + 12) % 24
    streams[WEIGHT] = Series(time, value - 0.8 * np.clip(np.minimum((hour - 8.5) / 0.7, 20 - hour), 0, 1))
    assert not [e for e in folded(streams)[1] if e.kind is Kind.SWARM]


@pytest.mark.parametrize("apart", [0.0, 0.15])
def test_meals_are_no_flow(apart):
    """Two kilograms of syrup every evening, hive after hive or all at once: the yard says nothing of forage."""
    streams = yard()
    for n, hive in enumerate("abcd"):
        whole = streams[Stream(hive, Quantity.WEIGHT)]
        streams[Stream(hive, Quantity.WEIGHT)] = moved(
            whole, *((hours + apart * n, 2.0) for hours in (-90, -66, -42, -18))
        )
    kinds = {e.kind for e in folded(streams)[1]}
    assert not kinds & {Kind.FLOW_ONSET, Kind.DEARTH_ONSET, Kind.SWARM}

"""What holds of every question alike, whatever it asks; a new question is tested here by being registered."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inference_cases import DAWN, RULES, YARD, series

from hivemon.inference.brood import BroodMemory
from hivemon.inference.flow import FlowMemory, Mode
from hivemon.inference.look import Look
from hivemon.inference.questions import QUESTIONS, HiveMemory, YardMemory
from hivemon.inference.robbing import RobbingMemory
from hivemon.inference.windows import KEPT, KEPT_ELSE, Windows, newest
from hivemon.model import DAY, HOUR, MINUTE, Kind, Quantity, Series, Stream

NUMBERS = range(len(QUESTIONS))
OTHERS = (Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.HUMIDITY)


def rough(seed: int, days: float = 2.0) -> dict[Stream, Series]:
    """Two hives whose streams jump, stick, drop out and lie: nothing may break on them."""
    rng = np.random.default_rng(seed)
    streams = {}
    for hive in ("a", "b"):
        for quantity, usual, spread in zip(OTHERS, (40.0, 34.5, 60.0), (6.0, 4.0, 20.0), strict=True):
            n = int(days * DAY / (10 * MINUTE))
            values = usual + np.repeat(rng.normal(0, spread, n // 40 + 1), 40)[:n] + rng.normal(0, 0.05, n)
            values[rng.random(n) < 0.01] = rng.choice([85.0, -127.0, 0.0, 1e4])
            keep = rng.random(n) > 0.1
            whole = series(DAWN, values, 10)
            streams[Stream(hive, quantity)] = Series(whole.time[keep], whole.value[keep])
    return streams


def ask_through(number: int, streams: dict[Stream, Series], every: int = 3) -> tuple[HiveMemory, list]:
    """Ask one question at many of its moments in turn, as the fold would; return its memory and all it told."""
    question, memory, events, told = QUESTIONS[number], HiveMemory(), {}, []
    for moment in streams[Stream("a", question.wakes)].time[5::every].tolist():
        look = Look(YARD, RULES, moment, "a", Windows(streams), events, {}, {})
        memory = question.judge(look, memory, YardMemory())
        events |= look.told
        told += look.told.values()
    return memory, told


@pytest.mark.parametrize("number", NUMBERS)
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_input_is_left_as_it_was(number, seed):
    """A question reads streams and changes none."""
    streams = rough(seed)
    before = {name: (s.time.copy(), s.value.copy()) for name, s in streams.items()}
    ask_through(number, streams, every=11)
    for name, s in streams.items():
        assert (s.time == before[name][0]).all()
        assert (s.value == before[name][1]).all()


@pytest.mark.parametrize("number", NUMBERS)
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_same_readings_give_the_same_answer(number, seed):
    """No clock, no chance: asked twice, the same memory and the same events."""
    assert ask_through(number, rough(seed), every=11) == ask_through(number, rough(seed), every=11)


@pytest.mark.parametrize("number", NUMBERS)
def test_memory_survives_being_written_and_read(number):
    """What a question remembers fits into a snapshot and comes back equal."""
    for seed in range(5):
        memory, _ = ask_through(number, rough(seed))
        assert msgspec.msgpack.decode(msgspec.msgpack.encode(memory), type=HiveMemory) == memory


@pytest.mark.parametrize("number", NUMBERS)
def test_memory_does_not_grow_with_time(number):
    """Twelve days in a yard rougher than any leave little to remember: steps go after weeks, sums stay sums."""
    memory, _ = ask_through(number, rough(3, days=12.0), every=2)
    assert len(msgspec.msgpack.encode(memory)) < 64_000


@pytest.mark.parametrize("number", NUMBERS)
def test_what_is_told_is_whole(number):
    """Every event has a reason, words, a confidence within its bounds and an onset that is past."""
    for seed in range(10):
        for event in ask_through(number, rough(seed))[1]:
            assert event.reason
            assert event.summary
            assert 0.0 < event.confidence < 1.0
            assert event.onset <= event.raised
            assert all(np.isfinite(value) for value in event.evidence.values())


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("cut", [1, 7, 50, 130])
def test_a_gate_has_no_memory(number, cut):
    """What a gate lets through does not depend on how the stream was cut."""
    question = QUESTIONS[number]
    window = rough(4)[Stream("a", question.wakes)]
    whole = question.gate(window, 0, RULES, YARD).tolist()
    first = question.gate(Series(window.time[:cut], window.value[:cut]), 0, RULES, YARD).tolist()
    assert first + question.gate(window, cut, RULES, YARD).tolist() == whole


@pytest.mark.parametrize("number", NUMBERS)
def test_a_gate_is_shut_on_nothing(number):
    """An empty stream and a single reading wake nobody."""
    question = QUESTIONS[number]
    for n in (0, 1):
        assert not len(question.gate(series(DAWN, [40.0] * n), 0, RULES, YARD))


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("event", ["", "y/a/robbing/2024-05-20T03:20Z"])
@pytest.mark.parametrize("mode", Mode)
def test_a_question_asleep_would_tell_nothing(number, event, mode):
    """It may be left unasked until the day is reckoned up: what it remembers stays, and it looks at nothing."""
    question, streams = QUESTIONS[number], rough(4)
    memory = HiveMemory(robbing=RobbingMemory(event=event), brood=BroodMemory(steady_days=9 * (not event)))
    yard = YardMemory(flow=FlowMemory(mode=mode))
    if not question.asleep(memory, yard):
        return
    for moment in streams[Stream("a", question.wakes)].time.tolist():
        look = Look(YARD, RULES, moment, "a", Windows(streams), {}, {}, {})
        assert question.judge(look, memory, yard) == memory
        assert not look.told
        assert not look.peeked


def test_a_look_never_shows_what_comes_after():
    """Of its own stream up to now, of all others strictly before."""
    streams = rough(5)
    now = int(streams[Stream("a", Quantity.WEIGHT)].time[40])
    look = Look(YARD, RULES, now, "a", Windows(streams), {}, {}, {})
    assert look.own(Quantity.WEIGHT).time[-1] == now
    assert look.other(Quantity.WEIGHT, "b").time[-1] < now
    assert look.other(Quantity.TEMPERATURE, "a").time[-1] < now
    assert look.peeked


@pytest.mark.parametrize("quantity", OTHERS)
def test_a_look_shows_no_more_than_every_state_keeps(quantity):
    """What is seen must not depend on how much happens to be at hand."""
    long = series(DAWN, np.full(12 * 24 * 9, 40.0), 5)
    assert long.time[-1] - newest(quantity, long).time[0] <= KEPT.get(quantity, KEPT_ELSE)


def test_the_same_story_has_the_same_id():
    """Where, what and first onset to the minute."""
    ids = set()
    for hours, seconds in ((1, 0), (5, 900)):
        look = Look(YARD, RULES, DAWN + hours * HOUR, "a", Windows({}), {}, {}, {})
        ids.add(look.tell(Kind.SWARM, onset=DAWN + seconds, confidence=0.5, reason="r", summary="s").id)
    assert ids == {"y/a/swarm/2024-05-20T03:20Z"}

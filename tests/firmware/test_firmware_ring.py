"""The ring on flash keeps what it holds through power cuts at any byte; sampling and clock beside it."""

import random
import struct
from pathlib import Path

import pytest
from clock import EARLIEST, FROM_2000, Clock
from hypothesis import given
from hypothesis import strategies as st
from packs import pack
from ring import DATED, HEAD, SIZE, Ring
from sampling import burst, median

NOW = 1_781_265_600


def filled(path, count, slots=20):
    """Return a ring of readings whose weight is their number."""
    ring = Ring(str(path), slots)
    for number in range(count):
        ring.add(DATED, NOW + number, [float(number), 34.5, None, 4.0])
    return ring


def weights(ring):
    return [values[0] for _, _, values in ring.pending(1000, 1)]


def test_a_ring_opened_again_goes_on_where_it_was(tmp_path):
    path = tmp_path / "r"
    first = filled(path, 7)
    first.acknowledge(first.pending(3, 1)[-1][0])
    again = Ring(str(path), 999)
    assert (weights(again), again.slots, len(again)) == ([3, 4, 5, 6], 20, 4)
    again.add(DATED, NOW, [99.0, None, None, None])
    assert weights(Ring(str(path))) == [3, 4, 5, 6, 99]


def test_the_ring_file_never_grows(tmp_path):
    ring = filled(tmp_path / "r", 500)
    assert Path(ring.path).stat().st_size == HEAD + 20 * SIZE
    assert weights(ring) == list(range(480, 500))
    assert ring.overwritten == 480


@pytest.mark.parametrize("count", [4, 20, 33])
def test_a_cut_at_any_byte_of_a_write_costs_that_reading_and_one_overwritten_at_most(tmp_path, count):
    """Every prefix of the bytes of one slot is tried, over an empty, a just full and an overwritten place."""
    before = filled(tmp_path / "r", count)
    old = Path(before.path).read_bytes()
    before.add(DATED, NOW + count, [float(count), 34.5, None, 4.0])
    new = Path(before.path).read_bytes()
    start = HEAD + (count + 1) % 20 * SIZE
    for cut in range(SIZE):
        (tmp_path / "cut").write_bytes(old[:start] + new[start : start + cut] + old[start + cut :])
        kept = weights(Ring(str(tmp_path / "cut")))
        whole = list(range(max(0, count - 20), count))
        assert kept in (whole, whole[1:], [*whole[1:], count])


def test_a_cut_at_any_byte_of_an_acknowledgement_costs_a_repeat_at_most(tmp_path):
    ring = filled(tmp_path / "r", 12)
    for last in (3, 5, 8):
        old = Path(ring.path).read_bytes()
        left = weights(ring)
        ring.acknowledge(last)
        new = Path(ring.path).read_bytes()
        for cut in range(HEAD):
            (tmp_path / "cut").write_bytes(new[:cut] + old[cut:])
            assert weights(Ring(str(tmp_path / "cut"))) in (left, weights(ring))


@given(st.lists(st.one_of(st.just("add"), st.just("wake"), st.integers(1, 9)), max_size=60))
def test_whatever_is_added_acknowledged_and_woken_in_whatever_order_matches_a_list(tmp_path_factory, acts):
    """Against a plain list that drops its oldest when it holds more than 12."""
    path = str(tmp_path_factory.mktemp("ring") / "r")
    ring, model, number = Ring(path, 12), [], 0
    for act in acts:
        if act == "add":
            ring.add(DATED, NOW, [float(number), None, None, None])
            model = [*model, number][-12:]
            number += 1
        elif act == "wake":
            ring = Ring(path)
        elif found := ring.pending(act, 1):
            ring.acknowledge(found[-1][0])
            model = model[act:]
    assert weights(Ring(path)) == weights(ring) == model


def test_readings_without_a_time_hold_back_what_follows_until_they_are_dated(tmp_path):
    ring = filled(tmp_path / "r", 2)
    ring.add(3, 100, [50.0, None, None, None])
    ring.add(DATED, NOW + 900, [51.0, None, None, None])
    assert [values[0] for _, _, values in ring.pending(9, 3)] == [0, 1]
    ring.date(3, NOW)
    assert [(time, values[0]) for _, time, values in ring.pending(9, 3)][2:] == [(NOW + 100, 50), (NOW + 900, 51)]


def test_single_precision_keeps_a_gram_of_a_hive_but_not_the_second_of_a_time():
    """Why weights may go through a small chip's floats and times may not: 24 bits (IEEE 754 binary32)."""

    def single(value):
        return struct.unpack("f", struct.pack("f", value))[0]

    assert all(abs(single(kg / 1000) - kg / 1000) < 1e-5 for kg in range(0, 200_000, 77))
    worst = max(abs(single(NOW + s) - (NOW + s)) for s in range(300))
    assert 60 < worst <= 64


def test_a_pack_of_twenty_whole_readings_stays_about_three_kilobytes():
    payload = pack([(n, NOW + n * 900, [48.21, 34.9, 61.0, 3.92]) for n in range(20)])
    assert 2500 < len(payload) < 4000


def test_the_median_of_a_burst_ignores_a_gust_and_a_failed_read():
    chance = random.Random(4)
    steady = [1000 + chance.randint(-3, 3) for _ in range(12)]
    reads = iter([*steady, 9000, 9100, OSError("silent")])

    def read():
        value = next(reads)
        if isinstance(value, OSError):
            raise value
        return value

    middle, spread = burst(read, 15)
    assert abs(middle - 1000) <= 3
    assert spread <= 3
    assert median([1, 2, 9, 100]) == 5.5


def test_a_burst_that_mostly_failed_is_no_reading():
    reads = iter([5, 6] * 4)

    def read():
        if next(reads) == 6:
            raise OSError("silent")
        return 5

    assert burst(read, 8) is None
    with pytest.raises(ValueError, match="no values"):
        median([])


@pytest.mark.parametrize("epoch", [0, FROM_2000])
def test_a_clock_knows_whether_it_was_ever_set_wherever_it_counts_from(epoch):
    local = [17]
    clock = Clock(local=lambda: local[0], fetch=lambda: local.__setitem__(0, NOW - epoch), epoch=epoch)
    assert not clock.known()
    assert clock.set() == NOW - epoch - 17
    assert clock.known()
    assert clock.now() == NOW > EARLIEST

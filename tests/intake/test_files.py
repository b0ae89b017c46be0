"""Readings files: accepted forms, order, doubles, bad rows by number and reason, and what a file cannot be."""

import csv
import gzip
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.errors import InputError
from hivemon.intake import files
from hivemon.intake.blocks import Block
from hivemon.intake.files import read_readings, write_readings
from hivemon.intake.moments import parse_rfc3339
from hivemon.intake.rows import Parser
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Series, Stream, rfc3339

HEADER = "time,yard,hive,quantity,value\n"
WEIGHT = Stream("o1", Quantity.WEIGHT)
START = 1_746_057_600_000
"""2025-05-01T00:00:00Z."""


def row(time: int, value: float = 41.5, hive: str = "o1", quantity: str = "weight", yard: str = "orchard") -> str:
    return f"{rfc3339(time)},{yard},{hive},{quantity},{value}\n"


def write(folder: Path, text: str | bytes, name: str = "readings.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def read(path: Path, **options) -> tuple[list[files.Batch], list[tuple[int, str, str]]]:
    bad: list[tuple[int, str, str]] = []
    batches = list(read_readings(path, rejected=lambda *it: bad.append(it), **options))
    return batches, bad


def merged(batches: list[files.Batch]) -> dict[tuple[str, Stream], list[tuple[int, float]]]:
    """Join all batches, checking that within a yard each begins after the one before has ended."""
    latest: dict[str, int] = {}
    found: dict[tuple[str, Stream], list[tuple[int, float]]] = {}
    for batch in batches:
        for yard, streams in batch.items():
            assert min(series.time[0] for series in streams.values()) > latest.get(yard, -1)
            latest[yard] = max(int(series.time[-1]) for series in streams.values())
            for stream, series in streams.items():
                assert (np.diff(series.time) > 0).all()
                found.setdefault((yard, stream), []).extend(
                    zip(series.time.tolist(), series.value.tolist(), strict=True)
                )
    return found


# ---------------------------------------------------------------- what is accepted


@pytest.mark.parametrize("name", ["readings.csv", "readings.csv.gz"])
@pytest.mark.parametrize("packed", [False, True])
def test_gzip_is_told_by_content_and_not_by_name(tmp_path, name, packed):
    text = (HEADER + row(START)).encode()
    batches, bad = read(write(tmp_path, gzip.compress(text) if packed else text, name))
    assert merged(batches) == {("orchard", WEIGHT): [(START, 41.5)]}
    assert bad == []


@pytest.mark.parametrize(
    "text",
    [
        HEADER + "2025-05-01T02:00:00+02:00,orchard,o1,weight,41.5",
        "\ufeff" + HEADER + "2025-05-01T00:00:00Z,orchard,o1,weight,41.5\n",
        HEADER.replace("\n", "\r\n") + "2025-05-01T00:00:00Z,orchard,o1,weight,41.5\r\n",
        HEADER + '"2025-05-01T00:00:00Z","orchard","o1","weight","41.5"\n',
        '"time","yard","hive","quantity","value"\n2025-05-01T00:00:00.000Z,orchard,o1,weight,4.15e1\n',
        HEADER + "2025-04-30T16:30:00-07:30,orchard,o1,weight, 41.5 \n",
        HEADER + "\n2025-05-01t00:00:00z,orchard,o1,weight,+41.5\n\n",
        HEADER + "2025-05-01 00:00:00-00:00,orchard,o1,weight,41.50\n",
        HEADER + "2025-05-01T00:00:00.000999Z,orchard,o1,weight,41.5\n",
    ],
)
def test_every_form_of_csv_and_rfc_3339_is_read(tmp_path, text):
    """RFC 4180: CRLF or not, quotes or not, last line end optional. RFC 3339: any offset, fractions, small letters."""
    batches, bad = read(write(tmp_path, text))
    assert (merged(batches), bad) == ({("orchard", WEIGHT): [(START, 41.5)]}, [])


def test_a_leap_second_becomes_the_last_moment_before_it(tmp_path):
    """RFC 3339 section 5.8 names 1990-12-31T23:59:60Z as a valid moment."""
    batches, bad = read(write(tmp_path, HEADER + "1990-12-31T23:59:60Z,orchard,o1,weight,41.5\n"))
    assert merged(batches)["orchard", WEIGHT][0][0] == parse_rfc3339("1990-12-31T23:59:59.999Z")
    assert bad == []


def test_the_yards_own_readings_have_no_hive(tmp_path):
    text = HEADER + row(START, 18.5, "", "outside-temperature") + row(START, 0.2, "", "rain") + row(START)
    batches, bad = read(write(tmp_path, text))
    streams = {stream for _, stream in merged(batches)}
    assert streams == {Stream(None, Quantity.OUTSIDE_TEMPERATURE), Stream(None, Quantity.RAIN), WEIGHT}
    assert bad == []


def test_a_file_with_a_header_only_holds_nothing(tmp_path):
    assert read(write(tmp_path, HEADER)) == ([], [])


# ---------------------------------------------------------------- order and doubles


@given(
    st.lists(st.tuples(st.integers(0, 5 * 24), st.sampled_from("ab"), st.sampled_from(["o1", "o2"])), max_size=60),
    st.integers(40, 400),
    st.randoms(use_true_random=False),
)
def test_any_order_within_a_day_and_any_doubling_gives_the_sorted_set(rows, block_bytes, random):
    """The result does not depend on order within a day, doubles, or where blocks are cut."""
    times = {(START + hour * HOUR, yard, hive) for hour, yard, hive in rows}
    lines = [
        (time + random.randrange(DAY // 2), row(time, 40 + time % 7, hive, yard=yard)) for time, yard, hive in times
    ]
    lines += random.sample(lines, len(lines) // 3)
    text = HEADER + "".join(line for _, line in sorted(lines))
    path = Path(files.__file__).parent / "unused"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(files, "read_blocks", lambda _path, size: _cut(text.encode(), size))
        batches, bad = read(path, block_bytes=block_bytes)
    expected: dict[tuple[str, Stream], list[tuple[int, float]]] = {}
    for time, yard, hive in sorted(times):
        expected.setdefault((yard, Stream(hive, Quantity.WEIGHT)), []).append((time, float(40 + time % 7)))
    assert merged(batches) == expected
    assert bad == []


def _cut(text: bytes, size: int):
    first = 1
    for lines in _groups(text.splitlines(keepends=True), size):
        yield Block(b"".join(lines), first, 0)
        first += len(lines)


def _groups(lines: list[bytes], size: int):
    group: list[bytes] = []
    for line in lines:
        group.append(line)
        if sum(map(len, group)) >= size:
            yield group
            group = []
    yield group or [b"\n"]


def test_memory_holds_a_day_and_batches_come_early(tmp_path):
    """Rows leave as soon as rows a day later have been seen: the first batch of a long file is a small part of it."""
    text = HEADER + "".join(row(START + n * HOUR) for n in range(24 * 60))
    batches, _ = read(write(tmp_path, text), block_bytes=4096)
    assert len(batches) > 5
    assert len(merged(batches)["orchard", WEIGHT]) == 24 * 60


def test_another_value_for_the_same_moment_is_reported_and_the_first_is_kept(tmp_path):
    batches, bad = read(write(tmp_path, HEADER + row(START, 41.5) + row(START, 41.5) + row(START, 42.0)))
    assert merged(batches) == {("orchard", WEIGHT): [(START, 41.5)]}
    ((line, reason, _),) = bad
    assert line == 4
    assert "another value" in reason


def test_a_row_more_than_a_day_late_is_rejected_by_number(tmp_path):
    lines = [row(START + n * HOUR) for n in range(100)]
    lines.insert(60, row(START + 30 * HOUR + 1))
    batches, bad = read(write(tmp_path, HEADER + "".join(lines)))
    assert len(merged(batches)["orchard", WEIGHT]) == 100
    ((line, reason, _),) = bad
    assert line == 62
    assert "out of time order" in reason


@pytest.mark.parametrize("block_bytes", [200, 100_000])
def test_a_few_wild_times_cost_only_themselves(tmp_path, block_bytes):
    """A clock that jumped to 2099 or back to 2000 for one moment must not make the rest of the file look late."""
    lines = [row(START + n * HOUR) for n in range(200)]
    wild = ["2099-01-01T00:00:00Z,orchard,o1,weight,41\n", "2099-01-01T00:00:00Z,orchard,o1,humidity,50\n"]
    lines[120:120] = wild
    lines[50:50] = ["2000-01-01T00:00:00Z,orchard,o1,weight,41\n"]
    batches, bad = read(write(tmp_path, HEADER + "".join(lines)), block_bytes=block_bytes)
    assert len(merged(batches)["orchard", WEIGHT]) == 200
    assert [line for line, _, _ in bad] == [52, 123, 124]


@pytest.mark.parametrize("spoilt", ["", "2025-05-01T00:00:00Z,orchard,o1,weight,heavy\n"])
def test_what_cannot_have_been_measured_yet_is_refused_where_a_latest_moment_is_given(tmp_path, spoilt):
    """By the fast way and, after a row that cannot be read, by the exact one."""
    text = HEADER + spoilt + row(START) + row(START + HOUR) + row(START + HOUR + 1)
    batches, bad = read(write(tmp_path, text), latest=START + HOUR)
    assert merged(batches)["orchard", WEIGHT] == [(START, 41.5), (START + HOUR, 41.5)]
    assert bad[-1] == (4 + bool(spoilt), "its time 2025-05-01T01:00:00.001Z lies in the future; mind the year", "")
    assert len(merged(read(write(tmp_path, text))[0])["orchard", WEIGHT]) == 3


def test_a_gap_of_a_winter_is_no_disorder(tmp_path):
    text = HEADER + "".join(row(START + n * HOUR + (n > 50) * 150 * DAY) for n in range(100))
    batches, bad = read(write(tmp_path, text))
    assert (len(merged(batches)["orchard", WEIGHT]), bad) == (100, [])


def test_yards_are_ordered_each_by_itself(tmp_path):
    text = HEADER + "".join(row(START + n * HOUR, yard=yard) for yard in ("a", "b") for n in range(100))
    batches, bad = read(write(tmp_path, text))
    assert [len(series) for series in merged(batches).values()] == [100, 100]
    assert bad == []


# ---------------------------------------------------------------- bad rows

BAD = [
    ("yesterday,orchard,o1,weight,41.5", "RFC 3339"),
    ("2025-05-01T00:00:00,orchard,o1,weight,41.5", "RFC 3339"),
    ("2025-05-01T00:00Z,orchard,o1,weight,41.5", "RFC 3339"),
    ("2025-05-01T00:00:00+02,orchard,o1,weight,41.5", "RFC 3339"),
    ('"2025-05-01T00:00:00+02","orchard","o1","weight","41.5"', "RFC 3339"),
    ("2025-05-01T00:00:00+0200,orchard,o1,weight,41.5", "RFC 3339"),
    ("2025-05-01,orchard,o1,weight,41.5", "RFC 3339"),
    ("2025-02-30T00:00:00Z,orchard,o1,weight,41.5", "impossible"),
    ("2025-05-01T00:00:00Z,orchard,o1,mass,41.5", "quantity 'mass' is unknown"),
    ("2025-05-01T00:00:00Z,orchard,,weight,41.5", "belongs to a hive"),
    ("2025-05-01T00:00:00Z,orchard,o1,rain,1", "belongs to the yard"),
    ("2025-05-01T00:00:00Z,,o1,weight,41.5", "yard"),
    ("2025-05-01T00:00:00Z,or chard,o1,weight,41.5", "yard"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,", "no number"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,NaN", "no number"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,inf", "no number"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,heavy", "no number"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,1e999", "impossible"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,700", "impossible"),
    ('2025-05-01T00:00:00Z,orchard,o1,weight,"41,5"', "decimal point"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight,41,5", "decimal comma"),
    ("2025-05-01T00:00:00Z,orchard,o1,weight", "4 fields"),
    ('2025-05-01T00:00:00Z,"orchard,o1,weight,41.5', "quotes"),
    ("2025-05-01T00:00:00Z,orch\xe4rd,o1,weight,41.5", "UTF-8"),
]


@pytest.mark.parametrize(("line", "reason"), BAD)
def test_a_bad_row_is_reported_by_number_and_reason_and_the_others_are_kept(tmp_path, line, reason):
    text = (HEADER + row(START)).encode() + line.encode("latin-1") + b"\n" + row(START + HOUR).encode()
    batches, bad = read(write(tmp_path, text))
    assert [time for time, _ in merged(batches)["orchard", WEIGHT]] == [START, START + HOUR]
    ((number, why, _),) = bad
    assert number == 3
    assert reason in why


FIELD = st.one_of(
    st.sampled_from(
        ["", "o1", "weight", "rain", "nan", "41.5", "-1e3", "2025-05-01T00:00:00Z", "2025-05-01T00:00+02", '"', " "]
    ),
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\n"), max_size=5),
)


@given(
    st.lists(
        st.one_of(
            st.just("2025-05-01T00:00:00Z,orchard,o1,weight,41.5"),
            st.just("2025-05-01T02:00:00.25+02:00,orchard,,rain,0.5"),
            st.lists(FIELD, min_size=1, max_size=6).map(",".join),
            st.tuples(FIELD, FIELD).map(lambda it: f"{it[0]},orchard,o1,weight,{it[1]}"),
        ),
        max_size=6,
    ),
)
def test_the_fast_way_and_the_exact_way_agree(lines):
    """Whatever stands in a block: where the fast way takes it, the exact way reads the same."""
    block = Block("".join(line + "\n" for line in lines).encode(), 2, 0)
    parser = Parser(lambda *_: None)
    fast = parser._fast(block)
    exact = parser._exact(block)
    if fast is not None:
        for quick, slow in zip(fast, exact, strict=True):
            assert quick.tolist() == slow.tolist()


def test_a_clean_block_takes_the_fast_way():
    parser = Parser(lambda *_: None)
    block = Block((row(START) + row(START, 0.2, "", "rain")).encode(), 2, 0)
    assert parser._fast(block) is not None


# ---------------------------------------------------------------- what a file cannot be


@pytest.mark.parametrize(
    ("content", "message", "hint"),
    [
        (
            "time;yard;hive;quantity;value\n2025-05-01T00:00:00Z;orchard;o1;weight;41,5\n",
            "instead of commas",
            "decimal points",
        ),
        ("time\tyard\thive\tquantity\tvalue\n", "tabs", "commas"),
        ("2025-05-01T00:00:00Z,orchard,o1,weight,41.5\n", "begins with", "add that line"),
        ("time,hive,yard,quantity,value\n", "begins with", "reorder"),
        ("", "empty", ""),
        ("time,yard,hive,quantity,value\n".encode("utf-16"), "UTF-8", "UTF-8"),
        (gzip.compress((HEADER + row(START) * 1000).encode(), mtime=0)[:-20], "gzip", "again"),
        (gzip.compress(b"x", mtime=0)[:5], "gzip", "again"),
        (b"\x1f\x8b" + b"nonsense" * 10, "gzip", "again"),
        (b"x" * 3_000_000, "longer than", ""),
    ],
)
def test_a_file_in_another_form_is_an_error_that_says_what_to_do(tmp_path, content, message, hint):
    path = write(tmp_path, content)
    with pytest.raises(InputError) as caught:
        read(path, block_bytes=100_000)
    assert message in str(caught.value)
    assert hint in caught.value.hint
    assert str(path) in str(caught.value)


def test_a_missing_file_and_a_folder_are_errors(tmp_path):
    for path in (tmp_path / "nowhere.csv", tmp_path):
        with pytest.raises(InputError, match="cannot read"):
            read(path)


def test_progress_reaches_the_size_of_the_file(tmp_path):
    path = write(tmp_path, gzip.compress((HEADER + "".join(row(START + n * MINUTE) for n in range(5000))).encode()))
    seen: list[int] = []
    read(path, block_bytes=20_000, progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == path.stat().st_size


def test_leaving_off_early_leaves_no_thread_behind(tmp_path):
    path = write(tmp_path, HEADER + "".join(row(START + n * HOUR) for n in range(5000)))
    batches = read_readings(path, block_bytes=2000)
    next(batches)
    batches.close()
    import threading  # noqa: PLC0415 - looked at only here

    assert not [thread for thread in threading.enumerate() if thread.name == "unpack"]


# ---------------------------------------------------------------- writing


@pytest.mark.parametrize("name", ["out.csv", "out.csv.gz"])
def test_what_is_written_is_read_again_bit_for_bit(tmp_path, name):
    rng = np.random.default_rng(7)
    time = START + np.cumsum(rng.integers(1, 1_000_000, 500))
    batch = {
        "orchard": {
            WEIGHT: Series(time, rng.normal(40, 5, 500)),
            Stream(None, Quantity.RAIN): Series(time[::3].copy(), rng.exponential(0.1, len(time[::3]))),
        },
    }
    path = tmp_path / name
    assert write_readings(path, [batch]) == 500 + 167
    batches, bad = read(path)
    assert bad == []
    found = merged(batches)
    for stream, series in batch["orchard"].items():
        assert found["orchard", stream] == list(zip(series.time.tolist(), series.value.tolist(), strict=True))


def test_other_readers_see_the_same_table(tmp_path):
    """pandas and the standard csv module are the references."""
    path = tmp_path / "out.csv"
    write_readings(path, [{"orchard": {WEIGHT: Series(np.array([START, START + HOUR]), np.array([41.5, 41.25]))}}])
    assert list(csv.reader(io.StringIO(path.read_text()))) == [
        ["time", "yard", "hive", "quantity", "value"],
        ["2025-05-01T00:00:00Z", "orchard", "o1", "weight", "41.5"],
        ["2025-05-01T01:00:00Z", "orchard", "o1", "weight", "41.25"],
    ]
    table = pd.read_csv(path, parse_dates=["time"])
    assert [moment.timestamp() * 1000 for moment in table["time"]] == [START, START + HOUR]


def test_a_file_that_cannot_be_written_is_an_error_and_leaves_nothing(tmp_path):
    with pytest.raises(InputError, match="cannot write"):
        write_readings(tmp_path / "nowhere" / "out.csv", [])

    def broken():
        yield {"orchard": {WEIGHT: Series(np.array([START]), np.array([41.5]))}}
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_readings(tmp_path / "out.csv", broken())
    assert list(tmp_path.iterdir()) == []

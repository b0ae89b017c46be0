"""Logbook files: what is read, what is refused by number and reason, and writing them again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.errors import InputError
from hivemon.intake.files import read_logbook, write_logbook
from hivemon.model import Entry, LogEntry

HEADER = "time,hive,entry,amount,note\n"
START = 1_746_057_600_000
"""2025-05-01T00:00:00Z."""


def read(folder, text: str | bytes):
    path = folder / "logbook.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    bad: list[tuple[int, str, str]] = []
    return read_logbook(path, rejected=lambda *it: bad.append(it)), bad


def test_a_logbook_is_read_and_sorted_by_time(tmp_path):
    text = (
        HEADER
        + '2025-05-03T10:00:00+02:00,o1,super-on,12.5,"drawn comb, ""old"""\n'
        + "2025-05-01T00:00:00Z,o2,mite-wash,7,bees=300\n"
        + "2025-05-02T00:00:00Z,o1,inspect,,\n"
    )
    entries, bad = read(tmp_path, text)
    assert bad == []
    assert entries == [
        LogEntry(time=START, hive="o2", entry=Entry.MITE_WASH, amount=7.0, note="bees=300"),
        LogEntry(time=START + 86_400_000, hive="o1", entry=Entry.INSPECT),
        LogEntry(time=START + 201_600_000, hive="o1", entry=Entry.SUPER_ON, amount=12.5, note='drawn comb, "old"'),
    ]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("2025-05-01,o1,inspect,,", "RFC 3339"),
        ("2025-05-01T00:00:00Z,,inspect,,", "hive"),
        ("2025-05-01T00:00:00Z,o1,looked,,", "known: inspect"),
        ('2025-05-01T00:00:00Z,o1,feed,"2,5",', "decimal point"),
        ("2025-05-01T00:00:00Z,o1,feed,nan,", "no number"),
        ("2025-05-01T00:00:00Z,o1,feed,-2,", "impossible"),
        ("2025-05-01T00:00:00Z,o1,feed,2,syrup, thin", "quotes"),
        ("2025-05-01T00:00:00Z,o1,feed", "3 fields"),
    ],
)
def test_a_bad_row_is_reported_by_number_and_reason(tmp_path, row, reason):
    entries, bad = read(tmp_path, HEADER + "2025-05-01T00:00:00Z,o1,note,,\n" + row + "\n")
    assert len(entries) == 1
    ((line, why, _),) = bad
    assert line == 3
    assert reason in why


def test_line_numbers_stay_right_after_a_note_of_several_lines(tmp_path):
    """RFC 4180 allows line breaks within quotes."""
    entries, bad = read(tmp_path, HEADER + '2025-05-01T00:00:00Z,o1,note,,"a\nb"\nnonsense\n')
    assert entries[0].note == "a\nb"
    assert [line for line, _, _ in bad] == [4]


@pytest.mark.parametrize(
    "text", ["", "time;hive;entry;amount;note\n", HEADER + '2025-05-01T00:00:00Z,o1,note,,"open', b"\xff\xfet\0"]
)
def test_what_is_no_logbook_is_an_error(tmp_path, text):
    with pytest.raises(InputError, match=r"logbook\.csv"):
        read(tmp_path, text)


@given(
    st.lists(
        st.builds(
            LogEntry,
            time=st.integers(START, START + 10**10),
            hive=st.sampled_from(["o1", "o-2"]),
            entry=st.sampled_from(Entry),
            amount=st.none() | st.integers(0, 10_000).map(lambda n: n / 100),
            note=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20),
        ),
        max_size=5,
    ),
)
def test_what_is_written_is_read_again(tmp_path_factory, entries):
    path = tmp_path_factory.mktemp("logbook") / "l.csv.gz"
    assert write_logbook(path, entries) == len(entries)
    assert read_logbook(path) == sorted(entries, key=lambda entry: entry.time)

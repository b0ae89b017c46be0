"""Hypothesis strategies for everything the store keeps: odd unicode, extreme numbers, empty texts."""

from hypothesis import strategies as st

from hivemon.model import Advisory, Entry, Event, HiveDay, Kind, LogEntry, Quantity, Reading, Urgency
from hivemon.store.readings import EARLIEST, LATEST

finite = st.floats(allow_nan=False, allow_infinity=False)
numbers = st.floats(allow_nan=False)
times = st.integers(EARLIEST, LATEST) | st.integers(1_750_000_000_000, 1_750_000_000_005)
whole_numbers = st.integers(-(2**63), 2**63 - 1)
awkward = st.text(st.sampled_from("ab ,=\"'\\\n\r\t{}[]é蜂🐝\u2028\x00#")) | st.text()
names = awkward.filter(bool)

readings = st.builds(
    Reading,
    time=times,
    yard=names,
    hive=st.none() | names,
    quantity=st.sampled_from(Quantity),
    value=finite,
    stamped=st.booleans(),
)
entries = st.builds(
    LogEntry,
    time=whole_numbers,
    hive=awkward,
    entry=st.sampled_from(Entry),
    amount=st.none() | finite,
    note=awkward,
    id=st.just(0),
)
events = st.builds(
    Event,
    id=names,
    kind=st.sampled_from(Kind),
    yard=names,
    hive=st.none() | names,
    onset=whole_numbers,
    onset_first=whole_numbers,
    raised=times,
    withdrawn=st.none() | whole_numbers,
    withdrawn_because=awkward,
    size=st.none() | numbers,
    unit=awkward,
    confidence=numbers,
    reason=awkward,
    summary=awkward,
    evidence=st.dictionaries(awkward, numbers, max_size=4),
)
advisories = st.builds(
    Advisory,
    id=names,
    yard=names,
    hive=st.none() | names,
    raised=times,
    updated=whole_numbers,
    closed=st.none() | whole_numbers,
    urgency=st.sampled_from(Urgency),
    title=awkward,
    saw=awkward,
    means=awkward,
    could_also_be=st.lists(awkward, max_size=3),
    do=st.lists(awkward, max_size=3),
    do_by=st.none() | whole_numbers,
    cautions=st.lists(awkward, max_size=3),
    events=st.lists(awkward, max_size=3),
)
hive_days = st.builds(
    HiveDay,
    yard=names,
    hive=names,
    date=st.dates().map(str),
    start=times,
    dusk=whole_numbers,
    end=whole_numbers,
    dawn_weight=st.none() | numbers,
    dusk_weight=st.none() | numbers,
    net_gain=st.none() | numbers,
    handled=numbers,
    uncertainty=st.none() | numbers,
    coverage=numbers,
)

"""The nouns: cutting series, writing moments, and the contract's field names."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.model import (
    EMPTY,
    HIVE_QUANTITIES,
    UNITS,
    YARD_QUANTITIES,
    Advisory,
    Entry,
    Event,
    HiveDay,
    Kind,
    Quantity,
    Series,
    Urgency,
    advisory_to_json,
    event_to_json,
    hive_day_to_json,
    rfc3339,
)

NOON = 1_767_268_800_000  # 2026-01-01T12:00:00Z


def series(*times: int) -> Series:
    """Return a series whose values are its times."""
    return Series(np.array(times, np.int64), np.array(times, np.float64))


def test_cuts_take_the_start_and_leave_the_end() -> None:
    whole = series(10, 20, 30, 40)
    assert whole.since(20).time.tolist() == [20, 30, 40]
    assert whole.until(20).time.tolist() == [10]
    assert whole.between(20, 40).time.tolist() == [20, 30]
    assert EMPTY.between(0, 9).time.size == 0


@given(st.sets(st.integers(0, 1_000)), st.integers(-5, 1_005))
def test_until_and_since_split_a_series_without_loss(times: set[int], cut: int) -> None:
    whole = series(*sorted(times))
    parts = np.concatenate([whole.until(cut).time, whole.since(cut).time])
    assert parts.tolist() == sorted(times)


@pytest.mark.parametrize(
    ("millis", "text"),
    [
        (0, "1970-01-01T00:00:00Z"),
        (NOON, "2026-01-01T12:00:00Z"),
        (NOON + 250, "2026-01-01T12:00:00.250Z"),
        (482_196_050_520, "1985-04-12T23:20:50.520Z"),  # RFC 3339, section 5.8, first example
        (851_042_397_000, "1996-12-20T00:39:57Z"),  # RFC 3339, section 5.8, second example, in UTC
    ],
)
def test_moments_are_written_as_rfc_3339_in_utc(millis: int, text: str) -> None:
    assert rfc3339(millis) == text


def test_every_quantity_belongs_to_a_hive_or_a_yard_and_has_a_unit() -> None:
    assert HIVE_QUANTITIES | YARD_QUANTITIES == set(Quantity) == set(UNITS)
    assert not HIVE_QUANTITIES & YARD_QUANTITIES


CONTRACT_ENTRIES = """
inspect super-on super-off harvest feed split combine requeen mite-wash treat scale-reset moved swarm-seen note
"""
CONTRACT_KINDS = """
flow-onset flow-end dearth-onset dearth-end swarm brood-cold brood-hot brood-unstable brood-recovered robbing
sensor-fault unlogged-step
"""


def test_the_words_of_the_contract_are_all_there() -> None:
    """Names that recordings, scripts and people's notes rely on."""
    assert {entry.value for entry in Entry} == set(CONTRACT_ENTRIES.split())
    assert {kind.value for kind in Kind} >= set(CONTRACT_KINDS.split())
    assert [urgency.value for urgency in Urgency] == ["now", "today", "this-week", "for-information"]


def test_an_event_is_written_in_the_fields_of_the_contract() -> None:
    event = Event(
        id="swarm-o1-1",
        kind=Kind.SWARM,
        yard="orchard",
        hive="o1",
        onset=NOON,
        onset_first=NOON,
        raised=NOON + 60_000,
        size=-2.1,
        unit="kg",
        confidence=0.9,
        reason="r",
        summary="s",
        evidence={"kg": 2.1},
    )
    written = event_to_json(event)
    contract = "id kind yard hive onset raised withdrawn size unit confidence reason summary evidence onset_first"
    assert set(contract.split()) <= set(written)
    assert written["kind"] == "swarm"
    assert written["raised"] == "2026-01-01T12:01:00Z"
    assert written["withdrawn"] is None


def test_an_advisory_is_written_in_the_fields_of_the_contract() -> None:
    advisory = Advisory(
        id="a1",
        yard="orchard",
        hive=None,
        raised=NOON,
        updated=NOON,
        urgency=Urgency.THIS_WEEK,
        title="t",
        saw="s",
        means="m",
        do_by=NOON,
    )
    written = advisory_to_json(advisory)
    contract = (
        "id yard hive raised updated closed urgency title saw means could_also_be do do_by cautions events"  # part 4
    )
    assert set(contract.split()) == set(written)
    assert written["urgency"] == "this-week"
    assert (written["do_by"], written["closed"]) == ("2026-01-01T12:00:00Z", None)


def test_a_hive_day_keeps_its_local_date_and_writes_its_moments() -> None:
    day = HiveDay(yard="orchard", hive="o1", date="2026-01-01", start=NOON, dusk=NOON, end=NOON, net_gain=0.5)
    written = hive_day_to_json(day)
    assert (written["date"], written["start"], written["net_gain"]) == ("2026-01-01", "2026-01-01T12:00:00Z", 0.5)

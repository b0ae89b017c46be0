"""RFC 3339 moments: the standard's own examples (section 5.8, from memory of the RFC), and what is none."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.intake.moments import parse_rfc3339
from hivemon.model import rfc3339


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("1985-04-12T23:20:50.52Z", "1985-04-12T23:20:50.520Z"),
        ("1996-12-19T16:39:57-08:00", "1996-12-20T00:39:57Z"),
        ("1990-12-31T23:59:60Z", "1990-12-31T23:59:59.999Z"),
        ("1990-12-31T15:59:60-08:00", "1990-12-31T23:59:59.999Z"),
        ("1937-01-01T12:00:27.87+00:20", "1937-01-01T11:40:27.870Z"),
        ("2025-05-01t06:00:00z", "2025-05-01T06:00:00Z"),
        ("2025-05-01T06:00:00-00:00", "2025-05-01T06:00:00Z"),
        ("2025-05-01T06:00:00.123456789Z", "2025-05-01T06:00:00.123Z"),
    ],
)
def test_rfc_3339_examples(text, same):
    assert rfc3339(parse_rfc3339(text)) == same


@pytest.mark.parametrize(
    "text",
    [
        "",
        "2025-05-01",
        "2025-05-01T06:00:00",
        "2025-05-01T06:00Z",
        "2025-13-01T06:00:00Z",
        "2025-02-29T06:00:00Z",
        "2025-05-01T24:00:00Z",
        "2025-05-01T06:61:00Z",
        "2025-05-01T06:00:61Z",
        "2025-05-01T06:00:00+24:00",
        "2025-05-01T06:00:00+0200",
        "01.05.2025 06:00",
        "1746079200",
        "2025-05-01T06:00:00Z ",
        "٢٠٢٥-05-01T06:00:00Z",
    ],
)
def test_what_is_no_moment_is_refused(text):
    with pytest.raises(ValueError, match="time"):
        parse_rfc3339(text)


@given(
    st.datetimes(datetime(1970, 1, 1), datetime(2100, 1, 1)),  # noqa: DTZ001 - the zone is added below
    st.integers(-23 * 60, 23 * 60),
)
def test_it_agrees_with_the_standard_library(moment, offset):
    """Python's datetime is the reference."""
    moment = moment.replace(microsecond=moment.microsecond // 1000 * 1000, tzinfo=timezone(timedelta(minutes=offset)))
    assert parse_rfc3339(moment.isoformat()) == round(moment.astimezone(UTC).timestamp() * 1000)

"""Moments as people type them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from hivemon.cli.times import moment, since_moment
from hivemon.errors import UsageError
from hivemon.model import DAY

ZONE = ZoneInfo("Europe/Brussels")
NOW = int(datetime(2026, 6, 12, 15, 0, tzinfo=ZONE).timestamp() * 1000)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("now", "2026-06-12T13:00"),
        ("14:00", "2026-06-12T12:00"),
        ("today 9:05", "2026-06-12T07:05"),
        ("yesterday 14:00", "2026-06-11T12:00"),
        ("Yesterday  14:00", "2026-06-11T12:00"),
        ("2026-06-12", "2026-06-11T22:00"),
        ("2026-06-12 14:00", "2026-06-12T12:00"),
        ("2026-01-12 14:00", "2026-01-12T13:00"),
        ("2026-06-12T14:00:00Z", "2026-06-12T14:00"),
        ("2026-06-12T14:00+05:00", "2026-06-12T09:00"),
    ],
)
def test_a_moment_is_read_in_the_yards_zone_unless_it_names_its_own(text: str, utc: str) -> None:
    expected = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert moment(text, ZONE, NOW) == expected.timestamp() * 1000


def test_yesterday_is_the_day_before_on_the_clock_across_a_clock_change() -> None:
    """On 29 March 2026 a day in Brussels had 23 hours; yesterday at 14:00 is still 14:00."""
    now = int(datetime(2026, 3, 29, 18, 0, tzinfo=ZONE).timestamp() * 1000)
    assert datetime.fromtimestamp(moment("yesterday 14:00", ZONE, now) / 1000, ZONE).hour == 14


@pytest.mark.parametrize("text", ["", "25:00", "14:61", "tomorrow", "12/6/2026", "2026-13-01", "soon"])
def test_anything_else_is_refused_with_the_forms_that_work(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        moment(text, ZONE, NOW)
    assert "2026-06-12" in caught.value.hint


def test_since_counts_days_back() -> None:
    assert since_moment("7d", ZONE, NOW) == NOW - 7 * DAY
    assert since_moment(None, ZONE, NOW) is None
    assert since_moment("2026-06-12", ZONE, NOW) == moment("2026-06-12", ZONE, NOW)

"""Moments as people type them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from hivemon.cli.entries import hour_taken, when
from hivemon.cli.times import moment, read, since_moment
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
        ("12.06.2025", "2025-06-11T22:00"),
        ("06.12.2025 14:00", "2025-12-06T13:00"),
        ("13-06-2025", "2025-06-12T22:00"),
        ("06-13-2025 14:00", "2025-06-13T12:00"),
        ("06-06-2025", "2025-06-05T22:00"),
        ("noon", "2026-06-12T10:00"),
        ("yesterday at noon", "2026-06-11T10:00"),
        ("2026-06-10 noon", "2026-06-10T10:00"),
        ("hier à midi", "2026-06-11T10:00"),
    ],
)
def test_a_moment_is_read_in_the_yards_zone_unless_it_names_its_own(text: str, utc: str) -> None:
    expected = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert moment(text, ZONE, NOW) == expected.timestamp() * 1000


def test_yesterday_is_the_day_before_on_the_clock_across_a_clock_change() -> None:
    """On 29 March 2026 a day in Brussels had 23 hours; yesterday at 14:00 is still 14:00."""
    now = int(datetime(2026, 3, 29, 18, 0, tzinfo=ZONE).timestamp() * 1000)
    assert datetime.fromtimestamp(moment("yesterday 14:00", ZONE, now) / 1000, ZONE).hour == 14


@pytest.mark.parametrize(
    "text",
    [
        *["", "25:00", "14:61", "2026-13-01", "soon", "12", "june", "mei 2026", "9.30", "16.05", "16.05 14:00"],
        *["12/6/2026", "12-06-2025", "12-6-2025 14:00", "25-06-12", "06-12-25", "0-6-2025"],
    ],
)
def test_anything_else_is_refused_with_the_forms_that_work(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        moment(text, ZONE, NOW)
    assert "2026-06-12" in caught.value.hint


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("gisteren 16:00", "2026-06-16 16:00"),
        ("yesterday 16h", "2026-06-16 16:00"),
        ("14u15", "2026-06-17 14:15"),
        ("2 pm", "2026-06-17 14:00"),
        ("12 am", "2026-06-17 00:00"),
        ("12 juni om 14 uur", "2026-06-12 14:00"),
        ("12 juin 2025 à 14h30", "2025-06-12 14:30"),
        ("16.05.2025 14:15", "2025-05-16 14:15"),
        ("16/5 14:15", "2026-05-16 14:15"),
        ("5/31 14:15", "2026-05-31 14:15"),
        ("1 mai 9.30", "2026-05-01 09:30"),
        ("am Samstag 14 Uhr", None),
        ("zaterdag 14:00", "2026-06-13 14:00"),
        ("eergisteren 15:00", "2026-06-15 15:00"),
        ("hier 16:00", "2026-06-16 16:00"),
        ("2 hours ago", "2026-06-17 16:00"),
        ("25 december 14:00", "2025-12-25 14:00"),
    ],
)
def test_a_day_may_be_said_in_ones_own_words(text: str, said: str | None) -> None:
    """On Wednesday 17 June 2026, 18:00; what is left open lies in the past. What is not understood is refused."""
    now = int(datetime(2026, 6, 17, 18, 0, tzinfo=ZONE).timestamp() * 1000)
    if said is None:
        with pytest.raises(UsageError):
            read(text, ZONE, now)
        return
    meant = read(text, ZONE, now)
    assert (f"{meant.when:%Y-%m-%d %H:%M}", meant.hour) == (said, True)
    assert meant.when.tzinfo is ZONE


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("yesterday", "16"),
        ("zaterdag", "13"),
        ("3 days ago", "14"),
        ("vor 3 Tagen", "14"),
        ("2026-06-12", "12"),
        ("12 June", "12"),
    ],
)
def test_a_bare_day_of_the_logbook_is_its_midday(text: str, day: str) -> None:
    """Hives are opened by day: midnight would be far from whatever the scale saw."""
    now = int(datetime(2026, 6, 17, 18, 0, tzinfo=ZONE).timestamp() * 1000)
    assert read(text, ZONE, now).hour is False
    assert f"{when(text, ZONE, now).when:%Y-%m-%d %H:%M}" == f"2026-06-{day} 12:00"
    assert f"{read(text, ZONE, now).when:%H:%M}" == "00:00", "where a span begins, the day begins"


def test_today_without_an_hour_is_not_in_the_future() -> None:
    now = int(datetime(2026, 6, 17, 9, 0, tzinfo=ZONE).timestamp() * 1000)
    assert when("today", ZONE, now).millis == now
    with pytest.raises(UsageError, match="has not come yet"):
        when("morgen", ZONE, now)


def test_a_time_of_day_that_has_not_come_is_not_quietly_yesterdays() -> None:
    """In the morning, 14:00 and noon are refused alike, with the hour it is and what to write for yesterday's."""
    now = int(datetime(2026, 6, 17, 8, 55, tzinfo=ZONE).timestamp() * 1000)
    for text, hour in (("14:00", "14:00"), ("noon", "12:00"), ("midi", "12:00"), ("today 14:00", "14:00")):
        with pytest.raises(UsageError, match="has not come yet") as caught:
            when(text, ZONE, now)
        assert f"it is 08:55 there; write 'yesterday {hour}' for that" in caught.value.hint


def test_a_date_that_can_be_two_days_is_asked_back_with_both() -> None:
    for text in ("12/6", "12-06-2025"):
        with pytest.raises(UsageError, match="12 June or 6 December"):
            read(text, ZONE, NOW)


@pytest.mark.parametrize(
    ("at", "clock", "said", "again"),
    [
        ("today", (8, 55), "so the time now, 08:55, is taken", "today 07:00"),
        ("today", (12, 30), "so midday is taken", "today 11:00"),
        ("today", (15, 0), "so midday is taken", "today 15:00"),
        ("today", (0, 20), "so the time now, 00:20, is taken", "today 00:00"),
        ("gisteren", (8, 55), "so midday is taken", "gisteren 16:00"),
    ],
)
def test_what_was_taken_for_a_bare_day_is_said_as_it_is(at, clock, said, again) -> None:
    """And the hour given as an example has come, so that the command does as it stands there."""
    now = int(datetime(2026, 6, 17, *clock, tzinfo=ZONE).timestamp() * 1000)
    sentence = hour_taken(when(at, ZONE, now), at, 7, now)
    assert said in sentence
    assert f"`hivemon log correct 7 --at '{again}'`" in sentence
    assert when(again, ZONE, now).millis <= now


def test_since_counts_days_back() -> None:
    assert since_moment("7d", ZONE, NOW) == NOW - 7 * DAY
    assert since_moment(None, ZONE, NOW) is None
    assert since_moment("2026-06-12", ZONE, NOW) == moment("2026-06-12", ZONE, NOW)

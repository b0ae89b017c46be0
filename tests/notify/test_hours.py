"""The yard's clock where it is put forward and back, and a row for every reason of the morning note."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from notify_samples import USUAL, ZONE, at

from hivemon.config_notify import NotifySettings
from hivemon.model import DAY, HOUR, MINUTE
from hivemon.notify.hours import NoteReason, is_quiet, judge_note, local, moment

SATURDAY = date(2026, 6, 6)

TABLE = {
    "its minute": ("2026-06-06 06:30", date(2026, 6, 5), USUAL, NoteReason.DUE),
    "the very first one": ("2026-06-06 06:30", None, USUAL, NoteReason.DUE),
    "a little late": ("2026-06-06 10:30", date(2026, 6, 5), USUAL, NoteReason.DUE),
    "after days without": ("2026-06-06 06:31", date(2026, 5, 1), USUAL, NoteReason.DUE),
    "a minute early": ("2026-06-06 06:29", date(2026, 6, 5), USUAL, NoteReason.NOT_YET),
    "just after midnight": ("2026-06-06 00:00", date(2026, 6, 5), USUAL, NoteReason.NOT_YET),
    "sent already": ("2026-06-06 06:30", SATURDAY, USUAL, NoteReason.SENT_TODAY),
    "the clock was wrong yesterday": ("2026-06-06 06:30", date(2027, 1, 1), USUAL, NoteReason.SENT_TODAY),
    "no morning any more": ("2026-06-06 10:31", date(2026, 6, 5), USUAL, NoteReason.TOO_LATE),
    "set up in the afternoon": ("2026-06-06 15:00", None, USUAL, NoteReason.TOO_LATE),
    "on holiday": ("2026-06-06 06:30", None, NotifySettings(away=["2026-06-06/2026-06-06"]), NoteReason.AWAY),
    "home again": ("2026-06-06 06:30", None, NotifySettings(away=["2026-06-01/2026-06-05"]), NoteReason.DUE),
}


@pytest.mark.parametrize("row", TABLE)
def test_each_reason_of_the_note(row: str) -> None:
    now, last, settings, reason = TABLE[row]
    verdict = judge_note(at(now), last, settings, ZONE)
    assert (verdict.reason, verdict.due, verdict.date) == (reason, reason is NoteReason.DUE, SATURDAY)


def test_every_reason_of_the_note_has_a_row() -> None:
    assert {row[-1] for row in TABLE.values()} == set(NoteReason)


@pytest.mark.parametrize("zone", ["Europe/Brussels", "America/St_Johns", "Australia/Lord_Howe", "Africa/Casablanca"])
@pytest.mark.parametrize("morning", ["00:00", "02:30", "06:30", "23:59"])
def test_a_year_has_one_note_a_day_at_the_set_time_whatever_the_clocks_do(zone: str, morning: str) -> None:
    """Lord Howe's clocks move by half an hour, Morocco's back for Ramadan (IANA tz database)."""
    here, settings = ZoneInfo(zone), NotifySettings(morning=morning)
    now = moment(date(2026, 1, 1), settings.morning_time, here) - HOUR
    last, sent = None, []
    while len(sent) < 365:
        verdict = judge_note(now, last, settings, here)
        if verdict.due:
            last = verdict.date
            sent.append((verdict.date, local(now, here).strftime("%H:%M")))
        now += 15 * MINUTE
    assert [day for day, _ in sent] == [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]
    off = [(day, clock) for day, clock in sent if clock != morning]
    assert len(off) <= 1
    if off:
        assert (morning, off[0][1]) in {("02:30", "03:30"), ("02:30", "03:00")}, "the hour that day left out"


def test_clocks_in_brussels_go_forward_on_the_last_sunday_of_march() -> None:
    """29 March 2026, 01:00 UTC (EU directive 2000/84/EC): a note at half past six comes an hour of UTC earlier."""
    before = moment(date(2026, 3, 28), USUAL.morning_time, ZONE)
    after = moment(date(2026, 3, 29), USUAL.morning_time, ZONE)
    assert after - before == DAY - HOUR
    assert after == 1_774_758_600_000  # 2026-03-29T04:30:00Z


def test_quiet_hours_of_the_middle_of_the_day() -> None:
    """They need not go over midnight."""
    siesta = NotifySettings(quiet="13:00/15:00")
    found = {clock: is_quiet(at(f"2026-06-06 {clock}"), siesta, ZONE) for clock in ("12:59", "13:00", "14:59", "15:00")}
    assert found == {"12:59": False, "13:00": True, "14:59": True, "15:00": False}

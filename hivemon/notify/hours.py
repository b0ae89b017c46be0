"""The yard's clock: quiet hours, holidays, and when the morning note is due. Pure; safe where clocks are put forward.

A local time of day that a clock change leaves out is taken as long after midnight as it would have been; one that
happens twice is taken the first time (PEP 495, fold=0). A date has one morning note, whatever the clocks do.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import HOUR, Millis

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.config_notify import NotifySettings

LATEST: Millis = 4 * HOUR
"""A morning note that could not be written for this long after its time is no morning note any more. Our rule."""
SOON: Millis = 2 * HOUR
"""Something for today that arises this shortly before the morning note waits for it. Our rule."""


class NoteReason(StrEnum):
    """Why a morning note is due or not."""

    DUE = "due"
    NOT_YET = "not-yet"
    SENT_TODAY = "sent-today"
    TOO_LATE = "too-late"
    AWAY = "away"


class NoteVerdict(NamedTuple):
    """Whether a morning note is due, and why; `date` is the local day it would be of."""

    due: bool
    reason: NoteReason
    date: date


def judge_note(now: Millis, last: date | None, settings: NotifySettings, zone: ZoneInfo) -> NoteVerdict:
    """Return whether a yard's morning note is due at `now`; `last` is the local day of the last one, if any."""
    today = local(now, zone).date()
    due_at = moment(today, settings.morning_time, zone)
    if last is not None and last >= today:
        reason = NoteReason.SENT_TODAY
    elif now < due_at:
        reason = NoteReason.NOT_YET
    elif is_away(now, settings, zone):
        reason = NoteReason.AWAY
    elif now - due_at > LATEST:
        reason = NoteReason.TOO_LATE
    else:
        reason = NoteReason.DUE
    return NoteVerdict(reason is NoteReason.DUE, reason, today)


def note_soon(now: Millis, settings: NotifySettings, zone: ZoneInfo) -> bool:
    """Tell whether the next morning note is so near that what is for today can wait for it."""
    day = local(now, zone).date()
    coming = (moment(day + timedelta(days=ahead), settings.morning_time, zone) for ahead in (0, 1))
    return any(0 < due - now <= SOON for due in coming)


def is_quiet(now: Millis, settings: NotifySettings, zone: ZoneInfo) -> bool:
    """Tell whether `now` lies in the quiet hours: their first minute does, the minute they end does not."""
    hours = settings.quiet_hours
    if hours is None:
        return False
    clock = local(now, zone).time()
    if hours.begin < hours.end:
        return hours.begin <= clock < hours.end
    return clock >= hours.begin or clock < hours.end


def is_away(now: Millis, settings: NotifySettings, zone: ZoneInfo) -> bool:
    """Tell whether the local day of `now` is one of a holiday's, its first and last included."""
    today = local(now, zone).date()
    return any(absence.first <= today <= absence.last for absence in settings.absences)


def moment(day: date, clock: time, zone: ZoneInfo) -> Millis:
    """Return a local date and time of day as ms UTC."""
    return round(datetime.combine(day, clock, tzinfo=zone).timestamp() * 1000)


def local(now: Millis, zone: ZoneInfo) -> datetime:
    """Return a moment on the yard's clock."""
    return datetime.fromtimestamp(now / 1000, UTC).astimezone(zone)

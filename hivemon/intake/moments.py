"""RFC 3339 moments, strictly: a date, a time and always an offset from UTC."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from hivemon.model import MINUTE, rfc3339

if TYPE_CHECKING:
    from hivemon.model import Millis

FUTURE: Millis = 10 * MINUTE
"""Clocks differ by minutes: a time further ahead than this, of now or of its receipt, comes from a wrong clock or a
slip of the pen. Our rule, for messages, files and the logbook alike."""

_RFC3339 = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[Tt ](\d\d):(\d\d):(\d\d)(?:\.(\d{1,9}))?(?:([Zz])|([+-])(\d\d):(\d\d))\Z",
    re.ASCII,
)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def parse_rfc3339(text: str) -> Millis:
    """Return a moment as milliseconds UTC (finer fractions are cut off); a leap second :60 becomes the last of :59.

    Raises:
        ValueError: It is not RFC 3339, has no offset, or names a day or hour that is not.
    """
    found = _RFC3339.match(text)
    if not found:
        raise ValueError(f"the time {text!r} is not RFC 3339 (like 2025-05-01T06:00:00Z or 2025-05-01T08:00:00+02:00)")
    year, month, day, hour, minute, second = (int(part) for part in found.groups()[:6])
    millis = int((found[7] or "0").ljust(3, "0")[:3])
    if second == 60:  # noqa: PLR2004 - RFC 3339 section 5.7
        second, millis = 59, 999
    offset = timedelta()
    if found[9]:
        hours, minutes = int(found[10]), int(found[11])
        if hours > 23 or minutes > 59:  # noqa: PLR2004 - RFC 3339 section 5.6: time-hour, time-minute
            raise ValueError(f"the time {text!r} has an impossible offset")
        offset = timedelta(hours=hours, minutes=minutes) * (-1 if found[9] == "-" else 1)
    try:
        moment = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    except ValueError as error:
        raise ValueError(f"the time {text!r} is impossible: {error}") from None
    return (moment - _EPOCH - offset) // timedelta(milliseconds=1) + millis


def latest() -> Millis:
    """Return the last moment at which what a file says can have happened."""
    return int(time.time() * 1000) + FUTURE


def not_yet_come(moment: Millis) -> str:
    """Return why a row of a file is refused whose time lies beyond now and `FUTURE`."""
    return f"its time {rfc3339(moment)} lies in the future; mind the year"

"""Moments as people type them, in the yard's time zone, to milliseconds UTC."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from hivemon.errors import UsageError

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.model import Millis

FORMS = "write 2026-06-12, '2026-06-12 14:00', 14:00 or 'yesterday 14:00' (the yard's time), or with a zone"


def moment(text: str, zone: ZoneInfo, now: Millis) -> Millis:
    """Return the moment meant by `text` in `zone`; a bare time of day is today's. Raises UsageError."""
    here = datetime.fromtimestamp(now / 1000, zone)
    words = text.strip().lower()
    if words == "now":
        return now
    if found := re.fullmatch(r"(?:(today|yesterday)\s+)?(\d{1,2}):(\d{2})", words):
        day, hour, minute = found.groups()
        try:
            that = here.replace(hour=int(hour), minute=int(minute), second=0, microsecond=0, fold=0)
        except ValueError as error:
            raise UsageError(f"{text!r} is no time of day", hint=FORMS) from error
        return _millis(that - timedelta(days=1) if day == "yesterday" else that)
    try:
        that = datetime.fromisoformat(text.strip())
    except ValueError as error:
        raise UsageError(f"{text!r} is no moment hivemon understands", hint=FORMS) from error
    return _millis(that if that.tzinfo else that.replace(tzinfo=zone))


def since_moment(text: str | None, zone: ZoneInfo, now: Millis | None = None) -> Millis | None:
    """Return where `--since` begins: `7d` counts days back from now, anything else is a moment; None for None."""
    if text is None:
        return None
    current = int(datetime.now(zone).timestamp() * 1000) if now is None else now
    if found := re.fullmatch(r"(\d{1,5})d", text.strip()):
        return current - int(found.group(1)) * 86_400_000
    return moment(text, zone, current)


def _millis(that: datetime) -> Millis:
    return int(that.timestamp() * 1000)

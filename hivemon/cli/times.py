"""Moments as people type them, in the yard's time zone, to milliseconds UTC.

ISO 8601, a time of day, or a day in a person's own words: "gisteren 14u30", "12 juin", "vor 3 Tagen". The words are
read by a library that knows them in many languages; the time of day is taken off first, since it guesses at those.

In figures, 12.06.2025 is day first (DIN 5008, as everywhere that dates have dots); 12/6 and 12-06-2025 are read where
they can be one day only.
"""

from __future__ import annotations

import re
from calendar import month_name
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import UsageError

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.model import Millis

FORMS = "write 2026-06-12, '2026-06-12 14:00', 14:00, 'yesterday 14:00' or '12 June 14:00' (the yard's time)"
LANGUAGES = ["en", "nl", "de", "fr", "es", "it"]
"""Those whose words are known in the headings of tables, too."""

_CLOCK = re.compile(
    r"(?:^|\s)(?:(?:at|om|um|à|alle|a las)\s+)?(?P<hour>\d{1,2})(?:(?P<sign>[:.hu])(?P<minute>\d{2}))?"
    r"(?:\s*(?P<half>am|pm)|\s*(?P<word>h|u|uur|uhr|heures?))?$"
)
_NOON = re.compile(r"\s*(?:\b(?:at|à|um|alle|a)\s+)?\b(?:noon|midday|midi|mittags?|mezzogiorno|mediod[ií]a)\b")
"""Read as 12:00, so that it is today's as any time of day: the library would take yesterday's in the morning."""
_LOOSE = re.compile(r"(\d{1,2})(?:/(\d{1,2})(?:/\d{2,4})?|-(\d{1,2})-(\d{2,4}))")
"""Dates whose first figure may be the day or the month."""
_DATE = re.compile(r"\d{1,2}(/\d{1,2}(/\d{2,4})?|([.-])\d{1,2}\3\d{2,4})")
"""Dates in figures that are read; 16.05 alone is a time of day as well."""
_NEAR = timedelta(days=3 * 366)
"""A day without a year lies less far back; else the words were not understood."""


class Meant(NamedTuple):
    """A moment on a clock of the yard's, and whether the hour was said; else it is that day's midnight."""

    when: datetime
    hour: bool

    @property
    def millis(self) -> Millis:
        """The moment in milliseconds UTC."""
        return round(self.when.timestamp() * 1000)


def moment(text: str, zone: ZoneInfo, now: Millis) -> Millis:
    """Return the moment meant by `text` in `zone`; a bare day begins at midnight. Raises UsageError."""
    return read(text, zone, now).millis


def read(text: str, zone: ZoneInfo, now: Millis) -> Meant:
    """Return what `text` means; a bare time of day is today's. Raises UsageError."""
    here = datetime.fromtimestamp(now / 1000, zone)
    words = " ".join(text.lower().split())
    if words == "now":
        return Meant(here, True)
    if not words:
        raise UsageError("no moment was given", hint=FORMS)
    if _NOON.search(words):
        return read(f"{_NOON.sub('', words)} 12:00", zone, now)
    try:
        that = datetime.fromisoformat(text.strip())
    except ValueError:
        return _in_words(text, words, here)
    return Meant(that if that.tzinfo else that.replace(tzinfo=zone), len(text.strip()) > len("2026-06-12"))


def since_moment(text: str | None, zone: ZoneInfo, now: Millis | None = None) -> Millis | None:
    """Return where `--since` begins: `7d` counts days back from now, anything else is a moment; None for None."""
    if text is None:
        return None
    current = int(datetime.now(zone).timestamp() * 1000) if now is None else now
    if found := re.fullmatch(r"(\d{1,5})d", text.strip()):
        return current - int(found.group(1)) * 86_400_000
    return moment(text, zone, current)


def _in_words(text: str, words: str, here: datetime) -> Meant:
    clock = _CLOCK.search(words)
    if clock and not any(clock[part] for part in ("minute", "half", "word")):
        clock = None  # the day of a month, or a year
    day = words[: clock.start()].strip(" ,") if clock else words
    if clock and clock["sign"] == "." and not day:
        clock, day = None, words  # a day in May as well as five past
    that = _day(text, day, here)
    if clock is None:
        hour = that.time() not in (time(), here.time())
        return Meant(that if hour else that.replace(hour=0, minute=0, second=0, microsecond=0), hour)
    try:
        hour_of = int(clock["hour"]) % 12 + 12 * (clock["half"] == "pm") if clock["half"] else int(clock["hour"])
        said = that.replace(hour=hour_of, minute=int(clock["minute"] or 0), second=0, microsecond=0, fold=0)
    except ValueError as error:
        raise UsageError(f"{text!r} is no time of day", hint=FORMS) from error
    return Meant(said, True)


def _day(text: str, day: str, here: datetime) -> datetime:
    """Return the day that words mean, in the past where they leave it open; raises UsageError."""
    if day in ("", "today", "yesterday"):
        return here - timedelta(days=day == "yesterday")
    order = _order(text, day)
    in_words = _DATE.fullmatch(day) or re.search(r"[^\W\d_]", day)
    found = _looked_up(day, here, order) if in_words else None
    has_year = re.search(r"\d{4}", day) or day.count("/") == 2  # noqa: PLR2004 - three parts
    if found is None or (not has_year and abs(found - here.replace(tzinfo=None)) > _NEAR):
        raise UsageError(f"{text!r} is no moment hivemon understands", hint=FORMS)
    return found.replace(tzinfo=here.tzinfo)


def _order(text: str, day: str) -> str:
    """Return the order of day and month in a date in figures; raises UsageError where it may be either."""
    if not (loose := _LOOSE.fullmatch(day)):
        return "DMY"
    first, second = int(loose[1]), int(loose[2] or loose[3])
    if loose[4] and len(loose[4]) < 4:  # noqa: PLR2004 - 25-06-12 may begin with the year
        raise UsageError(f"{text!r} can be several days", hint="write the month in letters, or 2026-06-12")
    if 0 < first != second > 0 and max(first, second) <= 12:  # noqa: PLR2004 - months
        either = [f"{d} {month_name[m]}" for d, m in ((first, second), (second, first))]
        raise UsageError(
            f"{text!r} can be two days: {' or '.join(either)}", hint="write the month in letters, or 2026-06-12"
        )
    return "MDY" if second > 12 else "DMY"  # noqa: PLR2004 - months


def _looked_up(day: str, here: datetime, order: str) -> datetime | None:
    """Return what the library makes of it; None where it cannot, or where only a month was said."""
    import dateparser

    known = {"DATE_ORDER": order, "PREFER_DATES_FROM": "past", "RELATIVE_BASE": here.replace(tzinfo=None)}
    first, last = (
        dateparser.parse(day, languages=LANGUAGES, settings={**known, "PREFER_DAY_OF_MONTH": end})
        for end in ("first", "last")
    )
    return first if first == last else None

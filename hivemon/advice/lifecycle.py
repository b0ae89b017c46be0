"""One condition, one advisory: raised once, updated in place only when its content really changes, closed when over.

An id is the condition's name, `@`, and the UTC second it was raised: the same data gives the same id, and a condition
that comes back after it was closed gets a new one.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.advice.scene import condition_of
from hivemon.advice.words import LANGUAGES, MONTHS, WEEKDAYS, say, speaking
from hivemon.model import DAY, Advisory, Millis

if TYPE_CHECKING:
    from collections.abc import Sequence

NUMBER_CHANGE = 0.25
"""A number in the text must change by more than this share of itself. Our rule."""
DATE_CHANGE = 2
"""A date in the text must move by more than this many days. Our rule."""
CLOCK_CHANGE = 30
"""A time of day in the text must move by more than this many minutes. Our rule."""
REFRESH = 3 * DAY
"""What was seen and what it means is brought up to date no more often than this. Our rule."""
_LATER = 2 * DAY
"""A do-by that moves later by less than this is left alone. Our rule; any earlier day counts."""

_YEAR = 366.0
"""Days of a year as dates are told apart: twelve months of 30.5."""


def _names(of: Sequence[str]) -> dict[str, int]:
    """Return names and their numbers, from 0, in every language."""
    found: dict[str, int] = {}
    for language in LANGUAGES:
        with speaking(language):
            found |= {say(name): number for number, name in enumerate(of)}
    return found


_MONTH = _names(MONTHS)
_TOKEN = re.compile(
    rf"(?:{'|'.join(_names(WEEKDAYS))}) (?P<day>\d+) (?P<month>{'|'.join(_MONTH)})"
    r"|(?P<hour>\d+):(?P<minute>\d\d)"
    r"|(?P<number>\d+(?:[.,]\d+)*)",
)
_THOUSANDS = re.compile(r"[.,](?=\d{3}\b)")


def reconcile(open: Sequence[Advisory], wanted: Sequence[Advisory], now: Millis) -> list[Advisory]:  # noqa: A002
    """Return the changes that make `open` say what is `wanted`: new, updated with the same id, and closed advisories.

    `wanted` is what `decide.advise` returned: ids are condition names; one that carries `closed` only gives the words
    to close with. Closed advisories in `open` are ignored. Calling again with the result merged in gives no changes.
    """
    standing = {condition_of(a.id): a for a in open if a.closed is None}
    asked: dict[str, Advisory] = {}
    for advisory in wanted:
        asked.setdefault(advisory.id, advisory)
    changes = []
    for name, advisory in asked.items():
        change = _change(standing.get(name), advisory, now)
        if change is not None:
            changes.append(change)
    changes += [
        msgspec.structs.replace(a, closed=now, updated=now) for name, a in standing.items() if name not in asked
    ]
    return changes


def _change(old: Advisory | None, new: Advisory, now: Millis) -> Advisory | None:
    """Return the next version of one advisory, or None when nothing needs to be said."""
    if old is None:
        if new.closed is not None:
            return None
        return msgspec.structs.replace(new, id=_first_id(new.id, now), raised=now, updated=now)
    if new.closed is None and not really_differs(old, new, now):
        return None
    closed = now if new.closed is not None else None
    return msgspec.structs.replace(new, id=old.id, raised=old.raised, updated=now, closed=closed)


def _first_id(name: str, now: Millis) -> str:
    return f"{name}@{datetime.fromtimestamp(now / 1000, UTC):%Y%m%dT%H%M%SZ}"


def really_differs(old: Advisory, new: Advisory, now: Millis) -> bool:
    """Whether a reader would have to know.

    News is another urgency, another thing to do, or a date or number in it that moved far enough: out at once.
    Changes only in what was seen and what it means refresh the text at most every `REFRESH`.
    """
    if old.urgency is not new.urgency or old.hive != new.hive:
        return True
    if _do_by_moved(old.do_by, new.do_by, now):
        return True
    dates_count = not put_off(old.do_by, new.do_by, now)
    if _differ(_asked(old), _asked(new), dates_count=dates_count):
        return True
    return now - old.updated >= REFRESH and _differ(_told(old), _told(new), dates_count=dates_count)


def _asked(advisory: Advisory) -> list[str]:
    return [advisory.title, *advisory.do, *advisory.cautions]


def _told(advisory: Advisory) -> list[str]:
    return [advisory.saw, advisory.means, *advisory.could_also_be]


def _differ(old: Sequence[str], new: Sequence[str], *, dates_count: bool) -> bool:
    if len(old) != len(new):
        return True
    return any(_text_differs(a, b, dates_count=dates_count) for a, b in zip(old, new, strict=True))


def put_off(old: Millis | None, new: Millis | None, now: Millis) -> bool:
    """Tell whether something overdue is merely asked for today instead of yesterday."""
    return old is not None and new is not None and old < now and new < now + _LATER


def _do_by_moved(old: Millis | None, new: Millis | None, now: Millis) -> bool:
    """Any earlier day counts; a later one when it is two days off. What is overdue is not put off day by day."""
    if old is None or new is None:
        return old is not new
    if new <= old - DAY:
        return True
    return new >= old + _LATER and not put_off(old, new, now)


class _Token(NamedTuple):
    """A number in a text: what it counts, its value, and how far it may move unnoticed."""

    sort: str
    value: float
    slack: float


def _text_differs(old: str, new: str, *, dates_count: bool) -> bool:
    if old == new:
        return False
    if _TOKEN.sub("#", old) != _TOKEN.sub("#", new):
        return True
    pairs = zip(_TOKEN.finditer(old), _TOKEN.finditer(new), strict=True)
    tokens = ((_token(a), _token(b)) for a, b in pairs)
    return any(_moved(a, b) for a, b in tokens if dates_count or a.sort != "date")


def _token(match: re.Match[str]) -> _Token:
    if match["month"]:
        # Days of a year of equal months: good enough to tell two days from two weeks.
        return _Token("date", _MONTH[match["month"]] * 30.5 + int(match["day"]), DATE_CHANGE)
    if match["hour"]:
        return _Token("clock", int(match["hour"]) * 60 + int(match["minute"]), CLOCK_CHANGE)
    # Nothing is said to thousandths, so a mark before three digits parts thousands in every language.
    value = float(_THOUSANDS.sub("", match["number"]).replace(",", "."))
    return _Token("number", value, NUMBER_CHANGE * abs(value))


def _moved(old: _Token, new: _Token) -> bool:
    if old.sort != new.sort:
        return True
    apart = abs(new.value - old.value)
    if old.sort == "date":
        apart = min(apart, _YEAR - apart)
    return apart > old.slack

"""The lines of a morning note: what is alike in many hives is one line, the yard's own tasks come first. Pure."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.texts import many as texts
from hivemon.model import Urgency
from hivemon.notify.answers import topic_of
from hivemon.notify.hours import local

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from zoneinfo import ZoneInfo

    from hivemon.model import Advisory, Millis

ALIKE = 4
"""So many hives that want the same are one line: three still fit a note one by one. Our rule."""


class Due(StrEnum):
    """When something is due, seen from a day."""

    OVERDUE = "overdue"
    TODAY = "today"
    LATER = "later"
    OPEN = "open"
    """By no day."""


class Line(NamedTuple):
    """One line: an advisory, or several of one sort."""

    sort: str
    advisories: Sequence[Advisory]


def _sort(advisory: Advisory) -> str:
    """Return what is alike: the topic, but a brood nest that is to be left alone is no brood nest to look after."""
    gap = topic_of(advisory.id) == "brood" and advisory.urgency is Urgency.FOR_INFORMATION
    return "brood-gap" if gap else topic_of(advisory.id)


def lines_of(advisories: Sequence[Advisory], alike: int = ALIKE) -> list[Line]:
    """Put advisories into lines, in the order given, but alarms first and then what the yard asks for.

    Those of one sort are one line from `alike` on, where there are words for many of them; alarms never are.
    """
    rows: dict[str, list[Advisory]] = {}
    for advisory in sorted(advisories, key=_rank):
        many = _sort(advisory) in texts.MANY and advisory.hive is not None and advisory.urgency is not Urgency.NOW
        rows.setdefault(_sort(advisory) if many else f"{_sort(advisory)}@{len(rows)}", []).append(advisory)
    found: list[Line] = []
    for row in rows.values():
        groups = [row] if len(row) >= alike else [[advisory] for advisory in row]
        found += [Line(_sort(group[0]), group) for group in groups]
    return found


def _rank(advisory: Advisory) -> int:
    if advisory.urgency is Urgency.NOW:
        return 0
    return 1 if advisory.hive is None and advisory.urgency is not Urgency.FOR_INFORMATION else 2


def told(line: Line, now: Millis, zone: ZoneInfo, names: Mapping[str, str]) -> str:
    """Say a line about several hives; `names`: hive id -> its name."""
    due: dict[Due, list[str]] = {}
    for advisory in line.advisories:
        due.setdefault(due_of(advisory, now, zone), []).append(names.get(advisory.hive or "", advisory.hive or ""))
    last = max((a.do_by for a in line.advisories if a.do_by is not None), default=None)
    return texts.many(line.sort, {which.value: due[which] for which in Due if which in due}, last, zone)


def due_of(advisory: Advisory, now: Millis, zone: ZoneInfo) -> Due:
    """Return when something is due, by the calendar of its yard."""
    if advisory.do_by is None:
        return Due.OPEN
    if advisory.do_by < now:
        return Due.OVERDUE
    return Due.TODAY if local(advisory.do_by, zone).date() <= local(now, zone).date() else Due.LATER

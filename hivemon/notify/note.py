"""The morning note of a yard: what needs you, what to expect this week, who is fine, and nothing else. Pure.

It is read in half a minute, so what does not fit is left out in this order: the first steps, all but the most urgent,
the names of hives that are fine. What is left out is counted.
"""

from __future__ import annotations

from datetime import time, timedelta
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.texts import messages as texts
from hivemon.model import DAY, HOUR, Advisory, Kind, Millis, Urgency
from hivemon.morning import in_reading_order
from hivemon.notify.answers import topic_of
from hivemon.notify.hours import local, moment
from hivemon.notify.lines import ALIKE, Line, lines_of, told

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from hivemon.config import HiveSettings, UnitSettings, YardSettings
    from hivemon.config_notify import Absence
    from hivemon.model import Event, HiveDay

MOST_WORDS = 119
"""Words read in half a minute: 238 a minute, silent reading of English non-fiction (Brysbaert 2019, J. Memory and
Language 109, 104047; from memory)."""
SILENT: Millis = 26 * HOUR
"""A hive not heard of for this long cannot be called fine. Our rule: a day, and room for a late message."""
FRESH: Millis = 2 * DAY
"""News for information is in the note for this long after it was last updated. Our rule: two mornings."""
KNOWN: Millis = 3 * DAY
"""What is overdue for longer is known, so that its first step need not be said every morning. Our rule."""
RATE_DAYS = 3
"""Hive days over which the yard's rate of gain is taken: those that make a flow."""

_CLOSED = frozenset({"after-swarm", "brood"})
"""Topics that, told for information, ask to leave a brood nest closed."""
_FORAGE = frozenset({Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET, Kind.DEARTH_END})


class NoteView(NamedTuple):
    """What a note is made of: one yard at the moment `now`.

    `advisories`: those that stand and are not settled. `events`: the yard's. `days`: its hive days of the last week.
    `heard`: hive id -> its newest reading; a hive never heard of is missing. `away`: the beekeeper's holidays.
    """

    yard: YardSettings
    hives: Sequence[HiveSettings]
    now: Millis
    advisories: Sequence[Advisory]
    events: Sequence[Event]
    days: Sequence[HiveDay]
    heard: Mapping[str, Millis]
    units: UnitSettings
    away: Sequence[Absence] = ()


class Note(NamedTuple):
    """A morning note. `told` are the advisories in it, whether in words or counted."""

    title: str
    text: str
    told: list[Advisory]


class _Parts(NamedTuple):
    """What a note says, before it is cut to length. `silent` is a sentence, empty when every hive is heard of."""

    needs: list[Advisory]
    silent: str
    closed: list[Advisory]
    """About hives whose brood nest must stay closed: never left out."""
    week: list[Advisory]
    forage: str
    fine: list[HiveSettings]


class _Detail(NamedTuple):
    """How many lines are said of what needs the beekeeper, with first steps or not, and of the week; fine ones by name?

    `alike`: from how many hives on what is alike is one line.
    """

    needs: int
    steps: bool
    week: int
    names: bool
    alike: int = ALIKE


_DETAILS = (
    _Detail(99, steps=True, week=99, names=True),
    _Detail(99, steps=True, week=99, names=False),
    _Detail(99, steps=False, week=99, names=False),
    _Detail(6, steps=False, week=3, names=False, alike=3),
    _Detail(4, steps=False, week=1, names=False, alike=2),
    _Detail(3, steps=False, week=0, names=False, alike=2),
)


def morning_note(view: NoteView) -> Note:
    """Return the yard's note for the morning of `view.now`."""
    parts = _parts(view)
    text, detail = "", _DETAILS[0]
    for detail in _DETAILS:
        text = _text(parts, view, detail)
        if words_in(text) <= MOST_WORDS:
            break
    needs = len(lines_of(parts.needs, detail.alike)) + bool(parts.silent)
    return Note(texts.note_title(view.yard, view.now, needs), text, [*parts.needs, *parts.closed, *parts.week])


def words_in(text: str) -> int:
    """Count the words of a text; list marks are none."""
    return sum(word != "-" for word in text.split())


def _parts(view: NoteView) -> _Parts:
    needs, closed, week = [], [], []
    for advisory in in_reading_order(view.advisories):
        if _needs_today(advisory, view):
            needs.append(advisory)
        elif _stays_closed(advisory):
            closed.append(advisory)
        elif _expected(advisory, view.now):
            week.append(advisory)
    asked = {a.hive for a in view.advisories if a.urgency is not Urgency.FOR_INFORMATION}
    shut = {a.hive for a in closed}
    unheard = [h for h in view.hives if h.id not in view.heard or view.now - view.heard[h.id] > SILENT]
    lost = [h for h in unheard if h.id not in asked]
    quiet = {h.id for h in unheard}
    fine = [h for h in view.hives if h.id not in asked | shut and h.id not in quiet]
    return _Parts(needs, _silent(lost, view), closed, week, _forage(view, (*needs, *week)), fine)


def _needs_today(advisory: Advisory, view: NoteView) -> bool:
    """Tell whether something is for today, by its urgency or because its time runs out before tomorrow."""
    if advisory.urgency in (Urgency.NOW, Urgency.TODAY):
        return True
    if advisory.urgency is Urgency.FOR_INFORMATION or advisory.do_by is None:
        return False
    today, away = local(view.now, view.yard.zone).date(), _away_then(advisory, view)
    if away is not None and away.first - today == timedelta(days=1):
        return True  # the last day before a holiday
    return local(advisory.do_by, view.yard.zone).date() <= today


def _stays_closed(advisory: Advisory) -> bool:
    """Tell whether something is about a hive that must not be opened for now: nobody else tells a reader of notes."""
    return advisory.urgency is Urgency.FOR_INFORMATION and topic_of(advisory.id) in _CLOSED


def _away_then(advisory: Advisory, view: NoteView) -> Absence | None:
    """Return the holiday still to come in which an advisory falls due, or None."""
    if advisory.do_by is None:
        return None
    today, due = (local(when, view.yard.zone).date() for when in (view.now, advisory.do_by))
    return next((a for a in view.away if today < a.first <= due <= a.last), None)


def _expected(advisory: Advisory, now: Millis) -> bool:
    """Tell whether something belongs to what to expect this week: asked for, news, or with its day within the week."""
    if advisory.urgency is Urgency.THIS_WEEK or now - advisory.updated <= FRESH:
        return True
    return advisory.do_by is not None and now <= advisory.do_by <= now + 7 * DAY


def _silent(hives: Sequence[HiveSettings], view: NoteView) -> str:
    if not hives:
        return ""
    since = max((view.heard[hive.id] for hive in hives if hive.id in view.heard), default=None)
    return texts.silent(hives, since, view.now, view.yard.zone, everyone=len(hives) == len(view.hives) > 1)


def _forage(view: NoteView, shown: Iterable[Advisory]) -> str:
    """Say whether nectar comes in, unless an advisory of the yard in the note says so already."""
    told = {event for advisory in shown if advisory.hive is None for event in advisory.events}
    known = [e for e in view.events if e.kind in _FORAGE and e.withdrawn is None and e.raised <= view.now]
    last = max(known, key=lambda e: (e.raised, e.onset), default=None)
    if last is None or last.id in told:
        return ""
    if last.kind is Kind.FLOW_ONSET:
        return texts.flow_on(typical_rate(view.days, view), view.hives, view.units)
    return texts.dearth_on() if last.kind is Kind.DEARTH_ONSET else ""


def typical_rate(days: Iterable[HiveDay], view: NoteView) -> float | None:
    """Return the median over the hives of their mean net gain in the last days, kg a day; None when not above zero."""
    first = (local(view.now, view.yard.zone).date() - timedelta(days=RATE_DAYS + 1)).isoformat()
    gains: dict[str, list[float]] = {}
    for day in days:
        if day.net_gain is not None and day.date >= first:
            gains.setdefault(day.hive, []).append(day.net_gain)
    if not gains:
        return None
    rate = median(sum(found) / len(found) for found in gains.values())
    return rate if rate > 0 else None


def _text(parts: _Parts, view: NoteView, detail: _Detail) -> str:
    blocks = [_needs_block(parts, view, detail), _week_block(parts, view, detail)]
    if parts.fine:
        blocks.append(texts.fine(parts.fine, len(view.hives), names=detail.names))
    return "\n\n".join(block for block in blocks if block)


def _needs_block(parts: _Parts, view: NoteView, detail: _Detail) -> str:
    if not parts.needs and not parts.silent:
        return texts.calm(quiet_week=not parts.week and not parts.closed and bool(parts.fine))
    needs = lines_of(parts.needs, detail.alike)
    lines = [_line(line, view, step=detail.steps) for line in needs[: detail.needs]]
    if parts.silent:
        lines.append(parts.silent)
    return _listed(texts.heading_needs(), lines, sum(len(line.advisories) for line in needs[detail.needs :]))


def _line(line: Line, view: NoteView, *, step: bool) -> str:
    if len(line.advisories) > 1:
        return told(line, view.now, view.yard.zone, {hive.id: hive.name or hive.id for hive in view.hives})
    (advisory,) = line.advisories
    return _item(advisory, view, step=step and not _known(advisory, view.now))


def _item(advisory: Advisory, view: NoteView, *, step: bool) -> str:
    """Return an advisory in a line; what falls into a holiday says so, where it asks for anything."""
    asks = advisory.urgency is not Urgency.FOR_INFORMATION
    away = _away_then(advisory, view) if asks else None
    line = texts.item(advisory, view.now, view.yard.zone, step=step)
    if away is None:
        return line
    return f"{line} {texts.away_then(moment(away.first, time(12), view.yard.zone), view.yard.zone)}"


def _known(advisory: Advisory, now: Millis) -> bool:
    return advisory.do_by is not None and now - advisory.do_by > KNOWN


def _week_block(parts: _Parts, view: NoteView, detail: _Detail) -> str:
    week = lines_of(parts.week, detail.alike)
    lines = [_line(line, view, step=False) for line in [*lines_of(parts.closed, detail.alike), *week[: detail.week]]]
    if parts.forage:
        lines.append(parts.forage)
    return _listed(texts.heading_week(), lines, sum(len(line.advisories) for line in week[detail.week :]))


def _listed(heading: str, lines: list[str], left_out: int) -> str:
    if left_out > 0:
        lines = [*lines, texts.more(left_out)]
    return "\n".join([heading, *(f"- {line}" for line in lines)]) if lines else ""

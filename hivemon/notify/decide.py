"""Which advisory goes out when, and why. Pure: no clock inside, the moment is an argument.

One condition, one message. `now` goes out at once, even in quiet hours and on holidays. `today` goes out at once by
day, otherwise with the morning note. The rest waits for the note, which shows all that stands. What has gone out is
said again only when it has changed, and not too soon, or when it has become more urgent.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

import msgspec

from hivemon.advice.lifecycle import really_differs
from hivemon.advice.overdue import merely_overdue
from hivemon.model import DAY, HOUR, Advisory, Millis, Urgency
from hivemon.notify.hours import is_away, is_quiet, note_soon
from hivemon.store.notices import Answer, Answered, Told

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.config_notify import NotifySettings

OLD: Millis = DAY
"""What was last said so long ago is no news that must ring: readings that came late, or a program started anew."""

_RANK = {urgency: rank for rank, urgency in enumerate(reversed(Urgency))}


class Outlet(StrEnum):
    """What becomes of an advisory now."""

    AT_ONCE = "at-once"
    WAITS = "waits"
    """For the morning note, or for a better hour."""
    NOTHING = "nothing"


class Reason(StrEnum):
    """Why."""

    # It goes out at once.
    URGENT = "urgent"
    AROSE_BY_DAY = "arose-by-day"
    MORE_URGENT = "more-urgent"
    CHANGED = "changed"
    TAKEN_BACK = "taken-back"

    # It waits.
    CAN_WAIT = "can-wait"
    HELD_FOR_MORNING = "held-for-morning"
    HELD_QUIET_HOURS = "held-quiet-hours"
    AWAY = "away"
    REPEATED_TOO_SOON = "repeated-too-soon"
    OLD_NEWS = "old-news"

    # There is nothing to say.
    ALREADY_TOLD = "already-told"
    UNCHANGED = "updated-but-unchanged"
    ACKNOWLEDGED = "acknowledged"
    OVER = "over"


class Case(NamedTuple):
    """An advisory as it stands, what people were told of it last, and what they answered last.

    `refuted`: an event it follows from was taken back.
    """

    advisory: Advisory
    told: Told | None = None
    answered: Answered | None = None
    refuted: bool = False


class Verdict(NamedTuple):
    """What becomes of an advisory, and why."""

    outlet: Outlet
    reason: Reason


WAITING = {
    Reason.HELD_FOR_MORNING: "the morning note is near and will have it",
    Reason.HELD_QUIET_HOURS: "these are quiet hours, and it is for today, not for now",
    Reason.AWAY: "you are away",
    Reason.REPEATED_TOO_SOON: "it was told not long ago and is not more urgent now",
    Reason.OLD_NEWS: "it is old by now and rings nobody; the next morning note has it, as long as it stands",
}
"""What the log says of what might have gone out at once and waits."""

_AT_ONCE = {Reason.URGENT, Reason.AROSE_BY_DAY, Reason.MORE_URGENT, Reason.CHANGED, Reason.TAKEN_BACK}
_NOTHING = {Reason.ALREADY_TOLD, Reason.UNCHANGED, Reason.ACKNOWLEDGED, Reason.OVER}


def judge(case: Case, now: Millis, settings: NotifySettings, zone: ZoneInfo) -> Verdict:
    """Return what becomes of an advisory at `now`; `zone` is the yard's."""
    if case.advisory.closed is not None:
        reason = _nothing_to_take_back(case, now) or _bad_hour(now, settings, zone) or Reason.TAKEN_BACK
    else:
        reason = _nothing_new(case, now, settings) or _held(case.advisory, now, settings, zone) or _occasion(case)
    outlet = Outlet.AT_ONCE if reason in _AT_ONCE else Outlet.NOTHING if reason in _NOTHING else Outlet.WAITS
    return Verdict(outlet, reason)


def settled(case: Case) -> bool:
    """Tell whether the beekeeper has settled an advisory, so that no morning note need show it.

    "Wrong" settles it for good, "done" until it becomes more urgent. "Seen" settles nothing: it still waits to be done.
    """
    answered = case.answered
    if answered is None or answered.answer is Answer.SEEN:
        return False
    return answered.answer is Answer.WRONG or not more_urgent(case.advisory, answered.advisory)


def answer_that_holds(case: Case, now: Millis) -> Answer | None:
    """Return what the beekeeper answered an advisory, as long as it holds; None when it asks (again).

    "Wrong" holds for good, "done" until the advisory becomes more urgent, "seen" until it asks for something else.
    """
    if case.answered is None or not (settled(case) or _seen_as_it_is(case, now)):
        return None
    return case.answered.answer


def differs(old: Advisory, new: Advisory, now: Millis) -> bool:
    """Tell whether the new version asks for something else; newer numbers, or a day gone by, are no news."""
    fresh = msgspec.structs.replace(old, updated=now)
    return really_differs(fresh, new, now) and not merely_overdue(fresh, new, now)


def more_urgent(new: Advisory, old: Advisory) -> bool:
    """Tell whether the new version is the more urgent one."""
    return _RANK[new.urgency] > _RANK[old.urgency]


def _nothing_new(case: Case, now: Millis, settings: NotifySettings) -> Reason | None:
    """Return why there is nothing new to say of an advisory, or not yet; None when there is."""
    advisory, told = case.advisory, case.told
    if answer_that_holds(case, now) is not None:
        return Reason.ACKNOWLEDGED
    if told is None or more_urgent(advisory, told.advisory):
        return None
    if advisory == told.advisory:
        return Reason.ALREADY_TOLD
    if not differs(told.advisory, advisory, now):
        return Reason.UNCHANGED
    return Reason.REPEATED_TOO_SOON if now - told.time < settings.repeat_hours * HOUR else None


def _seen_as_it_is(case: Case, now: Millis) -> bool:
    """Tell whether the beekeeper has seen an advisory that says the same still."""
    if case.answered is None or case.answered.answer is not Answer.SEEN:
        return False
    seen = case.answered.advisory
    return not more_urgent(case.advisory, seen) and not differs(seen, case.advisory, now)


def _held(advisory: Advisory, now: Millis, settings: NotifySettings, zone: ZoneInfo) -> Reason | None:
    """Return why something new must wait, or None when it may go out at once."""
    if advisory.urgency not in (Urgency.NOW, Urgency.TODAY):
        return Reason.CAN_WAIT
    if now - advisory.updated > OLD:
        return Reason.OLD_NEWS
    if advisory.urgency is Urgency.NOW:
        return None
    if reason := _bad_hour(now, settings, zone):
        return reason
    return Reason.HELD_FOR_MORNING if note_soon(now, settings, zone) else None


def _bad_hour(now: Millis, settings: NotifySettings, zone: ZoneInfo) -> Reason | None:
    """Return why only what is urgent may go out at `now`, or None."""
    if is_away(now, settings, zone):
        return Reason.AWAY
    return Reason.HELD_QUIET_HOURS if is_quiet(now, settings, zone) else None


def _occasion(case: Case) -> Reason:
    """Return why something goes out at once."""
    if case.told is not None:
        return Reason.MORE_URGENT if more_urgent(case.advisory, case.told.advisory) else Reason.CHANGED
    return Reason.URGENT if case.advisory.urgency is Urgency.NOW else Reason.AROSE_BY_DAY


def _nothing_to_take_back(case: Case, now: Millis) -> Reason | None:
    """Return why the end of an advisory is no news; None for an alarm that rang and turns out otherwise.

    An alarm whose time has merely run out ends quietly: it is closed in the words it had.
    """
    advisory, told, answered, refuted = case
    if told is None or not told.at_once or told.advisory.urgency is not Urgency.NOW:
        return Reason.OVER
    if told.advisory.closed is not None:
        return Reason.ALREADY_TOLD
    if answered is not None and answered.answer is not Answer.SEEN:
        return Reason.ACKNOWLEDGED
    ran_out = not refuted and not reworded(advisory, told.advisory)
    return Reason.OVER if ran_out or now - (advisory.closed or now) > OLD else None


def reworded(new: Advisory, old: Advisory) -> bool:
    """Tell whether an advisory says something else now than it did: closed with words of its own, say."""
    return (new.title, new.means) != (old.title, old.means)

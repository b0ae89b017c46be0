"""A day that is past is no order: what was due then is wanted as soon as you can.

Works on the words themselves, which say "by" and the day alike everywhere, so that every decision's texts and every
place that shows them agree.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

import msgspec

from hivemon.advice.lifecycle import put_off, really_differs
from hivemon.advice.words import LANGUAGES, day, day_seen_from, marked, say, speaking, start
from hivemon.model import Urgency

if TYPE_CHECKING:
    from collections.abc import Callable
    from zoneinfo import ZoneInfo

    from hivemon.advice.scene import Scene
    from hivemon.model import Advisory, Millis


_BY, _SOON = marked("by {by}"), marked("as soon as you can")
_TOLD = marked("as soon as you can (it was due on {day})")


def as_of(advisory: Advisory, scene: Scene) -> Advisory:
    """Return what is wanted, in the words for what is overdue where it was asked before and its day has passed."""
    standing = scene.standing(advisory.id)
    if standing is None or advisory.closed is not None or standing.do_by is None or advisory.do_by is None:
        return advisory
    if advisory.urgency is Urgency.NOW or not put_off(standing.do_by, advisory.do_by, scene.now):
        return advisory
    return as_overdue(advisory, standing.do_by, scene.now, scene.yard.zone)


def told_now(advisory: Advisory, now: Millis, zone: ZoneInfo) -> Advisory:
    """Return an advisory as it is to be told at `now`; the language spoken must be its own."""
    if advisory.do_by is None or advisory.do_by >= now or advisory.urgency is Urgency.NOW:
        return advisory
    return as_overdue(advisory, advisory.do_by, now, zone)


def as_overdue(advisory: Advisory, due: Millis, now: Millis, zone: ZoneInfo) -> Advisory:
    """Return an advisory in the words for what was `due` on a day that is past; what names no such day is left.

    The day has its year where it is long ago.
    """
    if advisory.do_by is None:
        return advisory
    by = say(_BY, by=day(advisory.do_by, zone))
    soon = say(_SOON)
    short, told = say(_TOLD, day=day(due, zone)), say(_TOLD, day=day_seen_from(due, now, zone))
    return msgspec.structs.replace(
        advisory,
        title=_replaced(advisory.title, by, told).replace(short, told),
        do=[_replaced(step, by, soon) for step in advisory.do],
        do_by=due,
    )


def is_told(text: str) -> bool:
    """Whether a text says so already, in whatever language: one that stands may be of before the yard's was changed."""
    return any(soon in text for soon in _in_every_language(lambda: say(_SOON)))


def names_day(text: str, when: Millis, zone: ZoneInfo) -> bool:
    """Whether a text names a day, in whatever language."""
    return any(name in text for name in _in_every_language(lambda: day(when, zone)))


def _in_every_language(saying: Callable[[], str]) -> list[str]:
    """Return the same said in each language."""
    said = []
    for language in LANGUAGES:
        with speaking(language):
            said.append(saying())
    return said


def merely_overdue(old: Advisory, new: Advisory, now: Millis) -> bool:
    """Whether the new version says no more than that the day of the old one has passed, in whatever language."""
    if old.do_by is None or old.do_by != new.do_by:
        return False
    return not really_differs(_undated(old), _undated(new), now)


def _undated(advisory: Advisory) -> Advisory:
    """Return an advisory without its words for by when."""
    do = [_when().sub("", step) for step in advisory.do]
    return msgspec.structs.replace(advisory, title=_when().sub("", advisory.title), do=do)


@cache
def _when() -> re.Pattern[str]:
    """Return a pattern for the words for by when, in every language; made when first asked for, not at start-up."""
    sayings = (lambda: say(_TOLD, day="#"), lambda: say(_SOON), lambda: say(_BY, by="#"))
    found = [said for saying in sayings for said in _in_every_language(saying)]
    either = "|".join(re.escape(words).replace(r"\#", r"\w+ \d+ \w+") for words in found)
    return re.compile(either, re.IGNORECASE)


def _replaced(text: str, by: str, soon: str) -> str:
    return text.replace(start(by), start(soon)).replace(by, soon)

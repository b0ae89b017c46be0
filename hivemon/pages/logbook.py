"""The logbook over HTTP: entries checked as strictly as on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import msgspec
from msgspec import Meta

from hivemon.errors import UsageError
from hivemon.logbook_limits import AHEAD, MOST_KG, MOST_MITES, WEIGHED
from hivemon.model import DAY, Entry, LogEntry
from hivemon.pages.answers import answer
from hivemon.pages.hives import every_hive, find
from hivemon.pages.story import entry_view

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.store import Store

MOST_SHOWN = 200
"""Entries in one answer."""
_OLDEST: Millis = 20 * 365 * DAY
"""An entry older than this is a wrong date."""


class NewEntry(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a browser sends for a new entry. `time` None: now. `amount` in kg, or mites for a mite wash.

    `key` is made up by the browser, the same when it sends the same entry again for want of an answer.
    """

    yard: str
    hive: str
    entry: Entry
    time: int | None = None
    amount: float | None = None
    note: Annotated[str, Meta(max_length=500)] = ""
    key: Annotated[str, Meta(max_length=64)] = ""


class Sent:
    """Entries that came lately, by the key their browser gave them.

    A browser that got no answer sends again; the same key must not become a second super. Kept in memory only: a
    restart between the two costs a repeat.
    """

    def __init__(self, most: int = 500) -> None:
        self._most = most
        self._kept: dict[str, dict[str, Any]] = {}

    def find(self, key: str) -> dict[str, Any] | None:
        """Return the entry that came with this key, or None."""
        return self._kept.get(key) if key else None

    def remember(self, key: str, entry: dict[str, Any]) -> None:
        """Remember an entry; the oldest is forgotten when there are too many."""
        if key:
            self._kept[key] = entry
        while len(self._kept) > self._most:
            del self._kept[next(iter(self._kept))]


class NewAnswer(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What a browser sends to answer an event."""

    event: str
    hive: str
    answer: str


def entries(
    settings: Settings, store: Store, hive: str | None = None, yard: str | None = None, *, clock: Millis
) -> dict[str, Any]:
    """Return the newest entries that stand, the newest first, and the hives an entry may be made for.

    Entries of a time to come, which a file may bring, are left out.
    """
    found = [
        (place.id, entry)
        for place in settings.yard
        if yard in (None, place.id)
        for entry in store.entries(place.id, hive, until=clock + AHEAD)
    ]
    found.sort(key=lambda pair: (-pair[1].time, -pair[1].id))
    return {
        "entries": [entry_view(*pair) for pair in found[:MOST_SHOWN]],
        "total": len(found),
        "hives": [{"yard": h.yard, "hive": h.id, "name": h.title} for h in every_hive(settings, store)[:500]],
        "yards": [{"id": y.id, "name": y.title, "timezone": y.timezone} for y in settings.yard],
    }


def add(settings: Settings, store: Store, new: NewEntry, *, clock: Millis) -> dict[str, Any]:
    """Keep a new entry and return it; raises UsageError for what cannot be."""
    find(settings, store, new.yard, new.hive)
    time = clock if new.time is None else new.time
    if not clock - _OLDEST <= time <= clock + AHEAD:
        raise UsageError("that moment cannot be", hint="the logbook holds what was done; mind the date")
    entry = LogEntry(time=time, hive=new.hive, entry=new.entry, amount=_amount(new), note=new.note.strip())
    return entry_view(new.yard, store.add_entry(new.yard, entry))


def _amount(new: NewEntry) -> float | None:
    """Return the amount where it makes sense; raises UsageError where it does not."""
    if new.amount is None:
        return None
    if new.entry is Entry.MITE_WASH:
        least, most, unit = 0.0, MOST_MITES, "mites"
    elif new.entry in WEIGHED:
        least, most, unit = 0.001, MOST_KG, "kg"
    else:
        raise UsageError(f"{new.entry.value} has no amount", hint="put it into the note")
    if not least <= new.amount <= most:
        raise UsageError(f"{new.amount:g} {unit} cannot be", hint=f"between {least:g} and {most:g}")
    return new.amount


def reply(settings: Settings, store: Store, new: NewAnswer) -> dict[str, Any]:
    """Keep the answer to an event as a logbook entry and return it; raises UsageError."""
    history = store.event_history(new.event)
    if not history:
        raise UsageError(f"there is no event {new.event!r}", hint="it may have been judged anew: open the page again")
    event = history[-1].event
    hive = find(settings, store, event.yard, event.hive or new.hive)
    return entry_view(event.yard, store.add_entry(event.yard, answer(event, new.answer, hive.id)))


def strike(store: Store, number: int) -> dict[str, Any]:
    """Strike an entry out, which keeps it in its history; raises UsageError when there is none."""
    yard = store.entry_yard(number)
    return entry_view(yard, store.strike_entry(number))

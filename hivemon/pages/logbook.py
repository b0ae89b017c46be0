"""The logbook over HTTP: entries checked as strictly as on the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import msgspec
from msgspec import Meta

from hivemon.logbook_limits import AHEAD, MOST_KG, MOST_MITES, WEIGHED, odd_wash
from hivemon.model import DAY, Entry, LogEntry
from hivemon.pages.answers import answer
from hivemon.pages.hives import every_hive, find
from hivemon.pages.refusal import Refusal
from hivemon.pages.story import entry_view

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.store import Store
    from hivemon.store.logbook import EntryVersion

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
        "clock": clock,
        "entries": [entry_view(*pair) for pair in found[:MOST_SHOWN]],
        "total": len(found),
        "hives": [{"yard": h.yard, "hive": h.id, "name": h.title} for h in every_hive(settings, store)[:500]],
        "yards": [{"id": y.id, "name": y.title, "timezone": y.timezone} for y in settings.yard],
    }


def add(settings: Settings, store: Store, new: NewEntry, *, clock: Millis) -> dict[str, Any]:
    """Keep a new entry and return it; raises Refusal for what cannot be."""
    return entry_view(new.yard, store.add_entry(new.yard, _checked(settings, store, new, clock)))


def correct(settings: Settings, store: Store, number: int, new: NewEntry, *, clock: Millis) -> dict[str, Any]:
    """Put an entry in the place of number `number` and return it; the old one stays in its history.

    Without a time it keeps the one it had. Raises Refusal for what cannot be, for an entry that was struck out, and for
    one of another yard, which is judged by itself.
    """
    old = _standing(store, number)
    if old.yard != new.yard:
        hint = "strike it out, and write it down there"
        raise Refusal(f"entry {number} belongs to yard {old.yard!r}", code="other-yard", hint=hint)
    kept = msgspec.structs.replace(new, time=old.entry.time) if new.time is None else new
    return entry_view(new.yard, store.correct_entry(number, _checked(settings, store, kept, clock)))


def history(store: Store, number: int, *, clock: Millis) -> dict[str, Any]:
    """Return an entry as it is and everything that was done to it, in order; raises Refusal when there is none."""
    versions = _versions(store, number)
    return {
        "clock": clock,
        "entry": entry_view(versions[-1].yard, versions[-1].entry),
        "struck": versions[-1].change == "struck",
        "versions": [
            {"change": v.change, "recorded": v.recorded, "entry": entry_view(v.yard, v.entry)} for v in versions
        ],
    }


def _versions(store: Store, number: int) -> list[EntryVersion]:
    found = store.entry_history(number)
    if not found:
        raise Refusal(f"there is no logbook entry {number}", code="no-entry", hint="open the logbook again")
    return found


def _standing(store: Store, number: int) -> EntryVersion:
    """Return an entry's last version; raises Refusal when it was struck out."""
    last = _versions(store, number)[-1]
    if last.change == "struck":
        raise Refusal(f"logbook entry {number} has been struck out already", code="struck", hint="write it down anew")
    return last


def _checked(settings: Settings, store: Store, new: NewEntry, clock: Millis) -> LogEntry:
    """Return what a browser sent as an entry of the logbook; raises Refusal for what cannot be."""
    find(settings, store, new.yard, new.hive)
    time = clock if new.time is None else new.time
    if not clock - _OLDEST <= time <= clock + AHEAD:
        hint = "the logbook holds what was done; mind the date"
        raise Refusal("that moment cannot be", code="moment", hint=hint)
    entry = LogEntry(time=time, hive=new.hive, entry=new.entry, amount=_amount(new), note=new.note.strip())
    if wrong := odd_wash(entry):
        raise Refusal(wrong.what, code="amount", hint=wrong.hint)
    return entry


def _amount(new: NewEntry) -> float | None:
    """Return the amount where it makes sense; raises Refusal where it does not."""
    if new.amount is None:
        return None
    if new.entry is Entry.MITE_WASH:
        least, most, unit = 0.0, MOST_MITES, "mites"
    elif new.entry in WEIGHED:
        least, most, unit = 0.001, MOST_KG, "kg"
    else:
        raise Refusal(f"{new.entry.value} has no amount", code="no-amount", hint="put it into the note")
    if not least <= new.amount <= most:
        raise Refusal(f"{new.amount:g} {unit} cannot be", code="amount", hint=f"between {least:g} and {most:g}")
    return new.amount


def reply(settings: Settings, store: Store, new: NewAnswer) -> dict[str, Any]:
    """Keep the answer to an event as a logbook entry and return it; raises Refusal."""
    history = store.event_history(new.event)
    if not history:
        hint = "it may have been judged anew: open the page again"
        raise Refusal(f"there is no event {new.event!r}", code="no-event", hint=hint)
    event = history[-1].event
    hive = find(settings, store, event.yard, event.hive or new.hive)
    return entry_view(event.yard, store.add_entry(event.yard, answer(event, new.answer, hive.id)))


def strike(store: Store, number: int) -> dict[str, Any]:
    """Strike an entry out, which keeps it in its history; raises Refusal when there is none."""
    return entry_view(_standing(store, number).yard, store.strike_entry(number))

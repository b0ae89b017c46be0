"""One turn of telling people: decide, and queue. `Delivery` sends.

What goes out is decided and put into the queue of every channel in one transaction: a crash costs nothing.
"""

from __future__ import annotations

import logging
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.texts import messages as texts
from hivemon.advice.words import speaking
from hivemon.model import Urgency
from hivemon.notify.decide import OLD, WAITING, Case, Outlet, Reason, judge, reworded
from hivemon.notify.gather import note_view
from hivemon.notify.hours import judge_note
from hivemon.notify.note import morning_note
from hivemon.notify.state import NOTE, ChannelState, begin
from hivemon.notify.trouble import channel_trouble
from hivemon.store.notices import Message, Sort, Told

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from zoneinfo import ZoneInfo

    from hivemon.config import Settings, YardSettings
    from hivemon.model import Advisory, Millis
    from hivemon.store import Store

log = logging.getLogger(__name__)


class Notifier:
    """Decides what people are told over which of `channels`. Keep it, with its store, in one thread."""

    def __init__(self, settings: Settings, store: Store, channels: Iterable[str]) -> None:
        self._settings = settings
        self._store = store
        self._channels = list(channels)
        self._held: dict[str, Reason] = {}
        begin(store, self._channels)

    def turn(self, now: Millis) -> None:
        """Queue what is due at `now`. Raises StoreError; nothing is lost then."""
        for yard in self._settings.yard:
            with speaking(yard.language or "en"):
                self._note(yard, now)
                self._advisories(yard, now)
        with speaking(self._settings.language):
            self._troubles(now)

    def _note(self, yard: YardSettings, now: Millis) -> None:
        """Queue the yard's morning note when it is due."""
        last = self._store.last_note(yard.id)
        verdict = judge_note(now, date.fromisoformat(last) if last else None, self._settings.notify, yard.zone)
        if not verdict.due:
            return
        note = morning_note(note_view(self._settings, self._store, yard, now))
        message = Message(
            created=now,
            yard=yard.id,
            sort=Sort.NOTE,
            date=verdict.date.isoformat(),
            reason=verdict.reason.value,
            title=note.title,
            text=note.text,
            advisories=[advisory.id for advisory in note.told],
        )
        # An alarm has a message of its own, whether the note shows it or not.
        self._queue(
            message, [Told(now, False, advisory) for advisory in note.told if advisory.urgency is not Urgency.NOW]
        )

    def _advisories(self, yard: YardSettings, now: Millis) -> None:
        """Queue a message for every advisory of the yard that goes out at once."""
        store = self._store
        standing = [*store.advisories(yard.id, open_only=True), *store.closed_unsaid(yard.id, now - OLD)]
        told, answers, refuted = store.told(a.id for a in standing), store.answers(), self._refuted(yard, standing)
        cases = [Case(a, told.get(a.id), answers.get(a.id), bool(refuted & set(a.events))) for a in standing]
        self._tell(cases, now, _Place(yard.title, yard.zone, Sort.ADVICE, self._channels))

    def _refuted(self, yard: YardSettings, advisories: list[Advisory]) -> set[str]:
        """Return the events taken back behind advisories that are over."""
        over = {event for advisory in advisories if advisory.closed is not None for event in advisory.events}
        return (
            {e.id for e in self._store.events(yard.id) if e.withdrawn is not None and e.id in over} if over else set()
        )

    def _troubles(self, now: Millis) -> None:
        """Queue a message on the channels that work about each that keeps failing."""
        zone = self._settings.yard[0].zone
        kept = NOTE.read(self._store) or {}
        states = {name: kept.get(name, ChannelState()).seen_at(now) for name in self._channels}
        failing = [name for name, state in states.items() if state.since is not None]
        working = [name for name in self._channels if name not in failing]
        if not failing or not working:
            return
        waiting = self._store.messages_waiting()
        for name in failing:
            count = waiting[name].messages if name in waiting else 0
            advisory = channel_trouble(name, states[name], count, now, self._settings.notify, zone)
            if advisory is not None:
                case = Case(advisory, self._store.told([advisory.id]).get(advisory.id))
                self._tell([case], now, _Place("hivemon", zone, Sort.TROUBLE, working))

    def _tell(self, cases: Sequence[Case], now: Millis, place: _Place) -> None:
        """Queue what goes out at once: each alarm and each end of one by itself, the rest of one moment together."""
        together: list[tuple[Case, Reason]] = []
        for case in cases:
            outlet, reason = judge(case, now, self._settings.notify, place.zone)
            self._say_held(case.advisory, outlet, reason)
            if outlet is not Outlet.AT_ONCE:
                continue
            if case.advisory.urgency is Urgency.NOW or case.advisory.closed is not None:
                self._queue(_message([case], reason, now, place), [Told(now, True, case.advisory)], place.channels)
            else:
                together.append((case, reason))
        if together:
            told = [Told(now, True, case.advisory) for case, _ in together]
            self._queue(_message([case for case, _ in together], together[0][1], now, place), told, place.channels)

    def _queue(self, message: Message, told: list[Told], channels: list[str] | None = None) -> None:
        with self._store.transaction():
            self._store.queue_message(message, channels or self._channels)
            self._store.put_told(told)

    def _say_held(self, advisory: Advisory, outlet: Outlet, reason: Reason) -> None:
        """Log once why something that is not for the note alone waits."""
        if outlet is not Outlet.WAITS or reason is Reason.CAN_WAIT:
            self._held.pop(advisory.id, None)
        elif self._held.get(advisory.id) is not reason:
            self._held[advisory.id] = reason
            log.info('"%s" (%s) waits: %s', advisory.title, advisory.hive or advisory.yard, WAITING[reason])


class _Place(NamedTuple):
    """What messages are about, its clock, their sort, and the channels they go to."""

    title: str
    zone: ZoneInfo
    sort: Sort
    channels: list[str]


def _message(cases: Sequence[Case], reason: Reason, now: Millis, place: _Place) -> Message:
    """Return the message of advisories that go out together, apart from the note."""
    advisories = [case.advisory for case in cases]
    first = advisories[0]
    title, text = _words(cases, place)
    return Message(
        created=now,
        yard=first.yard,
        sort=place.sort,
        urgent=first.urgency is Urgency.NOW and first.closed is None,
        reason=reason.value,
        title=title,
        text=text,
        advisories=[advisory.id for advisory in advisories],
    )


def _words(cases: Sequence[Case], place: _Place) -> tuple[str, str]:
    """Return a message's title and text."""
    (advisory, told, *_), *others = cases
    if others:
        together = [case.advisory for case in cases]
        return texts.bundle_title(place.title, len(together)), texts.bundle_text(together, place.zone)
    if advisory.closed is not None:
        new = told is None or reworded(advisory, told.advisory)
        title = texts.end_title(advisory, place.title, reworded=new)
        return title, texts.end_text(advisory, place.zone, reworded=new)
    answerable = place.sort is Sort.ADVICE
    text = texts.message_text(advisory, place.zone, answerable=answerable)
    return texts.message_title(advisory, place.title), text

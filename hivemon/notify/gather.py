"""What a morning note is made of, out of the store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import DAY
from hivemon.notify.decide import Case, answer_that_holds, settled
from hivemon.notify.note import NoteView

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.config import HiveSettings, Settings, YardSettings
    from hivemon.model import Advisory, Millis
    from hivemon.store import Answer, Store

EVENTS_BACK: Millis = 120 * DAY
"""A flow or a dearth that began longer ago is over."""
DAYS_BACK: Millis = 10 * DAY


def answers_that_hold(store: Store, advisories: Iterable[Advisory], now: Millis) -> dict[str, Answer]:
    """Return by id what was answered these advisories, where it still holds at `now`. Raises StoreError."""
    given = store.answers()
    found = ((a.id, answer_that_holds(Case(a, answered=given.get(a.id)), now)) for a in advisories)
    return {advisory: answer for advisory, answer in found if answer is not None}


def note_view(settings: Settings, store: Store, yard: YardSettings, now: Millis) -> NoteView:
    """Return what the yard's note at `now` is made of. Raises StoreError."""
    with store.view():
        answers = store.answers()
        standing = store.advisories(yard.id, open_only=True)
        heard = _heard(store, yard.id)
        return NoteView(
            yard=yard,
            hives=_hives(settings, store, yard.id, set(heard)),
            now=now,
            advisories=[a for a in standing if not settled(Case(a, answered=answers.get(a.id)))],
            events=store.events(yard.id, since=now - EVENTS_BACK, withdrawn=False),
            days=store.hive_days(yard.id, since=now - DAYS_BACK),
            heard=heard,
            units=settings.units,
            away=settings.notify.absences,
        )


def _heard(store: Store, yard: str) -> dict[str, Millis]:
    """Return the newest reading of each hive."""
    found: dict[str, Millis] = {}
    for stream, (time, _) in store.latest(yard).items():
        if stream.hive is not None:
            found[stream.hive] = max(found.get(stream.hive, time), time)
    return found


def _hives(settings: Settings, store: Store, yard: str, heard: set[str]) -> list[HiveSettings]:
    """Return the configured hives of a yard, then the adopted ones, by id."""
    configured = settings.hives_of(yard)
    adopted = {a.hive for a in store.adopted() if a.yard == yard} | heard
    return [*configured, *(settings.find_hive(h, yard) for h in sorted(adopted - {h.id for h in configured}))]

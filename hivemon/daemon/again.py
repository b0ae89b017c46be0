"""When another process has changed readings or the logbook: how it says so, and who judges again.

`hivemon import` says so with `ask_again`; logbook changes are found in the logbook's own history. A daemon that runs
looks for both every second (`Notices`); where none runs, the command judges at once (`judge_now`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.daemon.judge import LATE_READINGS, LOGBOOK_CHANGED, YardJudge
from hivemon.daemon.lock import Lock
from hivemon.rejudge import LOGBOOK_REACH
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from collections.abc import Mapping

    from hivemon.config import Settings
    from hivemon.fold import Change
    from hivemon.model import Millis
    from hivemon.store import LogbookChanges, Store

_DONE = "judged-again"
_LOGBOOK = "judged-logbook"


class _Asked(msgspec.Struct, frozen=True):
    """How often anyone has asked, and the earliest time asked for by yard."""

    number: int = 0
    since: dict[str, int] = {}


_ASKED = Note("judge-again", _Asked)


def ask_again(store: Store, since: Mapping[str, Millis]) -> None:
    """Say that readings were added from these times on, by yard. Belongs in the transaction that adds them.

    Costs nothing to say too often: folding again changes nothing where nothing changed.
    """
    with store.transaction():
        before = _asked(store)
        earliest = dict(before.since) if before.number > _number(store, _DONE) else {}
        for yard, time in since.items():
            earliest[yard] = min(time, earliest.get(yard, time))
        _ASKED.put(store, _Asked(before.number + 1, earliest))


class Notices:
    """What other processes have changed; each change is found once, also after a crash."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def collect(self) -> dict[str, str]:
        """Return by yard why it must be judged again. The kept states that are wrong by now are dropped for good.

        What was noticed is marked as such in the same transaction as the drop: a crash after it costs nothing.
        """
        store = self._store
        if _asked(store).number == _number(store, _DONE) and not _logbook(store).earliest:
            return {}
        with store.transaction():
            return self._readings() | self._entries()

    def _readings(self) -> dict[str, str]:
        asked = _asked(self._store)
        if asked.number == _number(self._store, _DONE):
            return {}
        for yard, since in asked.since.items():
            self._store.drop_snapshots(yard, since)
        self._store.put_note(_DONE, str(asked.number))
        return dict.fromkeys(asked.since, LATE_READINGS)

    def _entries(self) -> dict[str, str]:
        changes = _logbook(self._store)
        for yard, since in changes.earliest.items():
            self._store.drop_snapshots(yard, since - LOGBOOK_REACH)
        self._store.put_note(_LOGBOOK, str(changes.number))
        return dict.fromkeys(changes.earliest, LOGBOOK_CHANGED)


def judge_now(settings: Settings, store: Store) -> list[Change] | None:
    """Judge at once whatever other processes or this one have changed, unless a daemon runs, which will do so itself.

    Returns:
        What was said anew, taken back or changed; None where a daemon runs.

    Raises:
        StoreError: The store cannot be read or written.
    """
    with Lock.of(settings) as held:
        if not held:
            return None
        reasons = Notices(store).collect()
        said: list[Change] = []
        for yard in settings.yard:
            judge = YardJudge(settings, yard.id, store)
            judge.stale = reasons.get(yard.id, judge.stale)
            said += judge.fold()
            judge.keep()
        return said


def _asked(store: Store) -> _Asked:
    return _ASKED.read(store) or _Asked()


def _logbook(store: Store) -> LogbookChanges:
    return store.logbook_changes(_number(store, _LOGBOOK))


def _number(store: Store, name: str) -> int:
    return int(store.note(name) or 0)

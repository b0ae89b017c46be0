"""After a command has changed readings or the logbook: judge again, or leave it to the daemon, and say what came."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.cli.display import counted
from hivemon.model import Advisory, Event, HiveDay

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.fold import Change
    from hivemon.store import Store

Said = Event | Advisory

LEFT_TO_DAEMON = "The running daemon judges it in a moment."

FEW = 8
"""Changes told one by one; more are counted."""


def judge_again(settings: Settings, store: Store) -> list[str]:
    """Judge what has changed, unless a daemon runs and will do so itself; return lines that say what came of it."""
    from hivemon.daemon.lock import is_running

    if is_running(settings):  # looked at first: the fold's imports take seconds on a small board
        return [LEFT_TO_DAEMON]
    from hivemon.daemon import judge_now

    before = _standing(settings, store)
    said = judge_now(settings, store)
    return [LEFT_TO_DAEMON] if said is None else told(said, before, settings)


def told(said: Sequence[Change], before: Mapping[str, Said], settings: Settings) -> list[str]:
    """Return in lines what stands now and did not before, and what stood and is gone; one line of counts when much.

    What came and went again while it was judged was never before anyone's eyes; and what goes on in the same words
    under another id, since its event was found at another moment, is no change. `before` is what stood, by id.
    """
    last = {change.id: change for change in said if not isinstance(change, HiveDay)}
    stood = {_words(before[name]) for name in last if name in before}
    stand = {_words(change) for change in last.values() if _stands(change)}
    lines = []
    for name, change in last.items():
        if _stands(change):
            if _words(change) not in stood:
                lines.append(_line("Event" if isinstance(change, Event) else "Advice", change, settings))
        elif name in before and _words(before[name]) not in stand:
            lines.append(_line("Taken back" if isinstance(change, Event) else "Closed", before[name], settings))
    return lines if len(lines) <= FEW else [_counts(said)]


def _standing(settings: Settings, store: Store) -> dict[str, Said]:
    """Return every event and advisory that stands, by id."""
    found: list[Said] = []
    for yard in settings.yard:
        found += (event for event in store.events(yard.id) if _stands(event))
        found += store.advisories(yard.id, open_only=True)
    return {item.id: item for item in found}


class _Words(NamedTuple):
    """What is said, and of whom."""

    yard: str
    hive: str | None
    text: str


def _words(item: Said) -> _Words:
    return _Words(item.yard, item.hive, item.summary if isinstance(item, Event) else item.title)


def _stands(item: Said) -> bool:
    return (item.withdrawn if isinstance(item, Event) else item.closed) is None


def _counts(said: Sequence[Change]) -> str:
    events = {change.id for change in said if isinstance(change, Event) and change.withdrawn is None}
    last = {change.id: change for change in said if isinstance(change, Advisory)}
    standing = sum(advisory.closed is None for advisory in last.values())
    days = {(change.hive, change.date) for change in said if isinstance(change, HiveDay)}
    return (
        f"Judged: {counted(len(events), 'event')}, {counted(len(last), 'advisory', 'advisories')} ({standing} open), "
        f"{counted(len(days), 'hive day')}."
    )


def _line(what: str, item: Said, settings: Settings) -> str:
    """Return a line; the title of an advisory says by itself of whom it is, the summary of an event does not."""
    whose = settings.find_yard(item.yard) if item.hive is None else settings.find_hive(item.hive, item.yard)
    return f"{what}, {whose.title}: {item.summary}" if isinstance(item, Event) else f"{what}: {item.title}"

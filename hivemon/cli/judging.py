"""After a command has changed readings or the logbook: judge again, or leave it to the daemon, and say what came."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.cli.display import counted
from hivemon.model import Advisory, Event, HiveDay

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings
    from hivemon.fold import Change
    from hivemon.store import Store

LEFT_TO_DAEMON = "The running daemon judges it in a moment."

FEW = 8
"""Changes told one by one; more are counted."""


def judge_again(settings: Settings, store: Store) -> list[str]:
    """Judge what has changed, unless a daemon runs and will do so itself; return lines that say what came of it."""
    from hivemon.daemon.lock import is_running

    if is_running(settings):  # looked at first: the fold's imports take seconds on a small board
        return [LEFT_TO_DAEMON]
    from hivemon.daemon import judge_now

    said = judge_now(settings, store)
    return [LEFT_TO_DAEMON] if said is None else told(said)


def told(said: Sequence[Change]) -> list[str]:
    """Return what was said anew, changed or taken back, in lines; one line of counts when it is much."""
    spoken = [change for change in said if not isinstance(change, HiveDay)]
    if len(spoken) > FEW:
        return [_counts(said)]
    return [_line(change) for change in spoken]


def _counts(said: Sequence[Change]) -> str:
    events = {change.id for change in said if isinstance(change, Event) and change.withdrawn is None}
    last = {change.id: change for change in said if isinstance(change, Advisory)}
    standing = sum(advisory.closed is None for advisory in last.values())
    days = {(change.hive, change.date) for change in said if isinstance(change, HiveDay)}
    return (
        f"Judged: {counted(len(events), 'event')}, {counted(len(last), 'advisory', 'advisories')} ({standing} open), "
        f"{counted(len(days), 'hive day')}."
    )


def _line(change: Change) -> str:
    if isinstance(change, Event):
        if change.withdrawn is not None:
            return f"Taken back: {change.summary}"
        return f"Event: {change.summary}"
    if isinstance(change, Advisory):
        return f"{'Closed' if change.closed is not None else 'Advice'}: {change.title}"
    return ""

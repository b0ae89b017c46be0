"""Judging again: what must be written when a yard is folded anew from an earlier state. Pure.

A late reading or a late logbook entry may change what follows from the readings after it. What was said and no longer
follows is withdrawn or closed with a reason, never deleted; what follows now and was not said is said.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.fold import cursors
from hivemon.model import HOUR, Advisory, Event, HiveDay

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from hivemon.fold import Change, YardState
    from hivemon.model import Millis

LOGBOOK_REACH: Millis = 2 * HOUR
"""An entry explains what happened up to this long before it: entries are right to about an hour. A fold that must see a
new entry begins before that."""


def judged_since(base: YardState, first: Millis) -> Millis:
    """Return the moment from which a fold that goes on from `base` says everything that there is to say.

    Anything raised from then on either stands in the state or follows in the fold. `first` is the time of the first
    reading that is folded, for a yard of which nothing had been judged yet.
    """
    return base.core.decided or min(cursors(base).values(), default=first)


def reconcile(
    base: YardState,
    changes: Sequence[Change],
    stored: Iterable[Change],
    *,
    since: Millis,
    now: Millis,
    because: str,
) -> list[Change]:
    """Return what must be written so that the store says what follows now, and nothing that does not.

    Args:
        base: The state from which the fold went on.
        changes: What that fold said, in order.
        stored: The yard's events, advisories and hive days as the store has them.
        since: From when on the fold says everything (`judged_since`); older events are left as they are.
        now: Time of the last reading folded; marks what is withdrawn and closed.
        because: Why it was judged again, for what is withdrawn.
    """
    known = {_key(item): item for item in stored}
    true = {_key(item): item for item in (*base.core.events.values(), *base.core.advisories.values(), *changes)}
    written = [item for key, item in true.items() if known.get(key) != item]
    for key, item in known.items():
        if key in true:
            continue
        if isinstance(item, Event) and item.withdrawn is None and item.raised >= since:
            taken_back = max(now, item.raised)
            written.append(msgspec.structs.replace(item, withdrawn=taken_back, withdrawn_because=because))
        elif isinstance(item, Advisory) and item.closed is None:
            closed = max(now, item.updated)
            written.append(msgspec.structs.replace(item, closed=closed, updated=closed))
    return written


def _key(item: Change) -> tuple[str, ...]:
    """Return what makes two versions versions of the same thing."""
    if isinstance(item, HiveDay):
        return ("day", item.hive, item.date)
    return ("event" if isinstance(item, Event) else "advisory", item.id)

"""What a logbook entry may say, wherever it is typed: on the command line or on the pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.counting import bees_in
from hivemon.intake.moments import FUTURE
from hivemon.limits import MiteLimits
from hivemon.model import WEIGHT_SIGN, Entry, Millis

if TYPE_CHECKING:
    from hivemon.model import LogEntry

WEIGHED = frozenset({Entry.SUPER_ON, Entry.SUPER_OFF, Entry.HARVEST, Entry.FEED, Entry.SPLIT})
"""Entries whose amount is kg."""

MOST_KG = 200.0
"""More than this is a slip of the keys: no hive gains or gives that much in one visit."""

MOST_MITES = 10_000.0
"""More mites than this in one wash is a slip of the keys."""

AHEAD: Millis = FUTURE
"""An entry further ahead than this has not come yet."""

SEEN_BY_SCALE = frozenset(WEIGHT_SIGN) | {Entry.INSPECT}
"""Entries that leave a trace in the weights, an inspection by the lid that was off: their hour matters."""

FEWEST_BEES = 50
"""Fewer in one wash say nothing of a colony: a single mite would be two in a hundred. Our rule; about 300 bees, half a
US cup, are usual (Penn State; common practice)."""


class Odd(NamedTuple):
    """What cannot be right, and what to do about it."""

    what: str
    hint: str


def odd_wash(entry: LogEntry) -> Odd | None:
    """Return what cannot be right about the numbers of a mite wash; None where they can be, or are not given."""
    if entry.entry is not Entry.MITE_WASH:
        return None
    usual = MiteLimits().sample_bees
    bees = bees_in(entry.note, usual)
    if bees < FEWEST_BEES:
        hint = f"wash about {usual}, half a cup, and at least {FEWEST_BEES}; a look at fewer fits into a note"
        return Odd(f"{bees} bees in a wash tell nothing of a colony", hint)
    if entry.amount is not None and entry.amount > bees:
        hint = f"look at both numbers again; about {usual} bees, half a cup, are usual in a wash"
        return Odd(f"{entry.amount:g} mites on {bees} bees cannot be", hint)
    return None

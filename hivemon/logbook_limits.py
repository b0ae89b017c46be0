"""What a logbook entry may say, wherever it is typed: on the command line or on the pages."""

from __future__ import annotations

from hivemon.intake.moments import FUTURE
from hivemon.model import Entry, Millis

WEIGHED = frozenset({Entry.SUPER_ON, Entry.SUPER_OFF, Entry.HARVEST, Entry.FEED, Entry.SPLIT})
"""Entries whose amount is kg."""

MOST_KG = 200.0
"""More than this is a slip of the keys: no hive gains or gives that much in one visit."""

MOST_MITES = 10_000.0
"""More mites than this in one wash is a slip of the keys."""

AHEAD: Millis = FUTURE
"""An entry further ahead than this has not come yet."""

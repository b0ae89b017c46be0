"""Keeping: one SQLite file for everything, and an outbox towards a time-series server. See CONTRACT.md beside this."""

from hivemon.store.events import AdvisoryVersion, EventVersion
from hivemon.store.facts import StoreFacts, StreamFacts
from hivemon.store.logbook import EntryVersion, LogbookChanges
from hivemon.store.means import WINDOW, Means
from hivemon.store.notices import Answer, Answered, Message, Sort, Told, Waiting
from hivemon.store.outbox import Backlog, OutboxBatch
from hivemon.store.quarantine import Quarantined
from hivemon.store.readings import Added, AddedSeries
from hivemon.store.retention import Retained
from hivemon.store.snapshots import Adopted, Snapshot
from hivemon.store.store import Store

__all__ = [
    "WINDOW",
    "Added",
    "AddedSeries",
    "Adopted",
    "AdvisoryVersion",
    "Answer",
    "Answered",
    "Backlog",
    "EntryVersion",
    "EventVersion",
    "LogbookChanges",
    "Means",
    "Message",
    "OutboxBatch",
    "Quarantined",
    "Retained",
    "Snapshot",
    "Sort",
    "Store",
    "StoreFacts",
    "StreamFacts",
    "Told",
    "Waiting",
]

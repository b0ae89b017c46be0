"""What the beekeeper says back about an advisory, and what that tells about how often the program is right."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.advice.scene import condition_of
from hivemon.model import Entry

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from hivemon.model import Advisory, LogEntry
    from hivemon.store.notices import Answered


class Accuracy(msgspec.Struct, frozen=True, kw_only=True):
    """How one topic of advice has fared: how often it was given and what was answered last each time."""

    topic: str
    given: int
    seen: int
    done: int
    wrong: int

    @property
    def unanswered(self) -> int:
        """How often nobody answered."""
        return self.given - self.seen - self.done - self.wrong


def topic_of(advisory: str) -> str:
    """Return the topic of an advisory's id: what its condition's name begins with ("swarm")."""
    return condition_of(advisory).partition(":")[0]


def accuracy(advisories: Iterable[Advisory], answers: Mapping[str, Answered]) -> list[Accuracy]:
    """Count what was given and answered, a line a topic, in the order of the alphabet.

    `answers`: advisory id -> its last answer. An answer to an advisory that is not among `advisories` is left out.
    """
    counted: dict[str, dict[str, int]] = {}
    for advisory in advisories:
        line = counted.setdefault(topic_of(advisory.id), {"given": 0, "seen": 0, "done": 0, "wrong": 0})
        line["given"] += 1
        if (answered := answers.get(advisory.id)) is not None:
            line[answered.answer] += 1
    return [Accuracy(topic=topic, **counts) for topic, counts in sorted(counted.items())]


_ENTRIES = {
    "after-swarm": Entry.INSPECT,
    "brood": Entry.INSPECT,
    "count-mites": Entry.MITE_WASH,
    "feed": Entry.FEED,
    "look-for-food": Entry.INSPECT,
    "mites": Entry.TREAT,
    "recheck-mites": Entry.MITE_WASH,
    "super": Entry.SUPER_ON,
    "swarm": Entry.INSPECT,
    "winter-food": Entry.FEED,
}
"""What doing as an advisory of this topic asks is in the logbook; of the other topics, many things or none."""


def still_to_log(advisory: Advisory, logbook: Iterable[LogEntry]) -> Entry | None:
    """Return what belongs in the logbook once an advisory is done; None when it stands there already.

    `logbook`: the yard's entries that stand, any order. One from before the advisory was raised is another deed.
    """
    entry = _ENTRIES.get(topic_of(advisory.id))
    there = (e for e in logbook if e.entry is entry and e.time >= advisory.raised)
    return None if any(advisory.hive in (None, e.hive) for e in there) else entry

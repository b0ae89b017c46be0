"""What a beekeeper may answer to an event, and which logbook entry that becomes. Pure.

An answer is a logbook entry at the time of the event: the daemon finds it there and judges again with it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.logbook_limits import WEIGHED
from hivemon.model import Entry, Kind, LogEntry
from hivemon.pages.refusal import Refusal

if TYPE_CHECKING:
    from hivemon.model import Event


class Choice(NamedTuple):
    """One answer: its `key` in the API and in the pages' texts, and the entry it becomes."""

    key: str
    entry: Entry


YES = Choice("yes", Entry.NOTE)
NO = Choice("no", Entry.NOTE)
_GONE = (
    Choice("took-honey", Entry.HARVEST),
    Choice("took-super", Entry.SUPER_OFF),
    Choice("took-bees", Entry.SPLIT),
    Choice("scale", Entry.SCALE_RESET),
)
_CAME = (
    Choice("put-super", Entry.SUPER_ON),
    Choice("fed", Entry.FEED),
    Choice("combined", Entry.COMBINE),
    Choice("scale", Entry.SCALE_RESET),
)
_CHOICES: dict[Kind, tuple[Choice, ...]] = {
    Kind.SWARM: (Choice("swarm-seen", Entry.SWARM_SEEN), *_GONE, NO),
    Kind.OFF_SCALE: (Choice("moved", Entry.MOVED), Choice("scale", Entry.SCALE_RESET), NO),
    Kind.ROBBING: (YES, Choice("took-honey", Entry.HARVEST), Choice("opened", Entry.INSPECT), NO),
    Kind.BROOD_COLD: (YES, Choice("opened", Entry.INSPECT), Choice("requeened", Entry.REQUEEN), NO),
    Kind.BROOD_UNSTABLE: (YES, Choice("opened", Entry.INSPECT), Choice("requeened", Entry.REQUEEN), NO),
}
"""The kinds not listed are confirmed or denied, which is kept as a note."""


def choices(event: Event) -> tuple[Choice, ...]:
    """Return the answers that make sense for an event; none for one that was taken back."""
    if event.withdrawn is not None:
        return ()
    if event.kind is Kind.UNLOGGED_STEP:
        return _CAME if (event.size or 0.0) > 0 else _GONE
    return _CHOICES.get(event.kind, (YES, NO))


def answer(event: Event, key: str, hive: str) -> LogEntry:
    """Return the entry an answer becomes, at the time of the event; raises Refusal for an answer not offered.

    The amount is what the scale saw, where the entry has one in kg.
    """
    for choice in choices(event):
        if choice.key == key:
            weighed = choice.entry in WEIGHED and event.size is not None and event.unit == "kg"
            amount = round(abs(event.size or 0.0), 1) if weighed else None
            return LogEntry(time=event.onset, hive=hive, entry=choice.entry, amount=amount, note=_note(event, choice))
    known = ", ".join(choice.key for choice in choices(event)) or "none: it was taken back"
    raise Refusal(f"{key!r} is no answer to {event.kind.value}", code="no-answer", hint=f"answers: {known}")


def _note(event: Event, choice: Choice) -> str:
    """Return the note that links the entry to its event, readable by a person."""
    said = {YES.key: "yes, so it was", NO.key: "no, it was not so"}.get(choice.key, choice.key.replace("-", " "))
    return f"{event.kind.value.replace('-', ' ')}: {said} [{event.id}]"

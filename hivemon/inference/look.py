"""What a question may see at one moment, and how it tells what it found.

A look never shows the future: of the stream that woke the question it shows readings up to and including `now`, of
every other stream those strictly before `now`. That makes the answer independent of the order in which readings of the
same moment arrive.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.model import (
    HANDLING,
    MINUTE,
    Entry,
    Event,
    Kind,
    LogEntry,
    Millis,
    Quantity,
    Series,
    Stream,
    rfc3339,
)
from hivemon.signals.sun import SunDay, sun_day

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from hivemon.config import YardSettings
    from hivemon.inference.windows import Windows
    from hivemon.model import HiveDay
    from hivemon.rules import Rules

SEVERAL = (Kind.SENSOR_FAULT,)
"""Kinds of which a place may have several in one minute: a node that dies takes all of its sensors with it."""


class Look:
    """One hive (or, with `hive` None, the whole yard) at one moment.

    `peeked` says whether it looked at anything but the hive's own streams: what comes in from before that is late.
    `told` collects the events this look raised or changed; the fold takes them over, so that questions asked later at
    the same moment already see them.
    """

    def __init__(
        self,
        yard: YardSettings,
        rules: Rules,
        now: Millis,
        hive: str | None,
        windows: Windows,
        events: Mapping[str, Event],
        days: Mapping[str, Sequence[HiveDay]],
        logbook: Mapping[str, Sequence[LogEntry]],
    ) -> None:
        self.yard = yard
        self.rules = rules
        self.now = now
        self.hive = hive
        self.days = days
        self.told: dict[str, Event] = {}
        self.peeked = False
        self._windows = windows
        self._seen: dict[tuple[Stream, Millis], Series] = {}
        self._events = events
        self._logbook = logbook

    @property
    def sun(self) -> SunDay:
        """The hive day that holds now."""
        return sun_day(self.yard, self.now)

    def own(self, quantity: Quantity) -> Series:
        """Return this hive's plausible readings up to and including now."""
        return self._shown(Stream(self.hive, quantity), self.now + 1)

    def other(self, quantity: Quantity, hive: str | None) -> Series:
        """Return plausible readings strictly before now of any stream of the yard."""
        self.peeked = True
        return self._shown(Stream(hive, quantity), self.now)

    def raw(self, quantity: Quantity, hive: str | None) -> Series:
        """Return readings strictly before now as they came, power-on values and all."""
        return self._windows.before(Stream(hive, quantity), self.now)

    def heard(self, but: Stream) -> Millis:
        """Return when any other stream of the yard was last heard strictly before now; 0 for never."""
        others = (self._windows.whole(stream).until(self.now).time for stream in self._windows if stream != but)
        return max((int(time[-1]) for time in others if len(time)), default=0)

    def neighbours(self) -> list[str]:
        """Return the yard's other hives that have a weight stream."""
        weighed = (stream.hive for stream in self._windows if stream.quantity is Quantity.WEIGHT)
        return sorted(hive for hive in weighed if hive not in (None, self.hive))

    def events(self, *kinds: Kind, hive: str | None = None, since: Millis = 0) -> list[Event]:
        """Return standing events of some kinds by onset, for one hive or, without one, of the whole yard."""
        known = {**self._events, **self.told}
        chosen = [
            e
            for e in known.values()
            if e.kind in kinds and e.withdrawn is None and e.onset >= since and (hive is None or e.hive == hive)
        ]
        return sorted(chosen, key=lambda e: (e.onset, e.id))

    def event(self, id_: str) -> Event | None:
        """Return an event by id, or None where it is forgotten."""
        return self.told.get(id_) or self._events.get(id_)

    def entries(self, start: Millis, end: Millis, entries: Iterable[Entry] = HANDLING) -> list[LogEntry]:
        """Return this hive's logbook entries of some sorts that lie within the rules' slack of a span."""
        slack = round(self.rules.steps.log_slack_minutes * MINUTE)
        return self.logged(self.hive, set(entries), start - slack, end + slack + 1)

    def logged(self, hive: str | None, entries: Collection[Entry], start: Millis, end: Millis) -> list[LogEntry]:
        """Return a hive's logbook entries of some sorts with start <= time < end."""
        known = self._logbook.get(hive or "", ())
        return [e for e in known if e.entry in entries and start <= e.time < end]

    def visited(self, moment: Millis, near: Millis) -> bool:
        """Whether the logbook has a person at another hive of the yard within `near` of a moment."""
        return any(
            entry.entry in HANDLING and abs(entry.time - moment) <= near
            for hive, entries in self._logbook.items()
            if hive != self.hive
            for entry in entries
        )

    def tell(
        self,
        kind: Kind,
        *,
        onset: Millis,
        confidence: float,
        reason: str,
        summary: str,
        size: float | None = None,
        unit: str = "",
        evidence: Mapping[str, float] | None = None,
    ) -> Event:
        """Raise an event now. The same data gives the same id: where, what and first onset to the minute.

        Where several of a kind may begin at one place in one minute, those after the first are told apart by reason.
        """
        id_ = f"{self.yard.id}/{self.hive or '-'}/{kind.value}/{rfc3339(onset // MINUTE * MINUTE)[:16]}Z"
        event = Event(
            id=f"{id_}/{reason}" if kind in SEVERAL and self.event(id_) is not None else id_,
            kind=kind,
            yard=self.yard.id,
            hive=self.hive,
            onset=onset,
            onset_first=onset,
            raised=self.now,
            size=None if size is None else round(size, 3),
            unit=unit,
            confidence=round(min(max(confidence, 0.01), 0.99), 2),
            reason=reason,
            summary=summary,
            evidence={name: round(value, 3) for name, value in (evidence or {}).items()},
        )
        self.told[event.id] = event
        return event

    def withdraw(self, id_: str, because: str) -> None:
        """Take an event back now, saying why; one already withdrawn or forgotten stays as it is."""
        event = self.event(id_)
        if event is not None and event.withdrawn is None:
            self.told[id_] = msgspec.structs.replace(event, withdrawn=self.now, withdrawn_because=because)

    def amend(self, id_: str, **fields: object) -> None:
        """Change what is known of an event (a better onset, size or confidence); its id and `raised` stay."""
        event = self.event(id_)
        if event is not None:
            self.told[id_] = msgspec.structs.replace(event, **fields)

    def _shown(self, stream: Stream, end: Millis) -> Series:
        """Return plausible readings before `end`; one question may ask for them again and again."""
        found = self._seen.get((stream, end))
        if found is None:
            found = self._seen[stream, end] = self._windows.plausible_before(stream, end)
        return found


def by_hive(logbook: Iterable[LogEntry]) -> dict[str, list[LogEntry]]:
    """Return a logbook's entries by hive, in their order: a look asks for one hive's again and again."""
    found: dict[str, list[LogEntry]] = {}
    for entry in logbook:
        found.setdefault(entry.hive, []).append(entry)
    return found

"""The live account of `hivemon demo`: what is new in the store, in lines a person can follow. No I/O of its own."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from hivemon.cli.display import change, clock, weight

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings
    from hivemon.model import Advisory, Event, HiveDay, LogEntry, Millis


class Line(NamedTuple):
    """One line of the account: `style` is "day", "event", "logbook" or an urgency."""

    when: Millis
    style: str
    text: str


class Account:
    """Tells each thing once, in the order in which it was said."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._told: set[tuple[str, ...]] = set()

    def news(
        self,
        days: Sequence[HiveDay],
        events: Sequence[Event],
        advisories: Sequence[Advisory],
        entries: Sequence[LogEntry] = (),
    ) -> list[Line]:
        """Return lines for what has not been told yet, out of everything there is now."""
        lines = [*self._days(days), *self._events(events), *self._advisories(advisories), *self._entries(entries)]
        return sorted(lines, key=lambda line: line.when)

    def _new(self, *key: str) -> bool:
        """Whether something has not been told; from now on it has."""
        fresh = key not in self._told
        self._told.add(key)
        return fresh

    def _days(self, days: Sequence[HiveDay]) -> list[Line]:
        """Return one line a yard and date, with every hive's weight at the dawn that ended it and its net gain."""
        by_date: dict[tuple[str, str], list[HiveDay]] = {}
        for day in days:
            by_date.setdefault((day.yard, day.date), []).append(day)
        return [
            Line(max(day.end for day in group), "day", self._dawn(yard, group))
            for (yard, day), group in by_date.items()
            if self._new("day", yard, day)
        ]

    def _dawn(self, yard: str, group: Sequence[HiveDay]) -> str:
        """Return the line of the dawn that ended a hive day, under its own date: what follows below is of that date."""
        units = self._settings.units
        hives = "   ".join(
            f"{found.hive} {weight(found.end_weight, units):>5} ({change(found.net_gain, units):>5})"
            for found in sorted(group, key=lambda found: found.hive)
        )
        dawn = datetime.fromtimestamp(group[0].end / 1000, self._settings.find_yard(yard).zone)
        return f"{dawn:%a} {dawn.day:>2} {dawn:%b}   {hives} {units.weight}"

    def _events(self, events: Sequence[Event]) -> list[Line]:
        return [
            Line(event.withdrawn or event.raised, "event", self._event(event))
            for event in events
            if self._new("event", event.id, "withdrawn" if event.withdrawn is not None else "raised")
        ]

    def _event(self, event: Event) -> str:
        when = clock(event.withdrawn or event.raised, self._settings.find_yard(event.yard).zone)
        taken_back = "taken back: " if event.withdrawn is not None else ""
        where = f" ({event.hive})" if event.hive else ""
        return f"    {when}  {event.kind.value}{where}: {taken_back}{event.summary}"

    def _advisories(self, advisories: Sequence[Advisory]) -> list[Line]:
        return [
            Line(advisory.raised, advisory.urgency.value, self._advisory(advisory))
            for advisory in advisories
            if self._new("advisory", advisory.id)
        ]

    def _advisory(self, advisory: Advisory) -> str:
        urgency = advisory.urgency.value.replace("-", " ")
        return f"           -> {urgency}: {advisory.title}"

    def _entries(self, entries: Sequence[LogEntry]) -> list[Line]:
        return [
            Line(entry.time, "logbook", f"    {self._entry(entry)}")
            for entry in entries
            if self._new("entry", str(entry.id))
        ]

    def _entry(self, entry: LogEntry) -> str:
        amount = f" {weight(entry.amount, self._settings.units)} {self._settings.units.weight}" if entry.amount else ""
        yard = next((hive.yard for hive in self._settings.hive if hive.id == entry.hive), self._settings.yard[0].id)
        when = clock(entry.time, self._settings.find_yard(yard).zone)
        return f"{when}  in the logbook ({entry.hive}): {entry.entry.value}{amount}"

"""Replay: readings and a logbook through the same fold as the daemon's, with no broker, no server and no store."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.fold import advance, begin
from hivemon.model import Advisory, Event, HiveDay

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.fold import Change, YardState
    from hivemon.model import LogEntry, Series, Stream

    Batch = Mapping[str, Mapping[Stream, Series]]


def replay(settings: Settings, batches: Iterable[Batch], logbook: Sequence[LogEntry]) -> Iterator[Change]:
    """Fold batches in time order (as `intake.files.read_readings` gives them) and yield every change as it is raised.

    A later change with the same id (for hive days: hive and date) takes the place of the earlier one. Readings of yards
    that are not configured are passed over. Memory does not grow with the stream.
    """
    states: dict[str, YardState] = {}
    books = {yard.id: logbook_of(settings, yard.id, logbook) for yard in settings.yard}
    for batch in batches:
        for yard, readings in batch.items():
            if yard not in books:
                continue
            if yard not in states:
                states[yard] = _begun(settings, yard)
            states[yard], changes = advance(states[yard], readings, books[yard])
            yield from changes


def _begun(settings: Settings, yard: str) -> YardState:
    return begin(settings.find_yard(yard), settings.hives_of(yard), settings.rules, settings.units)


def logbook_of(settings: Settings, yard: str, logbook: Iterable[LogEntry]) -> list[LogEntry]:
    """Return the entries of a yard: those of its hives, and of hives that are not configured anywhere."""
    elsewhere = {hive.id for hive in settings.hive if hive.yard != yard}
    return [entry for entry in logbook if entry.hive not in elsewhere]


class LastVersions:
    """The last version of everything a replay says."""

    def __init__(self) -> None:
        self._events: dict[str, Event] = {}
        self._advisories: dict[str, Advisory] = {}
        self._days: dict[tuple[str, str, str], HiveDay] = {}

    def take(self, change: Change) -> None:
        """Put a change in the place of its earlier version."""
        match change:
            case Event():
                self._events[change.id] = change
            case Advisory():
                self._advisories[change.id] = change
            case HiveDay():
                self._days[change.yard, change.hive, change.date] = change

    @property
    def events(self) -> list[Event]:
        """The events in the order in which they were raised."""
        return sorted(self._events.values(), key=lambda event: (event.raised, event.id))

    @property
    def advisories(self) -> list[Advisory]:
        """The advisories in the order in which they were raised."""
        return sorted(self._advisories.values(), key=lambda advisory: (advisory.raised, advisory.id))

    @property
    def days(self) -> list[HiveDay]:
        """The hive days by date, then yard and hive."""
        return sorted(self._days.values(), key=lambda day: (day.date, day.yard, day.hive))

"""The fold of every yard, kept in step with the store.

What is said is written in one transaction after the readings it follows from were committed in another. A crash
between the two costs nothing: after the start the fold goes on from the last kept state, over the readings stored
since, and says the same again. Kept states that a late reading or entry has made wrong are dropped in the very
transaction that brings it, so no crash can make the fold go on from a wrong one.
"""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import numpy as np
from msgspec import structs

from hivemon.fold import advance, begin, cursors, decode, encode
from hivemon.model import DAY, Advisory, Event, HiveDay, Series, Stream
from hivemon.rejudge import judged_since, reconcile
from hivemon.store.points import to_line
from hivemon.store.snapshots import DAILY_DAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.fold import Change, YardState
    from hivemon.model import LogEntry, Millis, Quantity, Reading
    from hivemon.store import Store

SNAPSHOT_EVERY: Millis = DAY
"""A state is kept after this much of the readings' own time; folding a day again takes milliseconds."""
CHUNK: Millis = 30 * DAY
"""Readings taken out of the store at a time when much is folded again."""
TOUCHED: Millis = 3 * DAY
"""A hive day is reckoned within an hour of its end, so a fold says nothing of days that began longer ago than this."""
_FOREVER: Millis = 2**62
TOLD_ANEW = "judged again, it was told at another moment"
STARTED = "it no longer follows from the readings, as found at a start of the program"
LATE_READINGS = "it no longer follows since readings came in late"
LOGBOOK_CHANGED = "it no longer follows since the logbook was changed"

log = logging.getLogger("hivemon.daemon")


class YardJudge:
    """The fold of one yard.

    `stale` says why it must go back to a kept state before it goes on; empty when it need not. The kept state is read
    when it is first needed, so that a start with many yards takes readings in at once.
    """

    def __init__(self, settings: Settings, yard: str, store: Store) -> None:
        self._settings = settings
        self._yard = settings.find_yard(yard)
        self._hives = settings.hives_of(yard)
        self._store = store
        self._logbook: list[LogEntry] = []
        self._pending: dict[tuple[str | None, Quantity], tuple[list[Millis], list[float]]] = {}
        self._kept: Millis = store.newest_snapshot(yard) or 0
        self.stale = STARTED
        self._use(self._beginning())
        self._unread = True

    @property
    def waits(self) -> bool:
        """Whether there is anything to fold."""
        return bool(self.stale or self._pending)

    def earliest_late(self, readings: Sequence[Reading]) -> Millis | None:
        """Return the time of the earliest reading that is late for the state so far, or None."""
        if self._unread:
            if all(reading.time > self._kept for reading in readings):
                return None  # a state holds nothing from after its own time
            self._use(self._last_kept())
        decided, folded = self._decided, self._folded
        return min(
            (r.time for r in readings if r.time < decided or r.time <= folded.get((r.hive, r.quantity), -_FOREVER)),
            default=None,
        )

    def go_back(self, because: str) -> None:
        """Have the next fold go back to a kept state, since readings or the logbook before it have changed."""
        self.stale = self.stale or because

    def add(self, readings: Iterable[Reading]) -> None:
        """Take note of readings that are committed, for the next fold."""
        for time, _, hive, quantity, value, _ in readings:
            times, values = self._pending.setdefault((hive, quantity), ([], []))
            times.append(time)
            values.append(value)

    def fold(self) -> list[Change]:
        """Fold what waits, write what follows, and return it. Raises StoreError, and then nothing has happened."""
        if self.stale:
            return self._fold_again()
        readings = {Stream(*key): _series(*columns) for key, columns in self._pending.items()}
        state, changes = advance(self._state, readings, self._logbook)
        self._write(state, changes)
        self._pending = {}
        self._go_on(state, {stream: int(series.time[-1]) for stream, series in readings.items()})
        return changes

    def keep(self) -> None:
        """Keep the state as a snapshot, so that a start goes on from here."""
        if self._state.time > self._kept and not self.waits:
            self._store.put_snapshot(self._yard.id, self._state.time, encode(self._state))
            self._kept = self._state.time

    def _fold_again(self) -> list[Change]:
        """Go on from the last state that can be trusted, over everything stored since."""
        logbook = self._store.entries(self._yard.id)
        base = state = self._last_kept()
        changes: list[Change] = []
        first: Millis | None = None
        on_the_way: list[YardState] = []
        for readings in self._stored_after(base):
            if first is None:
                first = min(int(series.time[0]) for series in readings.values())
            state, more = advance(state, readings, logbook)
            changes += more
            on_the_way.append(state)
        said = reconcile(
            base,
            changes,
            self._said(base),
            since=judged_since(base, first or 0),
            now=state.time,
            because=self.stale,
        )
        self._write(state, said, on_the_way)
        self._logbook = logbook
        self._pending = {}
        self.stale = ""
        self._use(state)
        return said

    def _beginning(self) -> YardState:
        return begin(self._yard, self._hives, self._settings.rules, self._settings.units)

    def _last_kept(self) -> YardState:
        """Return the newest kept state that can be read; the beginning when there is none."""
        while (snapshot := self._store.snapshot_before(self._yard.id, _FOREVER)) is not None:
            try:
                state = decode(snapshot.blob, self._yard, self._hives, self._settings.rules, self._settings.units)
            except ValueError as error:
                log.info("yard %s: %s; its readings are folded again", self._yard.id, error)
                self._store.drop_snapshots(self._yard.id, snapshot.time)
                continue
            self._kept = snapshot.time
            return state
        self._kept = 0
        return self._beginning()

    def _stored_after(self, base: YardState) -> Iterator[dict[Stream, Series]]:
        """Yield what the store has beyond each stream's own last reading in `base`, a month at a time."""
        store, yard = self._store, self._yard.id
        latest, oldest = store.latest(yard), store.oldest(yard)
        if oldest is None:
            return
        folded = cursors(base)
        starts = {stream: max(folded.get(stream, -_FOREVER) + 1, oldest) for stream in latest}
        # Only streams with something new: one that fell silent last year must not have the whole year read again.
        starts = {stream: start for stream, start in starts.items() if start <= latest[stream][0]}
        if not starts:
            return
        for begin_, end in _chunks(min(starts.values()), max(time for time, _ in latest.values()) + 1):
            wanted = [stream for stream, start in starts.items() if start < end]
            stored = store.series(yard, begin_, end, wanted) if wanted else {}
            fresh = {stream: series.since(starts[stream]) for stream, series in stored.items()}
            if some := {stream: series for stream, series in fresh.items() if len(series.time)}:
                yield some

    def _said(self, base: YardState) -> list[Change]:
        """Return what the store says of this yard, of hive days those that a fold from `base` can touch."""
        store, yard = self._store, self._yard.id
        days = store.hive_days(yard, since=base.time - TOUCHED)
        return [*store.events(yard), *store.advisories(yard), *days]

    def _write(self, state: YardState, said: Sequence[Change], on_the_way: Sequence[YardState] = ()) -> None:
        """Write what was said, and the states it is time to keep, in one transaction."""
        kept, keep = self._kept, []
        for candidate in (*on_the_way, state):
            if candidate.time >= kept + SNAPSHOT_EVERY:
                keep.append(candidate)
                kept = candidate.time
        if not said and not keep:
            return
        store = self._store
        with store.transaction():
            if said and self._settings.influx is not None:
                lines = [to_line(item) for item in (*self._told_elsewhere(said, state.time), *said)]
                store.outbox_put(lines, state.time)
            store.put_events([item for item in said if isinstance(item, Event)])
            store.put_advisories([item for item in said if isinstance(item, Advisory)])
            store.put_hive_days([item for item in said if isinstance(item, HiveDay)])
            for candidate in keep:
                store.put_snapshot(self._yard.id, candidate.time, encode(candidate))
            if keep:
                store.prune_snapshots(self._yard.id)
        self._kept = kept

    def _told_elsewhere(self, said: Sequence[Change], now: Millis) -> Iterator[Event | Advisory]:
        """Yield what was told before with another `raised`, as over: its point in InfluxDB has that time and stays."""
        for item in said:
            if isinstance(item, Event):
                event = self._store.event(item.id)
                if event is not None and event.raised != item.raised:
                    yield structs.replace(event, withdrawn=now, withdrawn_because=TOLD_ANEW)
            elif isinstance(item, Advisory):
                advisory = self._store.advisory(item.id)
                if advisory is not None and advisory.raised != item.raised:
                    yield structs.replace(advisory, closed=now)

    def _use(self, state: YardState) -> None:
        self._unread = False
        self._folded: dict[tuple[str | None, Quantity], Millis] = {}
        self._go_on(state, cursors(state))

    def _go_on(self, state: YardState, folded: Mapping[Stream, Millis]) -> None:
        """Take over the next state; `folded` says how far the streams are folded that have grown since the last one."""
        self._state = state
        self._decided = state.core.decided
        self._folded.update(folded.items())


def _chunks(start: Millis, end: Millis) -> Iterator[tuple[Millis, Millis]]:
    """Cut a span into months, and its last days into days.

    A state can be kept at each cut, and late readings mostly fall into the last days.
    """
    while start < end:
        month = min(start + CHUNK, end - DAILY_DAYS * DAY)
        cut = month if month > start else min(start + DAY, end)
        yield start, cut
        start = cut


def _series(times: list[Millis], values: list[float]) -> Series:
    """Return readings of one stream, which are all different in time, in order of time."""
    time = np.array(times, np.int64)
    value = np.array(values, np.float64)
    if len(time) > 1 and (np.diff(time) <= 0).any():
        order = np.argsort(time)
        time, value = time[order], value[order]
    return Series(time, value)

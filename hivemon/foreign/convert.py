"""A foreign table, its questions answered, into readings; every cell is taken, or told with its line and reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.errors import Unusable
from hivemon.foreign.figures import is_nothing, number
from hivemon.foreign.timing import NEVER
from hivemon.intake.moments import not_yet_come
from hivemon.intake.units import check_limits, to_own_unit
from hivemon.model import HIVE_QUANTITIES, Millis, Series, Stream

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.foreign.plan import Plan
    from hivemon.foreign.series import Track
    from hivemon.foreign.sheet import Cell


class Converted(NamedTuple):
    """Readings by stream, strictly ascending in time, and what became of the other cells.

    `empty` cells held nothing, `doubles` said again what another row said, `conflicts` another value for the same time
    (the first in the file stands).
    """

    streams: dict[Stream, Series]
    empty: int
    doubles: int
    conflicts: int

    @property
    def readings(self) -> int:
        """How many readings there are."""
        return sum(series.time.size for series in self.streams.values())


def convert(plan: Plan, rejected: Callable[[int, str, str], None], latest: Millis) -> Converted:
    """Make readings of a table.

    Args:
        plan: How to read it; must have no open questions.
        rejected: Called with (line number from 1, reason, text) for each row or cell that cannot be used.
        latest: A row after this moment is refused: its clock is wrong.
    """
    layout, found = plan.layout, _Found(rejected)
    never, twice = set(plan.timing.never), set(plan.timing.twice)
    by_word = {track.heading: track for track in plan.tracks} if layout.is_long else {}
    for at, row in enumerate(layout.body):
        line, moment = layout.line + at, int(plan.timing.time[at])
        if all(cell is None for cell in row):
            continue
        if moment == NEVER or moment > latest:
            rejected(line, _no_time(row[layout.moment], at in never, at in twice, moment), "")
            continue
        hive = None if layout.hive is None else plan.hives.get(_name(row[layout.hive]))
        if layout.quantity is not None and layout.is_long:
            track = by_word.get(str(row[layout.quantity]))
            tracks = [track] if track is not None else []
        else:
            tracks = plan.tracks
        for track in tracks:
            found.take(line, moment, track, row[track.column], track.hive or hive, plan.decimal)
    return found.result()


def _name(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


def _no_time(cell: Cell, never: bool, twice: bool, moment: Millis) -> str:
    if never:
        return "an hour that never came: clocks were put forward; does the recorder keep another zone (--time-zone)?"
    if twice:
        return "an hour that came twice: left out, as you said"
    if moment != NEVER:
        return f"{not_yet_come(moment)}, and the zone (--time-zone)"
    return "no time in it" if is_nothing(cell) else f"{str(cell)[:40]!r} is no time"


class _Found:
    """Collects values by stream."""

    def __init__(self, rejected: Callable[[int, str, str], None]) -> None:
        self._rejected = rejected
        self._values: dict[Stream, list[tuple[Millis, float]]] = {}
        self._empty = 0

    def take(self, line: int, moment: Millis, track: Track, cell: Cell, hive: str | None, sign: str) -> None:
        """Take one cell, or say why not; a hive that is left out is passed over."""
        if track.quantity in HIVE_QUANTITIES and hive is None:
            return
        if is_nothing(cell):
            self._empty += 1
            return
        plain = number(cell, sign)
        if plain is None:
            self._rejected(line, f"{track.heading}: {str(cell)[:40]!r} is no number", "")
            return
        try:
            value = to_own_unit(plain * track.form.scale + track.form.offset, track.form.unit, track.quantity)
            check_limits(value, track.quantity)
        except Unusable as error:
            self._rejected(line, f"{track.heading}: {error}", "")
            return
        stream = Stream(hive if track.quantity in HIVE_QUANTITIES else None, track.quantity)
        self._values.setdefault(stream, []).append((moment, value))

    def result(self) -> Converted:
        """Sort, and keep of each time the first value in the file."""
        streams: dict[Stream, Series] = {}
        doubles = conflicts = 0
        for stream, pairs in self._values.items():
            time = np.array([moment for moment, _ in pairs], np.int64)
            value = np.array([number for _, number in pairs])
            order = np.argsort(time, kind="stable")
            time, value = time[order], value[order]
            first = np.concatenate([[True], np.diff(time) > 0])
            stands = value[np.flatnonzero(first)[np.cumsum(first) - 1]]
            conflicts += int((value != stands).sum())
            doubles += int((~first & (value == stands)).sum())
            streams[stream] = Series(time[first], value[first])
        return Converted(streams, self._empty, doubles, conflicts)

"""Rows that may be unsorted by up to a day, into batches in time order, without holding the whole file.

Per yard, a row is held back until rows more than a day later have come; only then can nothing earlier follow. A row
further out of order than that is rejected. Who is out of order, one wild row or the many after it, is judged with the
next block in sight: the larger side is believed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hivemon.intake.rows import NO_ROWS, Rows, joined
from hivemon.model import DAY, Millis, Series, Stream

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

_MOST_STRETCHES = 400
"""More jumps in one window than this, and the rows are taken as they come."""
_LONG_AGO: Millis = -(2**62)


class YardOrder:
    """Orders the rows of one yard.

    Args:
        meanings: Code to (yard, stream); may grow.
        rejected: Called with (line number, reason) for every row left out.
    """

    def __init__(self, meanings: list[tuple[str, Stream]], rejected: Callable[[int, str], None]) -> None:
        self._meanings = meanings
        self._rejected = rejected
        self._latest = _LONG_AGO
        self._fresh = NO_ROWS
        self._held: list[Rows] = []
        self.doubles = 0
        """Rows left out in silence, since they say again what another said."""

    def push(self, rows: Rows) -> dict[Stream, Series]:
        """Take the next rows of the file; return what is certain by now."""
        self._judge(rows)
        self._fresh = rows
        return self._release(self._latest - DAY)

    def finish(self) -> dict[Stream, Series]:
        """Return all that is left."""
        self._judge(NO_ROWS)
        self._fresh = NO_ROWS
        return self._release(None)

    def _judge(self, ahead: Rows) -> None:
        """Hold the fresh rows that are in order, with the rows ahead in sight."""
        fresh = self._fresh
        if not len(fresh.time):
            return
        time = np.concatenate((fresh.time, ahead.time))
        if self._in_order(time):
            kept = fresh
        else:
            good = self._believable(time)[: len(fresh.time)]
            for line in fresh.line[~good].tolist():
                self._rejected(line, "is more than a day out of time order: sort the file by time")
            kept = fresh.where(good)
        if len(kept.time):
            self._latest = max(self._latest, int(kept.time.max()))
            self._held.append(kept)

    def _in_order(self, time: NDArray[np.int64]) -> bool:
        """Tell whether no row is more than a day earlier than one before it."""
        return bool((time >= self._before(time) - DAY).all())

    def _before(self, time: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return for each row the latest time of all rows before it."""
        return np.maximum.accumulate(np.concatenate(([self._latest], time[:-1])))

    def _believable(self, time: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Mark the rows to keep: first whole stretches between jumps, then row by row."""
        keep = np.ones(len(time), bool)
        starts = np.concatenate(([0], np.flatnonzero(np.abs(np.diff(time)) > DAY) + 1))
        if len(starts) <= _MOST_STRETCHES:
            ends = np.append(starts[1:], len(time))
            chosen = _heaviest_chain(time, starts, ends, self._latest)
            for number, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
                keep[start:end] = number in chosen
        kept = np.flatnonzero(keep)
        keep[kept] = time[kept] >= self._before(time[kept]) - DAY
        return keep

    def _release(self, end: Millis | None) -> dict[Stream, Series]:
        """Give out the held rows before `end` (None: all), sorted and without doubles."""
        rows = joined(self._held)
        self._held = []
        if end is not None:
            early = rows.time < end
            if not early.all():
                self._held = [rows.where(~early)]
                rows = rows.where(early)
        return self._split(rows) if len(rows.time) else {}

    def _split(self, rows: Rows) -> dict[Stream, Series]:
        by_code = rows.where(np.argsort(rows.code, kind="stable"))
        codes, starts = np.unique(by_code.code, return_index=True)
        ends = np.append(starts[1:], len(by_code.code))
        return {
            self._meanings[code][1]: self._series(by_code.where(slice(start, end)))
            for code, start, end in zip(codes.tolist(), starts.tolist(), ends.tolist(), strict=True)
        }

    def _series(self, rows: Rows) -> Series:
        """Sort one stream and take out doubles: the first in the file is kept, another value is reported."""
        if (np.diff(rows.time) > 0).all():
            return Series(rows.time, rows.value)
        rows = rows.where(np.argsort(rows.time, kind="stable"))
        first = np.concatenate(([True], np.diff(rows.time) > 0))
        kept_value = rows.value[first][np.cumsum(first) - 1]
        self.doubles += int((~first & (rows.value == kept_value)).sum())
        for at in np.flatnonzero(~first & (rows.value != kept_value)).tolist():
            reason = f"has another value than an earlier row of the same moment ({kept_value[at]:g}), which was kept"
            self._rejected(int(rows.line[at]), reason)
        return Series(rows.time[first], rows.value[first])


def _heaviest_chain(
    time: NDArray[np.int64],
    starts: NDArray[np.intp],
    ends: NDArray[np.intp],
    latest: Millis,
) -> set[int]:
    """Choose the stretches that go together in time and hold the most rows; `latest` is where the file stood before."""
    lows = [int(time[s:e].min()) for s, e in zip(starts, ends, strict=True)]
    highs = [int(time[s:e].max()) for s, e in zip(starts, ends, strict=True)]
    sizes = (ends - starts).tolist()
    best: list[tuple[int, int, int]] = []  # rows in the chain, its latest time, the stretch before (-1: none)
    for at, (low, high, size) in enumerate(zip(lows, highs, sizes, strict=True)):
        chain = (0, _LONG_AGO, -1) if low < latest - DAY else (size, max(high, latest), -1)
        for before in range(at):
            rows, reached, _ = best[before]
            if rows and low >= reached - DAY and rows + size > chain[0]:
                chain = (rows + size, max(high, reached), before)
        best.append(chain)
    at = max(range(len(best)), key=lambda n: best[n][0])
    chosen: set[int] = set()
    while at >= 0 and best[at][0]:
        chosen.add(at)
        at = best[at][2]
    return chosen

"""Growing old: raw readings become 15-minute means, which stay for ever.

A window's mean is written in the transaction that drops its readings, so at any moment every reading is either there
or counted in its window's mean. Readings that come in for a window after it was thinned are merged into its mean
at the next turn. Each transaction covers at most `CHUNK` of one stream, so that others can write in between.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from hivemon.model import DAY, Millis, Series, Stream
from hivemon.store.means import Means, merge, summarise, window_start
from hivemon.store.readings import Readings

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

CHUNK: Millis = 30 * DAY
_COLUMNS = "start, n, mean, low, high, first, last"


class Retained(NamedTuple):
    """How many raw readings were dropped, into how many windows."""

    readings: int
    windows: int


class Retention(Readings):
    """Thinning out, and reading what is left of it."""

    def retain(self, now: Millis, raw_days: int) -> Retained:
        """Thin out readings older than `raw_days` before `now`; doing it again changes nothing.

        Only whole windows go. State snapshots that can no longer be used, because readings after them are gone, go too.
        """
        cutoff = window_start(now - raw_days * DAY)
        readings = windows = 0
        for (number,) in self._db.rows("SELECT id FROM series ORDER BY id"):
            while True:
                done = self._thin_chunk(number, cutoff)
                if not done.readings:
                    break
                readings += done.readings
                windows += done.windows
        self._drop_useless_snapshots(cutoff)
        return Retained(readings, windows)

    def means(
        self,
        yard: str,
        since: Millis | None = None,
        until: Millis | None = None,
        streams: Collection[Stream] | None = None,
    ) -> dict[Stream, Means]:
        """Return 15-minute means of a yard with since <= start < until, of thinned and of raw readings alike."""
        begin = window_start(since) if since is not None else -(2**63)
        end = until if until is not None else 2**63 - 1
        found = {}
        with self._db.view():
            for number, stream in self._numbered(yard):
                if streams is None or stream in streams:
                    means = merge(self._kept(number, begin, end), summarise(self._raw(number, begin, end)))
                    if len(means.start):
                        found[stream] = means
        return found

    def _thin_chunk(self, number: int, cutoff: Millis) -> Retained:
        """Thin the oldest readings of one stream before `cutoff`, in one transaction."""
        with self._db.transaction():
            (oldest,) = self._db.one("SELECT min(time) FROM reading WHERE series = ?", (number,))
            if oldest is None or oldest >= cutoff:
                return Retained(0, 0)
            end = min(window_start(oldest) + CHUNK, cutoff)
            raw: Series = self._raw(number, oldest, end)
            windows = merge(self._kept(number, window_start(oldest), end), fresh := summarise(raw))
            touched = np.isin(windows.start, fresh.start)
            rows = zip(*(column[touched].tolist() for column in windows), strict=True)
            self._db.run_many(
                f"INSERT OR REPLACE INTO mean (series, {_COLUMNS}) VALUES ({number}, ?, ?, ?, ?, ?, ?, ?)",  # noqa: S608 - our own words and a whole number
                rows,
            )
            self._db.run("DELETE FROM reading WHERE series = ? AND time < ?", (number, end))
            return Retained(len(raw.time), len(fresh.start))

    def _kept(self, number: int, since: Millis, until: Millis) -> Means:
        """Return the stored means of a series with since <= start < until."""
        rows = self._db.rows(
            f"SELECT {_COLUMNS} FROM mean WHERE series = ? AND start >= ? AND start < ? ORDER BY start",  # noqa: S608 - our own words
            (number, since, until),
        )
        kinds = (np.int64, np.int64, np.float64, np.float64, np.float64, np.int64, np.int64)
        table = list(zip(*rows, strict=True)) or [()] * len(kinds)
        columns: list[NDArray[Any]] = [np.array(column, kind) for column, kind in zip(table, kinds, strict=True)]
        return Means(*columns)

    def _drop_useless_snapshots(self, cutoff: Millis) -> None:
        """A fold resumed before `cutoff` would miss readings. The newest snapshot of a yard always stays."""
        self._db.run(
            "DELETE FROM snapshot WHERE time < ?"
            " AND time < (SELECT max(time) FROM snapshot AS other WHERE other.yard = snapshot.yard)",
            (cutoff,),
        )

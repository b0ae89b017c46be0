"""The newest readings of each of a yard's streams: as they came, and as they can be true."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hivemon.model import EMPTY, HOUR, Millis, Quantity, Series, Stream
from hivemon.signals.clean import plausible

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

KEPT: dict[Quantity, Millis] = {Quantity.WEIGHT: 80 * HOUR}
"""How much of a stream is kept and shown, back from its newest reading: three days and the longest watch for weight."""

KEPT_ELSE: Millis = 36 * HOUR
"""The same of every other quantity. Our rule."""


class Windows:
    """A yard's streams while readings are folded. What is plausible is looked for once a stream, not once a question.

    Series handed out are never changed in place.
    """

    def __init__(self, streams: Mapping[Stream, Series]) -> None:
        self._series = dict(streams)
        self._grown: set[Stream] = set()
        self._plausible: dict[Stream, Series] = {}

    def __iter__(self) -> Iterator[Stream]:
        """Yield the streams that have been heard."""
        return iter(self._series)

    def append(self, stream: Stream, series: Series) -> int:
        """Add new readings, all later than what is there; return the index of the first of them in `whole`."""
        old = newest(stream.quantity, self.whole(stream))
        self._series[stream] = Series(
            np.concatenate((old.time, series.time)),
            np.concatenate((old.value, series.value)),
        )
        self._grown.add(stream)
        self._plausible.pop(stream, None)
        return len(old.time)

    def whole(self, stream: Stream) -> Series:
        """Return all readings held of a stream, as they came."""
        return self._series.get(stream, EMPTY)

    def plausible(self, stream: Stream) -> Series:
        """Return all readings held of a stream that can be true."""
        found = self._plausible.get(stream)
        if found is None:
            found = self._plausible[stream] = plausible(stream.quantity, self.whole(stream))
        return found

    def before(self, stream: Stream, end: Millis) -> Series:
        """Return a stream before `end` as it came, as far back as every state keeps it.

        What is seen never depends on how the stream was cut into calls of the fold.
        """
        series = self.whole(stream)
        first, stop = _kept(stream.quantity, series, end)
        return Series(series.time[first:stop], series.value[first:stop])

    def plausible_before(self, stream: Stream, end: Millis) -> Series:
        """Return what can be true of `before`."""
        series, true = self.whole(stream), self.plausible(stream)
        first, stop = _kept(stream.quantity, series, end)
        if true is series:
            return Series(series.time[first:stop], series.value[first:stop])
        return true.between(int(series.time[first]), end) if stop else EMPTY

    def kept(self) -> dict[Stream, Series]:
        """Return what is kept of every stream."""
        for stream in self._grown:
            self._series[stream] = newest(stream.quantity, self._series[stream])
        return self._series


def newest(quantity: Quantity, series: Series) -> Series:
    """Return the part of a series that is kept and shown."""
    return series.since(int(series.time[-1]) - KEPT.get(quantity, KEPT_ELSE)) if len(series.time) else series


def _kept(quantity: Quantity, series: Series, end: Millis) -> tuple[int, int]:
    """Return where the part of a series before `end` that is shown begins and stops."""
    stop = int(series.time.searchsorted(end))
    if not stop:
        return 0, 0
    return int(series.time.searchsorted(series.time[stop - 1] - KEPT.get(quantity, KEPT_ELSE))), stop

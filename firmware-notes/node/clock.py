"""What time a node knows: whether its clock was ever set, and by how much setting it moved it."""

import time

FROM_2000 = 946_684_800
"""2000-01-01T00:00:00Z in Unix seconds: some MicroPython ports count from there, others from 1970."""
EARLIEST = 1_735_689_600
"""2025-01-01T00:00:00Z: a clock that shows less was never set."""


class Clock:
    """Unix seconds, as whole numbers: a single-precision float is up to 64 s wrong at today's times."""

    def __init__(self, local=time.time, fetch=None, epoch=None):
        """`local` counts seconds, through deep sleep too; `fetch` sets it (OSError: not reachable)."""
        self._local = local
        self._fetch = fetch
        if epoch is None:
            epoch = FROM_2000 if time.gmtime(0)[0] == 2000 else 0
        self._epoch = epoch

    def now(self):
        """Return Unix seconds if `known`; else seconds that only tell what lay between two moments since power came."""
        return int(self._local()) + self._epoch

    def known(self):
        """Tell whether the clock has been set since power came."""
        return self.now() >= EARLIEST

    def set(self):
        """Set the clock and return by how many seconds it moved. OSError: the time could not be had."""
        before = self.now()
        if self._fetch is not None:
            self._fetch()
        return self.now() - before

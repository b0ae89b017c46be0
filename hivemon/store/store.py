"""The store: one SQLite file behind the methods of its parts."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Self

from hivemon.store import migrations
from hivemon.store.database import BUSY_MILLIS, Database
from hivemon.store.events import Events
from hivemon.store.facts import Facts
from hivemon.store.logbook import Logbook
from hivemon.store.notices import Notices
from hivemon.store.outbox import Outbox
from hivemon.store.quarantine import Quarantine
from hivemon.store.retention import Retention
from hivemon.store.snapshots import Snapshots

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager
    from pathlib import Path
    from types import TracebackType

    from hivemon.model import Millis


def wall_clock() -> Millis:
    """Return the time of the day; it marks when things were recorded and nothing else."""
    return time.time_ns() // 1_000_000


class Store(Retention, Logbook, Events, Notices, Quarantine, Outbox, Snapshots, Facts):
    """Everything hivemon remembers. Use it from the thread that opened it; every process and thread opens its own.

    What it promises is written in CONTRACT.md beside this file.
    """

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        read_only: bool = False,
        busy: Millis = BUSY_MILLIS,
        clock: Callable[[], Millis] = wall_clock,
    ) -> Self:
        """Open the database at `path`, making it or bringing it up to date unless `read_only`.

        `busy` is how long to wait for another process's transaction. Raises StoreError saying what is wrong and what
        to do; a file that is not ours, or newer than this program, is left as it is.
        """
        database = Database.open(path, read_only=read_only, busy=busy)
        try:
            if read_only:
                migrations.check(database, current=True)
            else:
                migrations.migrate(database, clock())
        except BaseException:
            database.close()
            raise
        return cls(database, clock)

    @property
    def replaced(self) -> bool:
        """Whether another file stands at its path by now; this store still works on the old one."""
        return self._db.replaced

    def close(self) -> None:
        """Close the file. What was not committed is gone; what was committed stays."""
        self._db.close()

    def transaction(self) -> AbstractContextManager[None]:
        """Everything inside commits together when the block ends, or not at all; nested blocks undo only themselves."""
        return self._db.transaction()

    def view(self) -> AbstractContextManager[None]:
        """Everything read inside is of one moment."""
        return self._db.view()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

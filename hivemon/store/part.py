"""What every part of the store stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.model import Millis
    from hivemon.store.database import Database


class Part:
    """A part of the store: one group of tables behind methods. Writing methods are whole transactions of their own.

    `_clock` tells the time at which something was recorded, for histories; nothing is judged by it.
    """

    def __init__(self, database: Database, clock: Callable[[], Millis]) -> None:
        self._db = database
        self._clock = clock


def own(hive: str | None) -> str:
    """Return how a hive is written in a table: '' for the yard's own."""
    return hive or ""

"""The store as the pages use it: one thread that reads, and a short-lived connection for what is written."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from hivemon.store import Store

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

T = TypeVar("T")


class Reader:
    """Runs work on the store in a thread of its own, so that no request holds up another's network.

    Reads share one connection; what is written gets its own, closed at once. Both raise StoreError.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._store: Store | None = None
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="pages-store")

    async def read(self, work: Callable[[Store], T]) -> T:
        """Return what `work` makes of the store; everything it reads is of one moment."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, self._read, work)

    async def write(self, work: Callable[[Store], T]) -> T:
        """Return what `work` makes of the store in one transaction: on the disk when this returns, or not at all."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, self._write, work)

    def close(self) -> None:
        """Finish what is under way and close the connection."""
        self._thread.submit(self._close).result()
        self._thread.shutdown()

    def _read(self, work: Callable[[Store], T]) -> T:
        if self._store is None:
            self._store = Store.open(self._path, read_only=True)
        with self._store.view():
            return work(self._store)

    def _write(self, work: Callable[[Store], T]) -> T:
        with Store.open(self._path) as store, store.transaction():
            return work(store)

    def _close(self) -> None:
        if self._store is not None:
            self._store.close()
            self._store = None

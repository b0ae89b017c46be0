"""Tells open pages that something has changed: server-sent events (WHATWG HTML, section 9.2)."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from typing import TYPE_CHECKING

from hivemon.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from hivemon.pages.reader import Reader

LOOK_SECONDS = 0.4
"""Between looks whether the store has changed, while anyone listens."""
HEARTBEAT_SECONDS = 15.0
"""A comment is sent this often, so that both ends notice when the other is gone."""
MOST = 100
"""Pages that may listen at a time."""

log = logging.getLogger("hivemon.pages")


class Changes:
    """Looks at the store's version while someone listens, and wakes the listeners when it has changed."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._version = 0
        self._changed = asyncio.Event()
        self._closed = False
        self._listeners = 0
        self._task: asyncio.Task[None] | None = None

    @property
    def full(self) -> bool:
        """Whether no more listeners are taken."""
        return self._listeners >= MOST

    async def stream(self) -> AsyncIterator[str]:
        """Yield events until the listener goes: one at once, one after each change, comments in between."""
        self._listeners += 1
        if self._task is None:
            self._task = asyncio.create_task(self._watch())
        try:
            # What changed between the page's answers and now is not missed: a look that finds nothing new is cheap.
            yield "retry: 2000\nevent: changed\ndata: {}\n\n"
            while not self._closed:
                changed = self._changed
                try:
                    await asyncio.wait_for(changed.wait(), HEARTBEAT_SECONDS)
                except TimeoutError:
                    yield ": still here\n\n"
                else:
                    yield "event: changed\ndata: {}\n\n"
        finally:
            self._listeners -= 1
            if not self._listeners and self._task is not None:
                self._task.cancel()
                self._task = None

    def close(self) -> None:
        """Let all listeners go, so that the server can stop."""
        self._closed = True
        self._wake()

    def _wake(self) -> None:
        self._changed.set()
        self._changed = asyncio.Event()

    async def _watch(self) -> None:
        told = False
        with contextlib.suppress(asyncio.CancelledError):  # the last listener has gone
            while True:
                try:
                    version = await self._reader.read(lambda store: store.version())
                except StoreError as error:
                    if not told:
                        log.warning("the pages cannot read the store: %s", error)
                    told = True
                else:
                    told = False
                    if version != self._version:
                        self._version = version
                        self._wake()
                await asyncio.sleep(LOOK_SECONDS)

"""Reading ahead: the next items are made ready in a thread while the last one is worked on."""

from __future__ import annotations

import queue
import threading
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from types import TracebackType
    from typing import Self

T = TypeVar("T")


class Ahead(Generic[T]):
    """Iterates over `items`, made in a thread of its own that begins at once and stays at most `most` items ahead.

    An error in making an item is raised where the item would have come. Leaving the `with` block early stops the thread
    at its next item.
    """

    def __init__(self, items: Iterable[T], most: int = 2) -> None:
        self._items = items
        self._ready: queue.Queue[tuple[list[T], BaseException | None]] = queue.Queue(most)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._make, name="read-ahead", daemon=True)
        self._thread.start()

    def __iter__(self) -> Iterator[T]:
        """Yield the items in their order."""
        while True:
            made, error = self._ready.get()
            if error is not None:
                raise error
            if not made:
                return
            yield from made

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stopping.set()
        while self._thread.is_alive():
            self._drain()
            self._thread.join(0.05)

    def _make(self) -> None:
        try:
            for item in self._items:
                self._ready.put(([item], None))
                if self._stopping.is_set():
                    break
        except BaseException as error:  # noqa: BLE001 - it is raised again in the thread that waits for the item
            self._ready.put(([], error))
        else:
            self._ready.put(([], None))

    def _drain(self) -> None:
        while not self._ready.empty():
            self._ready.get_nowait()

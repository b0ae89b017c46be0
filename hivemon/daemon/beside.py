"""Work beside the engine: a thread with its own store, so that a server that is slow or away slows nothing else."""

from __future__ import annotations

import logging
import threading
import time
from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.errors import StoreError
from hivemon.store import Store

if TYPE_CHECKING:
    from hivemon.model import Millis

TROUBLE_SECONDS = 30.0
"""After the store could not be used."""

log = logging.getLogger("hivemon.daemon")


class Beside(ABC):
    """Works in a thread of its own from `start` to `stop`; trouble with the store is said once and tried again.

    Args:
        path: The store.
        name: Of the thread.
        what: The work, as the log names it: "the copy to InfluxDB".
        waits: "waits" or "wait", as goes with it.
    """

    def __init__(self, path: str, name: str, what: str, waits: str) -> None:
        self._path = Path(path)
        self._what = what
        self._waits = waits
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin to work; once begun, go on."""
        if self._thread.ident is None:
            self._thread.start()

    def leave_off(self) -> None:
        """Stop after what is under way; whoever asks does not wait for it."""
        self._stopping.set()

    def stop(self, seconds: float) -> None:
        """Stop after what is under way, or leave it when it takes longer."""
        self.leave_off()
        if self._thread.is_alive():
            self._thread.join(seconds)

    @abstractmethod
    def _work(self, store: Store) -> None:
        """Work until `_stopping` is set; raises StoreError."""

    def _now(self) -> Millis:
        return time.time_ns() // 1_000_000

    def _run(self) -> None:
        told = False
        while not self._stopping.is_set():
            try:
                with Store.open(self._path) as store:
                    self._work(store)
            except StoreError as error:
                if not told:
                    log.error("%s %s: %s; %s", self._what, self._waits, error, error.hint)  # noqa: TRY400 - in words
                told = True
            except Exception:
                log.exception("%s stopped for an error of the program's own; it is tried again", self._what)
            self._stopping.wait(TROUBLE_SECONDS)

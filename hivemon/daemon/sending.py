"""The copy to InfluxDB: a thread with a store of its own, so that a server that is slow or away slows nothing else.

A crash costs a repeat: points leave the outbox only after the server has accepted them.
"""

from __future__ import annotations

import logging
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.errors import StoreError
from hivemon.store import Store
from hivemon.store.influx import InfluxSender

if TYPE_CHECKING:
    from hivemon.config import InfluxSettings, Settings

PAUSE_SECONDS = 1.0
"""Between looks into an empty outbox."""
TROUBLE_SECONDS = 30.0
"""After the store could not be used."""

log = logging.getLogger("hivemon.daemon")


class Sending:
    """Sends the outbox while it runs."""

    def __init__(self, settings: Settings, influx: InfluxSettings) -> None:
        self._path = Path(settings.store.path)
        self._influx = influx
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="influx", daemon=True)

    def start(self) -> None:
        """Begin to send."""
        self._thread.start()

    def stop(self, seconds: float) -> None:
        """Stop after the request that is under way, or leave it when it takes longer."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(seconds)

    def _run(self) -> None:
        told = False
        while not self._stopping.is_set():
            try:
                self._send()
            except StoreError as error:
                if not told:
                    log.error("the copy to InfluxDB waits: %s; %s", error, error.hint)  # noqa: TRY400 - said in words
                told = True
            except Exception:
                log.exception("the copy to InfluxDB stopped for an error of the program's own; it is tried again")
            self._stopping.wait(TROUBLE_SECONDS)

    def _send(self) -> None:
        """Send until told to stop; raises StoreError."""
        with Store.open(self._path) as store:
            sender = InfluxSender(self._influx, store)
            try:
                while not self._stopping.is_set():
                    if not sender.turn(time.time_ns() // 1_000_000, self._stopping.is_set):
                        self._stopping.wait(PAUSE_SECONDS)
            finally:
                sender.close()

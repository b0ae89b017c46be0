"""The copy to InfluxDB, sent beside the engine.

A crash costs a repeat: points leave the outbox only after the server has accepted them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.daemon.beside import Beside
from hivemon.store.influx import InfluxSender

if TYPE_CHECKING:
    from hivemon.config import InfluxSettings, Settings
    from hivemon.store import Store

PAUSE_SECONDS = 1.0
"""Between looks into an empty outbox."""


class Sending(Beside):
    """Sends the outbox while it runs."""

    def __init__(self, settings: Settings, influx: InfluxSettings) -> None:
        super().__init__(settings.store.path, "influx", "the copy to InfluxDB", "waits")
        self._influx = influx

    def _work(self, store: Store) -> None:
        sender = InfluxSender(self._influx, store)
        try:
            while not self._stopping.is_set():
                if not sender.turn(self._now(), self._stopping.is_set):
                    self._stopping.wait(PAUSE_SECONDS)
        finally:
            sender.close()

"""Telling people, beside the engine.

A crash costs a repeat: a message leaves its queue only after its channel has accepted it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.daemon.beside import Beside
from hivemon.notify.channels import make_channels
from hivemon.notify.notifier import Notifier

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.store import Store

PAUSE_SECONDS = 2.0
"""Between looks at what there is to say."""


class Notifying(Beside):
    """Tells people while it runs. Raises ConfigError for a channel that cannot work."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings.store.path, "notify", "messages to people", "wait")
        self._settings = settings
        self._channels = make_channels(settings)

    def _work(self, store: Store) -> None:
        notifier = Notifier(self._settings, store, self._channels)
        while not self._stopping.is_set():
            notifier.turn(self._now(), self._stopping.is_set)
            self._stopping.wait(PAUSE_SECONDS)

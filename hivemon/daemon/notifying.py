"""Telling people, beside the engine: one thread decides, and each channel has its own, which sends.

A crash costs a repeat: a message leaves its queue only after its channel has accepted it.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from hivemon.daemon.beside import Beside
from hivemon.notify.channels import make_channels
from hivemon.notify.delivery import Delivery
from hivemon.notify.notifier import Notifier

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.notify.channels import Channel
    from hivemon.store import Store

PAUSE_SECONDS = 2.0
"""Between looks at what there is to say."""
LOOK_SECONDS = 0.5
"""Between looks into a channel's queue."""


class Notifying(Beside):
    """Tells people while it runs. Raises ConfigError for a channel that cannot work."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings.store.path, "notify", "messages to people", "wait")
        self._settings = settings
        self._channels = [_Channel(settings, name, channel) for name, channel in make_channels(settings).items()]

    def stop(self, seconds: float) -> None:
        """Stop deciding and sending after what is under way, or leave what takes longer."""
        end = time.monotonic() + seconds
        for part in (self, *self._channels):
            part.leave_off()
        super().stop(seconds)
        for channel in self._channels:
            channel.stop(max(end - time.monotonic(), 0.0))

    def _work(self, store: Store) -> None:
        notifier = Notifier(self._settings, store, [channel.name for channel in self._channels])
        for channel in self._channels:  # only now: what the last run left of them has been put in order
            channel.start()
        while not self._stopping.is_set():
            notifier.turn(self._now())
            self._stopping.wait(PAUSE_SECONDS)


class _Channel(Beside):
    """Sends over one channel."""

    def __init__(self, settings: Settings, name: str, channel: Channel) -> None:
        super().__init__(settings.store.path, f"notify-{name}", f"messages over {name}", "wait")
        self.name = name
        self._channel = channel

    def _work(self, store: Store) -> None:
        delivery = Delivery(store, self.name, self._channel, self._now)
        while not self._stopping.is_set():
            delivery.turn(self._stopping.is_set)
            self._stopping.wait(LOOK_SECONDS)

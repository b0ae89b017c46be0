"""Telling people: a thread with a store of its own, so that a mail server that is slow or away slows nothing else.

A crash costs a repeat: a message leaves its queue only after its channel has accepted it.
"""

from __future__ import annotations

import logging
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.errors import StoreError
from hivemon.notify.channels import make_channels
from hivemon.notify.notifier import Notifier
from hivemon.store import Store

if TYPE_CHECKING:
    from hivemon.config import Settings

PAUSE_SECONDS = 2.0
"""Between looks at what there is to say."""
TROUBLE_SECONDS = 30.0
"""After the store could not be used."""

log = logging.getLogger("hivemon.daemon")


class Notifying:
    """Tells people while it runs. Raises ConfigError for a channel that cannot work."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._channels = make_channels(settings)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="notify", daemon=True)

    def start(self) -> None:
        """Begin to tell."""
        self._thread.start()

    def stop(self, seconds: float) -> None:
        """Stop after the message that is under way, or leave it when it takes longer."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(seconds)

    def _run(self) -> None:
        told = False
        while not self._stopping.is_set():
            try:
                self._tell()
            except StoreError as error:
                if not told:
                    log.error("messages to people wait: %s; %s", error, error.hint)  # noqa: TRY400 - said in words
                told = True
            except Exception:
                log.exception("messages to people stopped for an error of the program's own; it is tried again")
            self._stopping.wait(TROUBLE_SECONDS)

    def _tell(self) -> None:
        """Tell until told to stop; raises StoreError."""
        with Store.open(Path(self._settings.store.path)) as store:
            notifier = Notifier(self._settings, store, self._channels)
            while not self._stopping.is_set():
                notifier.turn(time.time_ns() // 1_000_000, self._stopping.is_set)
                self._stopping.wait(PAUSE_SECONDS)

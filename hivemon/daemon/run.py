"""`hivemon run`: the engine with the signals of a daemon and a log on stderr."""

from __future__ import annotations

import logging
import os
import signal
from typing import TYPE_CHECKING, Any

from hivemon.daemon.engine import Daemon
from hivemon.model import Advisory, Event
from hivemon.pages import serving

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.config import Settings
    from hivemon.fold import Change

log = logging.getLogger("hivemon.daemon")


def run(settings: Settings, *, on_change: Callable[[Change], None] | None = None) -> None:
    """Run the daemon until SIGTERM or SIGINT; a second signal ends it at once.

    Args:
        settings: The configuration.
        on_change: Called with everything said, after it is stored; None: events and advisories become log lines.

    Raises:
        StoreError: The store cannot be opened, or another daemon works on it.
        LinkError: The embedded broker cannot listen.
        ConfigError: A password or certificate file cannot be read, the broker's or the pages'.
    """
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    stopper = _Stopper()
    signals = (signal.SIGTERM, signal.SIGINT)
    before = [signal.signal(number, stopper) for number in signals]
    try:
        while True:
            daemon = stopper.now_stops(Daemon(settings, on_change=on_change or log_change))
            with serving(settings):
                daemon.run_forever()
            if not daemon.begin_anew or stopper.asked:
                break
    finally:
        for number, handler in zip(signals, before, strict=True):
            signal.signal(number, handler)
    log.info("stopped")


class _Stopper:
    """A handler that stops the daemon in order, and at the second signal at once (nothing stored is lost)."""

    def __init__(self) -> None:
        self.asked = False
        self._daemon: Daemon | None = None

    def now_stops(self, daemon: Daemon) -> Daemon:
        """Stop this one from now on: at once, where it was asked for before it came."""
        self._daemon = daemon
        if self.asked:
            daemon.stop()
        return daemon

    def __call__(self, number: int, _frame: Any) -> None:
        if self.asked:
            os._exit(128 + number)
        self.asked = True
        if self._daemon is not None:
            self._daemon.stop()


def log_change(change: Change) -> None:
    """Write an event or an advisory as a log line; hive days pass in silence."""
    if isinstance(change, Event):
        if change.withdrawn is None:
            log.info("%s: %s", change.hive or change.yard, change.summary)
        else:
            log.info("%s: taken back: %s (%s)", change.hive or change.yard, change.summary, change.withdrawn_because)
    elif isinstance(change, Advisory) and change.closed is None:
        log.info("%s: to do (%s): %s", change.hive or change.yard, change.urgency.value, change.title)
    elif isinstance(change, Advisory):
        log.info("%s: done with: %s", change.hive or change.yard, change.title)

"""What the service manager is told: that the daemon is ready, that it works, and that it stops (sd_notify(3)).

The beat is proof of work, not of being alive: it follows a status that was committed to the store, in the thread that
commits the readings. No beat for longer than the unit's WatchdogSec, and systemd starts the daemon anew. Where no
service manager listens (no NOTIFY_SOCKET), all of this does nothing.
"""

from __future__ import annotations

import logging
import os
import socket
from typing import TYPE_CHECKING

from hivemon.model import HOUR

if TYPE_CHECKING:
    from collections.abc import Mapping

    from hivemon.model import Millis
    from hivemon.store.daemon_state import DaemonStatus

TROUBLE_LONGEST: Millis = HOUR
"""So long the beat goes on while the store is in trouble that the daemon has said: a full disk is not mended by a new
start. After that one is tried, since only a new process gets rid of a handle gone bad. Our rule."""

log = logging.getLogger("hivemon.daemon")


class ServiceManager:
    """Speaks to whoever started the daemon. `environment` holds NOTIFY_SOCKET where somebody listens."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        self._trouble_since: Millis | None = None

    def ready(self) -> None:
        """Say that everything is open and readings are taken in."""
        self._say("READY=1")

    def worked(self, status: DaemonStatus) -> None:
        """Beat: `status` has just been committed."""
        self._trouble_since = None
        self._say("WATCHDOG=1", f"STATUS={_words(status)}")

    def in_trouble(self, what: str, now: Millis) -> None:
        """Say that the store cannot be used, and beat on for `TROUBLE_LONGEST`."""
        if self._trouble_since is None:
            self._trouble_since = now
        beat = ["WATCHDOG=1"] if now - self._trouble_since <= TROUBLE_LONGEST else []
        self._say(*beat, f"STATUS=the store is in trouble, trying again: {what}")

    def stopping(self) -> None:
        """Say that it stops in order."""
        self._say("STOPPING=1")

    def _say(self, *lines: str) -> None:
        if not self._address:
            return
        # A name that begins with @ is in the abstract namespace of Linux, where the first byte is zero.
        address = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        told = "\n".join(line.replace("\n", " ") for line in lines)
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
                out.setblocking(False)
                out.sendto(told.encode(), address)
        except OSError as error:
            log.warning("the service manager does not listen: %s", error.strerror)


def _words(status: DaemonStatus) -> str:
    """Return the line that `systemctl status` shows."""
    link = f"link to the broker {status.link.value}"
    return f"{link}, {status.messages:,} messages and {status.readings:,} readings since the start"

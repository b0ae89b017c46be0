"""What the daemon says about itself, left in the store for `hivemon health`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from hivemon.intake.link import LinkState
from hivemon.store.notes import Note

if TYPE_CHECKING:
    from hivemon.model import Millis
    from hivemon.store.store import Store

WRITTEN_EVERY: Millis = 15_000
"""A running daemon writes its status this often; one that has not for a few times that is not well."""


class DaemonStatus(msgspec.Struct, frozen=True, kw_only=True):
    """The daemon at `written`. Counts run since `started`.

    `link_reason` says why the link is down, or how its session stands; `link_refused` are topics that a broker will not
    send. `last_message` is the receipt of the last one. `waiting` counts messages taken from the broker and not
    committed yet. `trouble` is empty, or what keeps the daemon from its work. `running` is False when it has stopped in
    order.
    """

    version: str
    pid: int
    started: int
    written: int
    running: bool = True
    link: LinkState = LinkState.STARTING
    link_reason: str = ""
    link_since: int = 0
    link_refused: tuple[str, ...] = ()
    mqtt: str = ""
    last_message: int | None = None
    waiting: int = 0
    messages: int = 0
    readings: int = 0
    duplicates: int = 0
    refused: int = 0
    trouble: str = ""


_STATUS = Note("daemon", DaemonStatus)


def write_status(store: Store, status: DaemonStatus) -> None:
    """Leave a status in the store."""
    _STATUS.put(store, status)


def read_status(store: Store) -> DaemonStatus | None:
    """Return the last status a daemon left; None when none ever ran, or one of a newer program."""
    return _STATUS.read(store)

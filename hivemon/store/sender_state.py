"""How the sender fares, as it tells `hivemon health` in another process. Needs no client library."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from hivemon.model import Millis, rfc3339
from hivemon.store.notes import Note


class Condition(StrEnum):
    """How the sender fares."""

    FINE = "fine"
    UNREACHABLE = "unreachable"
    """No answer, or one that promises better times (429, 5xx)."""
    NOT_ALLOWED = "not-allowed"
    """The server does not accept the token."""
    NOT_READY = "not-ready"
    """The server takes nothing at all: no such bucket or organisation, or not an InfluxDB."""


class SenderState(msgspec.Struct, frozen=True, kw_only=True):
    """What `hivemon health` shows. `since` is when `condition` began; `next` when the next try is due."""

    condition: Condition = Condition.FINE
    detail: str = ""
    since: Millis | None = None
    failures: int = 0
    next: Millis = 0
    accepted: int = 0
    """Points accepted since the program started."""
    refused: int = 0
    """Points the server refused for what they are; they are in quarantine, and counted since the program started."""


NOTE = Note("influx", SenderState)
"""Where the sender leaves its state for `hivemon health`."""


def describe(note: str | None, now: Millis) -> str:
    """Return in plain words how the sender fares, from the note it left in the store (None: it has left none)."""
    if note is None:
        return "no trouble so far"
    state = NOTE.read_as(note)
    if state is None:
        return "not known: the note it left was written by another version"
    since = f" since {rfc3339(state.since)}" if state.since is not None and state.since <= now else ""
    words = {
        Condition.FINE: "taking points",
        Condition.UNREACHABLE: "not answering",
        Condition.NOT_ALLOWED: "does not accept the token",
        Condition.NOT_READY: "takes nothing",
    }
    detail = f" ({state.detail})" if state.detail else ""
    return f"{words[state.condition]}{since}{detail}"

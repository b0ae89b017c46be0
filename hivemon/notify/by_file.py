"""A channel that appends to a file: as text to read, or one JSON object a line (jsonlines.org)."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.model import rfc3339
from hivemon.notify.wire import to_json

if TYPE_CHECKING:
    from hivemon.config_notify import ChannelSettings
    from hivemon.store.notices import Message


class FileChannel:
    """Appends every message; it is on the disk when `send` returns. What a crash cut short is ended with a new line."""

    def __init__(self, settings: ChannelSettings) -> None:
        self._path = Path(settings.path or "")
        self._json = settings.form == "json"

    def send(self, message: Message) -> str | None:
        """Append a message; return None, or in plain words why it could not be."""
        written = to_json(message) + b"\n" if self._json else _as_text(message)
        try:
            with self._path.open("ab+") as file:
                file.write(_ending_for(file.tell(), self._path) + written)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            return f"cannot write {self._path}: {error.strerror}"
        return None


def _ending_for(size: int, path: Path) -> bytes:
    """Return the new line that a file cut short by a crash lacks."""
    if not size:
        return b""
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return b"" if file.read(1) == b"\n" else b"\n"


def _as_text(message: Message) -> bytes:
    head = f"{message.title}\n{'=' * len(message.title)}\n{rfc3339(message.created)}"
    return f"{head}\n\n{message.text}\n\n\n".encode()

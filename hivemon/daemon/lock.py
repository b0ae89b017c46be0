"""One daemon a store: a lock on a file beside it, which the system lets go of even when the process is killed."""

from __future__ import annotations

import fcntl
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.config import Settings


class Lock:
    """The lock of the store at `path`; not held yet."""

    def __init__(self, path: Path) -> None:
        self.path = path.with_name(path.name + ".lock")

    @classmethod
    @contextmanager
    def of(cls, settings: Settings) -> Iterator[bool]:
        """Hold the lock of the configured store while the block lasts, and say whether it could be had."""
        with cls(Path(settings.store.path)).held() as held:
            yield held

    @contextmanager
    def held(self) -> Iterator[bool]:
        """Hold the lock while the block lasts, and say whether it could be had; raises StoreError."""
        try:
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as error:
            hint = "look at the folder's rights and room"
            raise StoreError(f"cannot open {self.path}: {error.strerror}", hint=hint) from error
        try:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                yield False
                return
            yield True
        finally:
            os.close(handle)


def is_running(settings: Settings) -> bool:
    """Tell whether a daemon (or a command that judges) works on the configured store now."""
    path = Path(settings.store.path)
    if not Lock(path).path.exists():
        return False
    with Lock(path).held() as held:
        return not held

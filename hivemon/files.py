"""Writing files whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import msgspec

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """Open a file beside `path` that takes its place when the block ends, and is gone when the block fails.

    A crash in the middle leaves what stood at `path` before. Raises OSError when the folder cannot be written.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(_usual_mode(path))
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_whole(path: Path, content: bytes) -> None:
    """Write `content` to `path` as `whole_file` does."""
    with whole_file(path) as file:
        file.write(content)


def _usual_mode(path: Path) -> int:
    """Return the rights of the file that is replaced, or those a new file usually gets."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def write_json_lines(path: Path, objects: Iterable[dict[str, Any]]) -> int:
    """Write one JSON object a line, whole or not at all; return how many."""
    count = 0
    with whole_file(path) as file:
        for count, written in enumerate(objects, start=1):  # noqa: B007 - the last count is the answer
            file.write(msgspec.json.encode(written) + b"\n")
    return count

"""Whole lines of a text file in large blocks, unpacked ahead of their use; gzip is told by content, not by name."""

from __future__ import annotations

import gzip
import queue
import threading
import zlib
from contextlib import contextmanager
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from hivemon.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BLOCK_BYTES = 8 * 1024 * 1024
"""Text read at a time: about 150,000 rows."""
LONGEST_LINE = 1024 * 1024
_AHEAD = 2
"""Blocks unpacked ahead: memory stays at a few blocks whatever the file's length."""


class Block(NamedTuple):
    """Some whole lines: `first` is the line number of the first one (from 1), `consumed` the bytes of the file read."""

    text: bytes
    first: int
    consumed: int


@contextmanager
def opened(path: Path) -> Iterator[tuple[BinaryIO, BinaryIO]]:
    """Open a file as (text, raw), unpacked when it holds gzip; raises InputError when it cannot be read."""
    try:
        raw = path.open("rb")
    except OSError as error:
        raise InputError(f"cannot read {path}: {error.strerror}", hint="look at the name and its rights") from error
    with raw:
        packed = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        try:
            yield (gzip.GzipFile(fileobj=raw), raw) if packed else (raw, raw)  # type: ignore[misc]
        except (EOFError, zlib.error, gzip.BadGzipFile) as error:
            hint = "what came before is good; copy or make the file again"
            raise InputError(f"{path} is a damaged or cut-off gzip file: {error}", hint=hint) from error
        except OSError as error:
            raise InputError(f"cannot read {path}: {error.strerror or error}") from error


class _Unpacker(threading.Thread):
    """Cuts and unpacks ahead of the reader; `ready` ends with None, or with the error that stopped it."""

    def __init__(self, path: Path, block_bytes: int) -> None:
        super().__init__(name="unpack", daemon=True)
        self.ready: queue.Queue[Block | Exception | None] = queue.Queue(_AHEAD)
        self.stop = threading.Event()
        self._path = path
        self._block_bytes = block_bytes

    def run(self) -> None:
        """Hand over every block until the file ends or nobody wants more."""
        try:
            for block in _cut(self._path, self._block_bytes):
                if not self._offer(block):
                    return
        except Exception as error:  # noqa: BLE001 - handed over and raised by the reader
            self._offer(error)
        else:
            self._offer(None)

    def _offer(self, item: Block | Exception | None) -> bool:
        while not self.stop.is_set():
            try:
                self.ready.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False


def read_blocks(path: Path, block_bytes: int = BLOCK_BYTES) -> Iterator[Block]:
    """Read a file as blocks of whole lines, unpacked in a thread of its own; raises InputError.

    Memory: a few blocks, however long the file is.
    """
    unpacker = _Unpacker(path, block_bytes)
    unpacker.start()
    try:
        while (item := unpacker.ready.get()) is not None:
            if isinstance(item, Exception):
                raise item
            yield item
    finally:
        unpacker.stop.set()
        unpacker.join()


def _cut(path: Path, block_bytes: int) -> Iterator[Block]:
    """Cut the text after line ends."""
    with opened(path) as (text, raw):
        rest = b""
        line = 1
        while chunk := text.read(block_bytes):
            end = chunk.rfind(b"\n") + 1
            if not end:
                rest += chunk
                if len(rest) > max(LONGEST_LINE, block_bytes):
                    raise InputError(f"{path}: line {line} is longer than {LONGEST_LINE} bytes: this is no CSV text")
                continue
            whole = rest + chunk[:end]
            rest = chunk[end:]
            yield Block(whole, line, raw.tell())
            line += whole.count(b"\n")
        if rest:
            yield Block(rest, line, raw.tell())

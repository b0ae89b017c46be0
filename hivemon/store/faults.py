"""What SQLite says in trouble, turned into a StoreError with the next thing to do."""

from __future__ import annotations

import errno
import os
import sqlite3
from typing import TYPE_CHECKING

from hivemon.errors import StoreError

if TYPE_CHECKING:
    from pathlib import Path

_HINTS = {
    sqlite3.SQLITE_FULL: (
        "the disk is full",
        "free some space on that disk and start again; what was stored before is untouched",
    ),
    sqlite3.SQLITE_READONLY: (
        "it may only be read",
        "give the user who runs hivemon the right to write to the file and to the folder around it",
    ),
    sqlite3.SQLITE_PERM: (
        "this user may not use it",
        "give the user who runs hivemon the right to write to the file and to the folder around it",
    ),
    sqlite3.SQLITE_BUSY: (
        "another program is writing to it and does not let go",
        "find the other program (a backup, a database browser, a long import), let it finish and try again",
    ),
    sqlite3.SQLITE_LOCKED: (
        "another part of this program is writing to it",
        "try again when that has finished",
    ),
    sqlite3.SQLITE_NOTADB: (
        "it is not a SQLite database",
        "name a store: store.path in the configuration, or what `hivemon backup` made; a copy mends a damaged header",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "it is damaged",
        (
            "stop hivemon, copy the file with its -wal file to a safe place, then put back your last copy "
            "(`hivemon restore`) or save what can be read with `sqlite3 FILE .recover | sqlite3 NEW`; "
            "look at the disk, it may be dying"
        ),
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "it cannot be opened",
        "check that the folder exists and that the user who runs hivemon may read and write there",
    ),
    sqlite3.SQLITE_IOERR: (
        "the disk reports an error or takes no more",
        "look at the free space, any limit on file sizes, and the system log; the disk may be dying",
    ),
    sqlite3.SQLITE_TOOBIG: (
        "a text or a payload is too large for it",
        "send smaller messages",
    ),
}

_READ_ONLY_DISK = (
    "its disk may only be read now",
    (
        "a system does that to a disk with errors (look at the system log): make a copy of the store on another disk "
        "(`hivemon backup`), then check this one (fsck) or put in a new one; nodes and broker keep what comes meanwhile"
    ),
)


def explain(error: Exception, path: Path) -> Exception:
    """Return the StoreError that says what went wrong with the database at `path`, and what to do.

    Misuse of the library (a closed store, another thread) is a mistake in the program and comes back unchanged.
    """
    if isinstance(error, UnicodeEncodeError):
        return StoreError(f"a text for {path} is not valid Unicode: {error.reason}", hint="write it in UTF-8")
    if isinstance(error, OverflowError):
        return StoreError(f"a whole number for {path} does not fit in 64 bits", hint="check the time of the reading")
    if isinstance(error, sqlite3.ProgrammingError | sqlite3.InterfaceError):
        return error
    primary = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if primary not in _HINTS:
        return StoreError(f"the database {path} refused: {error}", hint="run `hivemon health` to have it checked")
    what, hint = _HINTS[primary]
    if primary == sqlite3.SQLITE_IOERR and may_only_be_read(path.parent):
        what, hint = _READ_ONLY_DISK
    return StoreError(f"cannot use the database {path}: {what} ({error})", hint=hint)


def may_only_be_read(folder: Path) -> bool:
    """Tell whether the system takes no writing there, by a file without a name (open(2), O_TMPFILE).

    Not by opening the store once more: closing it again would let go of SQLite's locks (sqlite.org/howtocorrupt.html).
    """
    try:
        os.close(os.open(folder, os.O_TMPFILE | os.O_RDWR, 0o600))
    except OSError as error:
        return error.errno == errno.EROFS
    return False

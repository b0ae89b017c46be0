"""One SQLite connection: how it is opened, its transactions, its errors. Used from the thread that opened it only."""

from __future__ import annotations

import sqlite3
import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from hivemon.errors import StoreError
from hivemon.store.faults import explain

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    Parameters = Sequence[Any] | Mapping[str, Any]

BUSY_MILLIS = 15_000
"""How long to wait for another process's transaction before giving up. Ours take milliseconds, an import's a second."""
OLDEST_SQLITE = (3, 37, 0)
"""STRICT tables came with 3.37 (2021-11-27, sqlite.org/changes.html)."""

_TROUBLE = (sqlite3.Error, UnicodeEncodeError, OverflowError)


class Database:
    """A connection with explicit transactions.

    `generation` changes whenever what was remembered about the content may have become wrong: another connection has
    committed, or a transaction here was rolled back. Look at it only inside `transaction()`, where no other
    connection can write.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self.path = path
        self.generation = 0
        self._connection = connection
        self._file: tuple[int, int] | None = None
        self._depth = 0
        self._data_version = -1

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False, busy: int = BUSY_MILLIS) -> Database:
        """Open or make the file at `path`; raises StoreError saying why not.

        WAL with synchronous=FULL: a transaction is on the disk when its commit returns. `busy` in milliseconds.
        """
        if sqlite3.sqlite_version_info < OLDEST_SQLITE:
            raise StoreError(f"SQLite {sqlite3.sqlite_version} is too old", hint="install SQLite 3.37 or newer")
        _check_place(path, read_only=read_only)
        mode = "ro" if read_only else "rwc"
        try:
            connection = sqlite3.connect(
                f"file:{quote(str(path))}?mode={mode}",
                uri=True,
                timeout=busy / 1000,
                isolation_level=None,
            )
        except sqlite3.Error as error:
            raise explain(error, path) from error
        database = cls(connection, path)
        try:
            database._prepare(read_only=read_only, busy=busy)
            database._file = _identity(path)
        except BaseException:
            connection.close()
            raise
        return database

    def _prepare(self, *, read_only: bool, busy: int) -> None:
        self.run("PRAGMA foreign_keys = ON")
        self.run("PRAGMA cache_size = -32000")
        self.run("PRAGMA temp_store = MEMORY")
        if read_only:
            self.run("SELECT count(*) FROM sqlite_schema")
            return
        self._use_wal(busy)
        self.run("PRAGMA synchronous = FULL")
        self.run("PRAGMA journal_size_limit = 67108864")

    def _use_wal(self, busy: int) -> None:
        """Switch to WAL. SQLite does not wait for a lock here, so two programs starting at once must try again."""
        give_up = time.monotonic() + busy / 1000
        while True:
            try:
                (mode,) = self._connection.execute("PRAGMA journal_mode = WAL").fetchone()
            except sqlite3.Error as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > give_up:
                    raise explain(error, self.path) from error
                time.sleep(0.02)
                continue
            if mode != "wal":
                raise StoreError(
                    f"the disk of {self.path} cannot keep a write-ahead log (SQLite stays in {mode!r} mode)",
                    hint="put the database on a local disk, not on a network share",
                )
            return

    @property
    def replaced(self) -> bool:
        """Whether another file stands at the path by now: a disk was taken out and mounted anew, or is another one."""
        return _identity(self.path) not in (None, self._file)

    def close(self) -> None:
        """Close the connection; an open transaction is rolled back."""
        self._connection.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Everything inside is on the disk together when the outermost block ends, or not at all. Nested: a savepoint.

        Raises StoreError when another process holds the database longer than the busy time.
        """
        nested = self._depth > 0
        name = f"level{self._depth}"
        self.run(f"SAVEPOINT {name}" if nested else "BEGIN IMMEDIATE")
        self._depth += 1
        try:
            if not nested:
                self._notice_others()
            yield
            self.run(f"RELEASE {name}" if nested else "COMMIT")
        except BaseException:
            self.generation += 1
            self._undo(name if nested else None)
            raise
        finally:
            self._depth -= 1

    @contextmanager
    def view(self) -> Iterator[None]:
        """Everything read inside is of one moment, whatever others write meanwhile."""
        if self._depth or self._connection.in_transaction:
            yield
            return
        self.run("BEGIN")
        try:
            yield
        finally:
            self._undo(None)

    def _notice_others(self) -> None:
        (version,) = self._connection.execute("PRAGMA data_version").fetchone()
        if version != self._data_version:
            self._data_version = version
            self.generation += 1

    def _undo(self, savepoint: str | None) -> None:
        """Roll back. SQLite may have done so already (disk full), so there may be nothing left to undo."""
        if not self._connection.in_transaction:
            return
        with suppress(sqlite3.Error):  # the error that brought us here is the one to show; closing undoes the rest
            if savepoint is None:
                self._connection.execute("ROLLBACK")
            else:
                self._connection.execute(f"ROLLBACK TO {savepoint}")
                self._connection.execute(f"RELEASE {savepoint}")

    def copy_into(self, other: sqlite3.Connection) -> None:
        """Copy every page, as of the view that is open, with SQLite's online backup; raises StoreError."""
        try:
            self._connection.backup(other)
        except _TROUBLE as error:
            raise explain(error, self.path) from error

    def run(self, sql: str, parameters: Parameters = ()) -> sqlite3.Cursor:
        """Run one statement; raises StoreError."""
        try:
            return self._connection.execute(sql, parameters)
        except _TROUBLE as error:
            raise explain(error, self.path) from error

    def run_many(self, sql: str, rows: Iterable[Sequence[Any]]) -> int:
        """Run one statement for every row and return how many rows it changed; raises StoreError."""
        try:
            return self._connection.executemany(sql, rows).rowcount
        except _TROUBLE as error:
            raise explain(error, self.path) from error

    def rows(self, sql: str, parameters: Parameters = ()) -> list[Any]:
        """Return every row of a query as tuples; raises StoreError."""
        try:
            return self._connection.execute(sql, parameters).fetchall()
        except _TROUBLE as error:
            raise explain(error, self.path) from error

    def one(self, sql: str, parameters: Parameters = ()) -> Any:
        """Return the first row of a query as a tuple, or None; raises StoreError."""
        try:
            return self._connection.execute(sql, parameters).fetchone()
        except _TROUBLE as error:
            raise explain(error, self.path) from error


def _identity(path: Path) -> tuple[int, int] | None:
    """Return device and inode of a file (stat(2)), None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _check_place(path: Path, *, read_only: bool) -> None:
    """Say in plain words what SQLite would call `unable to open database file`."""
    if path.is_dir():
        raise StoreError(f"{path} is a folder, not a database", hint="name a file in store.path")
    if not path.parent.is_dir():
        raise StoreError(f"the folder {path.parent} is not there", hint="make it, or correct store.path")
    if read_only and not path.exists():
        raise StoreError(f"there is no database at {path} yet", hint="start `hivemon run` or `hivemon import` first")

"""A second copy of a store: made while the daemon works, checked before it counts, and never over another file.

What a crash in the middle costs: nothing. The copy appears under its name only when it is whole and checked.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import StoreError
from hivemon.store import migrations
from hivemon.store.database import Database
from hivemon.store.faults import explain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hivemon.model import Millis

_BESIDE = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a database and would take for part of another of the same name."""


class Copied(NamedTuple):
    """What a copy holds: rows by table, and the time of its newest raw reading (None: it has none)."""

    rows: dict[str, int]
    newest: Millis | None


def copy_store(source: Path, target: Path) -> Copied:
    """Copy a store as it is at one moment, whoever writes to it meanwhile, to a file that is not there yet.

    SQLite's own online backup makes the copy; every page and reference of it is checked and every row counted against
    the original before it gets its name.

    Raises:
        StoreError: The source is no store of ours, newer than this program or damaged; the target is there already or
            cannot be written.
    """
    _must_not_exist(target)
    original = Database.open(source, read_only=True)
    try:
        migrations.check(original)
        with original.view(), _appearing(target) as made:
            counted = _contents(original)
            _copy(original, made)
            copy = Database.open(made, read_only=True)
            try:
                _compare(copy, counted, source)
            finally:
                copy.close()
    finally:
        original.close()
    return counted


def present(path: Path) -> bool:
    """Tell whether a store, or anything of one, stands at `path`."""
    return any(Path(f"{path}{end}").exists() for end in ("", *_BESIDE))


def move_away(path: Path, name: str) -> Path:
    """Give a store, with what SQLite keeps beside it, another name in its folder; return that. Raises StoreError."""
    away = path.with_name(f"{path.name}.{name}")
    _must_not_exist(away)
    try:
        for end in (*_BESIDE, ""):
            if (part := Path(f"{path}{end}")).exists():
                part.rename(f"{away}{end}")
    except OSError as error:
        raise StoreError(f"cannot rename {path}: {error.strerror}", hint="look at the folder's rights") from error
    return away


def _must_not_exist(target: Path) -> None:
    for end in ("", *_BESIDE):
        if (there := Path(f"{target}{end}")).exists():
            raise StoreError(f"{there} is there already, and is not written over", hint="name a file that is not there")


@contextlib.contextmanager
def _appearing(target: Path) -> Iterator[Path]:
    """Give the name of a file beside `target` that gets its name when the block ends, and is gone when it fails."""
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    except OSError as error:
        hint = "make the folder, or name another"
        raise StoreError(f"cannot write into {target.absolute().parent}: {error.strerror}", hint=hint) from error
    os.close(handle)
    made = Path(name)
    try:
        yield made
        with made.open("rb") as file:
            os.fsync(file.fileno())
        _must_not_exist(target)
        made.rename(target)
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        raise StoreError(f"cannot write {target}: {error.strerror}", hint="look at the disk and its room") from error
    finally:
        for end in ("", *_BESIDE):
            Path(f"{made}{end}").unlink(missing_ok=True)


def _copy(original: Database, made: Path) -> None:
    try:
        with contextlib.closing(sqlite3.connect(made, isolation_level=None)) as copy:
            original.copy_into(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, with nothing beside it
    except sqlite3.Error as error:
        raise explain(error, made) from error


def _contents(database: Database) -> Copied:
    tables = database.rows("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    rows = {name: database.one(f'SELECT count(*) FROM "{name}"')[0] for (name,) in tables}  # noqa: S608 - our own names
    (newest,) = database.one("SELECT max(time) FROM reading") if "reading" in rows else (None,)
    return Copied(rows, newest)


def _compare(copy: Database, counted: Copied, source: Path) -> None:
    """Raise StoreError when a page of the copy is damaged (so was the original's) or a row is missing."""
    wrong = [text for (text,) in copy.rows("PRAGMA integrity_check(5)") if text != "ok"]
    found = _contents(copy)
    if found != counted:
        wrong += [f"{n} of {counted.rows[t]} rows of {t}" for t, n in found.rows.items() if n != counted.rows[t]]
    if wrong:
        hint = "no copy was kept; `hivemon restore` brings back an earlier one, `hivemon health` says more"
        raise StoreError(f"{source} is damaged: {wrong[0]}", hint=hint)

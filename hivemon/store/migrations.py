"""How a database comes to its present form: named steps, each committed together with the row that records it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import StoreError
from hivemon.store.schema import FIRST, NOTICES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.model import Millis
    from hivemon.store.database import Database

APPLICATION_ID = 0x68697665
"""SQLite's application_id of our files: the bytes of "hive"."""


class Migration(NamedTuple):
    """One step: its number is its place in `MIGRATIONS`, counted from 1. Never changed once released."""

    name: str
    statements: Sequence[str]


MIGRATIONS: tuple[Migration, ...] = (
    Migration("first tables", FIRST),
    Migration("messages to people", NOTICES),
)


def migrate(database: Database, now: Millis, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Bring the database to the last migration; raises StoreError for a foreign or a newer file and leaves it alone."""
    check(database, migrations)
    while _version(database) < len(migrations):
        with database.transaction():
            number = _version(database) + 1  # asked again under the lock: another process may have done it
            if number <= len(migrations):
                _apply(database, number, migrations[number - 1], now)


def check(database: Database, migrations: Sequence[Migration] = MIGRATIONS, *, current: bool = False) -> None:
    """Refuse a database that is not ours or newer than this program, and with `current` also an older one."""
    path = database.path
    (application,) = database.one("PRAGMA application_id")
    (tables,) = database.one("SELECT count(*) FROM sqlite_schema")
    if application != APPLICATION_ID and (tables or application):
        raise StoreError(f"{path} is a database of another program", hint="name another file in store.path")
    version = _version(database)
    if version > len(migrations):
        raise StoreError(
            f"{path} was written by a newer hivemon (form {version}; this program knows up to {len(migrations)})",
            hint="update hivemon; the file has not been touched",
        )
    if current and version < len(migrations):
        raise StoreError(
            f"{path} was written by an older hivemon (form {version}; this program needs {len(migrations)})",
            hint="start `hivemon run` once: it brings the file up to date",
        )


def _version(database: Database) -> int:
    (version,) = database.one("PRAGMA user_version")
    return int(version)


def _apply(database: Database, number: int, migration: Migration, now: Millis) -> None:
    for statement in migration.statements:
        database.run(statement)
    database.run("INSERT INTO migration (number, name, applied) VALUES (?, ?, ?)", (number, migration.name, now))
    database.run(f"PRAGMA application_id = {APPLICATION_ID}")
    database.run(f"PRAGMA user_version = {number}")

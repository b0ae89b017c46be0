"""`hivemon backup` and `hivemon restore`: the store into a second file while the daemon works, and back."""

import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, find_config, load_settings
from hivemon.errors import StoreError

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.store.copies import Copied


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(backup)
    app.command()(restore)


def backup(
    file: Annotated[Path, typer.Argument(help="The copy to make, for example on a stick. Must not be there yet.")],
    config: ConfigOption = None,
) -> None:
    """Copy the whole store into one file, while the daemon works.

    The copy is checked, page by page and row by row, before it gets its name. Nothing is written over.
    """
    from hivemon.store.copies import copy_store

    settings = load_settings(config)
    path = Path(settings.store.path)
    if not path.exists():
        raise StoreError(f"there is no store at {path} yet", hint="there is nothing to copy before `hivemon run`")
    began = time.monotonic()
    copied = copy_store(path, file)
    screen.say(f"{file}: {_told(copied, settings)}.")
    size = file.stat().st_size / 1024**2
    screen.say(f"Checked: {size:.1f} MB in {time.monotonic() - began:.1f} s, every page and row as in the store.")
    screen.say(f"Passwords and {find_config(config)} are not in it: copy them too.")


def restore(
    file: Annotated[Path, typer.Argument(help="The copy that `hivemon backup` made.")],
    away: Annotated[
        bool, typer.Option("--rename-present", help="Give the present store another name first; nothing is deleted.")
    ] = False,
    config: ConfigOption = None,
) -> None:
    """Put a copy back as the store. The daemon must be stopped.

    The copy is checked first and stays as it is. A store that is there is never written over.
    """
    from hivemon.daemon.lock import Lock
    from hivemon.store.copies import copy_store, move_away, present
    from hivemon.store.witness import Witness

    settings = load_settings(config)
    path = Path(settings.store.path)
    if not file.exists():
        raise StoreError(f"there is no copy {file}", hint="name the file that `hivemon backup` made")
    if present(path) and not away:
        hint = "stop hivemon, then add --rename-present: the present store stays beside it under another name"
        raise StoreError(f"there is a store at {path}, and it is not written over", hint=hint)
    with Lock.of(settings) as held:
        if not held:
            raise StoreError(
                f"hivemon works on {path} now", hint="stop it first: Ctrl-C, or the service of your system"
            )
        fresh = path.with_name(f"{path.name}.restoring")
        copied = copy_store(file, fresh)
        if path.exists():
            kept = move_away(path, datetime.now().astimezone().strftime("until-%Y%m%dT%H%M%S"))
            screen.say(f"The present store is {kept} now.")
        Witness(path).forget()
        fresh.rename(path)
    screen.say(f"{path}: {_told(copied, settings)}.")
    screen.say("What came after that is not in it. Start hivemon again.")


def _told(copied: "Copied", settings: "Settings") -> str:
    """Say what a copy holds."""
    from hivemon.cli.display import local

    rows = copied.rows
    counts = ", ".join(f"{rows.get(table, 0):,} {name}" for table, name in _NAMES.items() if rows.get(table))
    newest = "" if copied.newest is None else f", the newest reading of {local(copied.newest, settings.yard[0].zone)}"
    return f"{counts or 'nothing yet'}{newest}"


_NAMES = {
    "reading": "readings",
    "mean": "15-minute means",
    "entry": "logbook entries",
    "event": "events",
    "advisory": "advisories",
    "hive_day": "hive days",
    "message": "messages to people",
    "outbox": "parcels for InfluxDB",
}

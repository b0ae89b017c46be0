"""`hivemon password` for the web pages, and `hivemon export --page`: a hive's season as one file."""

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, hive_meant, load_settings
from hivemon.errors import ConfigError, UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings, YardSettings
    from hivemon.store import Store


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(password)


def password(config: ConfigOption = None) -> None:
    """Set the password of the web pages.

    Asks for it twice, or reads it from a pipe. Only its hash is kept, in password_file of [pages]. A running daemon
    takes it up when it is started again.
    """
    from hivemon.pages import passwords

    settings = load_settings(config)
    if settings.pages.password_file is None:
        hint = 'add password_file = "pages-password" under [pages], then run this again'
        raise ConfigError("hivemon.toml does not say where the password's hash goes", hint=hint)
    if sys.stdin.isatty():
        given = typer.prompt("Password of the pages", hide_input=True, confirmation_prompt="Once more")
    else:
        given = sys.stdin.readline().rstrip("\r\n")
    passwords.keep(Path(settings.pages.password_file), given)
    screen.say(f"Kept, as a hash, in {settings.pages.password_file}. Start hivemon again for it to count.")


def write_page(
    settings: "Settings", store: "Store", path: Path, yards: "Sequence[YardSettings]", hive: str | None
) -> str:
    """Write a hive's season and return its name; raises UsageError when it is not plain which hive is meant."""
    from hivemon.files import write_whole
    from hivemon.pages.hives import every_hive
    from hivemon.pages.single import season

    if hive is not None:
        _, hive = hive_meant(settings, store, hive)
    known = [found for yard in yards for found in every_hive(settings, store, yard.id)]
    meant = [found for found in known if hive in (None, found.id)]
    if len(meant) != 1:
        ids = ", ".join(found.id for found in known[:20])
        what = f"hive {hive!r} stands in another yard" if hive and not meant else "a page shows one hive"
        raise UsageError(what, hint=f"name it with --hive: {ids or 'none is known yet'}")
    page = season(settings, store, meant[0].yard, meant[0].id, clock=time.time_ns() // 1_000_000)
    write_whole(path, page.encode())
    return meant[0].title

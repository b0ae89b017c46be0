"""`hivemon service`: the daemon as a service of the system, by systemd."""

import os
import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, find_config
from hivemon.errors import InputError, UsageError


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(service)


def service(
    config: ConfigOption = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Where the unit goes: /etc/systemd/system/hivemon.service. Without it, the screen."),
    ] = None,
    account: Annotated[
        str | None,
        typer.Option("--account", help="Whose rights it has. Default: whoever owns the configuration."),
    ] = None,
) -> None:
    """Write a systemd unit: the daemon starts with the machine, and anew when it hangs.

    It has the rights of one ordinary account and may write to the store's folder only. Where that is on a disk of its
    own, it waits until the disk is mounted.
    """
    from hivemon.config import load
    from hivemon.daemon.unit import unit

    found = find_config(config).absolute()
    settings = load(found)
    folder = Path(settings.store.path).parent
    if any(folder.is_relative_to(temporary) for temporary in ("/tmp", "/var/tmp")):  # noqa: S108 - only compared
        raise UsageError(f"the store would stand in {folder}, which does not last", hint="move the configuration first")
    text = unit(_own_program(), found, settings, account or _owner(found), disk_of(folder))
    if out is None:
        screen.say(text.rstrip())
        return
    if not folder.is_dir():
        raise UsageError(f"there is no folder {folder} for the store", hint="make it, owned by the account, first")
    _write(out, text)
    screen.say(f"Written: {out}. Now:")
    screen.say("  systemctl daemon-reload")
    screen.say(f"  systemctl enable --now {out.stem}")


def _own_program() -> Path:
    """Return the path of this command, which stays when the shell that called it is gone."""
    called = shutil.which(sys.argv[0]) or str(Path(sys.executable).with_name("hivemon"))
    return Path(called).absolute()


def disk_of(folder: Path) -> Path | None:
    """Return where the disk that holds a folder is mounted; None where that is the system's own."""
    mounted = next(place for place in (folder.resolve(), *folder.resolve().parents) if place.is_mount())
    return None if mounted == Path("/") else mounted


def _owner(config: Path) -> str:
    """Return who owns the configuration; raises UsageError when that is root, who should not be the one to run it."""
    import pwd

    number = config.stat().st_uid
    if number == 0:
        hint = "make one (`adduser --system --group hivemon`), give it the folder, and name it: --account hivemon"
        raise UsageError(f"{config} belongs to root, and a service needs no such rights: name an account", hint=hint)
    try:
        return pwd.getpwuid(number).pw_name
    except KeyError:
        raise UsageError(f"{config} belongs to nobody known here ({number})", hint="name an --account") from None


def _write(path: Path, text: str) -> None:
    from hivemon.files import write_whole

    try:
        write_whole(path, text.encode())
    except OSError as error:
        hint = "writing there needs the administrator: sudo" if os.geteuid() else "look at the folder"
        raise InputError(f"cannot write {path}: {error.strerror}", hint=hint) from error

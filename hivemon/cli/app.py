"""The `hivemon` command: its sub-commands, and what becomes of errors.

Exit codes (README lists them too): 0 done; 1 a defect in hivemon; 2 to 6 the errors of `hivemon.errors`; 7 `health`
found something that needs a look; 130 stopped with Ctrl-C; 141 nobody reads the output any more.
"""

from __future__ import annotations

import os
import sys
import traceback
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon import __version__
from hivemon.cli import (
    advice,
    answer,
    calibrate,
    channels,
    copies,
    demo,
    events,
    exchange,
    health,
    log,
    manual,
    note,
    overnight,
    pages,
    replay,
    run,
    service,
    setup,
    shares,
)
from hivemon.errors import HivemonError

if TYPE_CHECKING:
    from collections.abc import Sequence

DEFECT, USAGE, INTERRUPTED, PIPE_CLOSED = 1, 2, 130, 141
"""130 and 141 are 128 + the signal's number (SIGINT 2, SIGPIPE 13), as shells report them."""

COMPLETING = "_HIVEMON_COMPLETE"
"""Set by a shell that asks for completions."""

app = typer.Typer(
    name="hivemon",
    help="Watches beehives by weight, temperature and humidity; says what needs doing and what to leave alone.",
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for module in (
    demo,
    setup,
    calibrate,
    run,
    service,
    shares,
    overnight,
    note,
    advice,
    answer,
    events,
    log,
    health,
    channels,
    exchange,
    copies,
    replay,
    pages,
    manual,
):
    module.register(app)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"hivemon {__version__}")
        raise typer.Exit


@app.callback()
def hivemon(
    version: Annotated[
        bool,
        typer.Option("--version", help="Show the version and leave.", is_eager=True, callback=_show_version),
    ] = False,
    debug: Annotated[
        bool,
        typer.Option("--debug", help="Show where in the program an error arose; may stand anywhere."),
    ] = False,
) -> None:
    """Watches beehives by weight, temperature and humidity; says what needs doing and what to leave alone."""
    del version, debug  # handled before this is called


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every error becomes one or two lines on stderr."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    debug = "--debug" in given
    try:
        code = app([a for a in given if a != "--debug"] or ["--help"], standalone_mode=False, prog_name="hivemon")
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit):
        # typer turns a broken pipe into SystemExit; else it raises that only when it has answered a shell's completion
        return 0 if COMPLETING in os.environ else _pipe_closed()
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:  # noqa: BLE001 - the last place before the person: no traceback unless asked for
        if debug:
            traceback.print_exc()
        return _explain(error)
    return code if isinstance(code, int) else 0


def _explain(error: Exception) -> int:
    """Say on stderr what went wrong and what to do; return the exit code."""
    if isinstance(error, HivemonError):
        _complain(str(error), error.hint)
        return error.exit_code
    if isinstance(error, typer.Abort):
        return INTERRUPTED
    if isinstance(error, typer.TyperException):
        context = getattr(error, "ctx", None)
        command = context.command_path if context else "hivemon"
        _complain(error.format_message(), f"see `{command} --help`")
        return USAGE
    _complain(
        f"a defect in hivemon: {type(error).__name__}: {error}",
        "nothing stored is lost; run the same with --debug to see where, and report it",
    )
    return DEFECT


def _complain(message: str, hint: str) -> None:
    typer.echo(f"hivemon: {message}", err=True)
    if hint:
        typer.echo(f"  {hint}", err=True)


def _pipe_closed() -> int:
    """`hivemon events | head` closes the pipe early: not an error, but Python must not try to flush into it again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return PIPE_CLOSED

"""`hivemon manual`: the man page, made from the help of every command, so that the two cannot disagree.

Written in the man macros of groff_man(7): .TH, .SH, .SS, .TP, .PP.
"""

from typing import TYPE_CHECKING, Any

import typer

from hivemon import __version__
from hivemon.cli import screen

if TYPE_CHECKING:
    from collections.abc import Iterator


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def manual() -> None:
        """The man page, of all commands.

        For `hivemon manual | man -l -`, or to be kept as ~/.local/share/man/man1/hivemon.1.
        """
        screen.say("\n".join(page(typer.main.get_command(app))))


def page(command: Any) -> "Iterator[str]":
    """Yield the lines of the man page of a command with its sub-commands."""
    yield f'.TH HIVEMON 1 "" "hivemon {__version__}" "User Commands"'
    yield ".SH NAME"
    yield "hivemon \\- watches beehives by weight, temperature and humidity"
    yield ".SH SYNOPSIS"
    yield "\\fBhivemon\\fR \\fICOMMAND\\fR [\\fIOPTION\\fR ...]"
    yield ".SH DESCRIPTION"
    yield from _paragraphs(command.help)
    yield from _options(command)
    yield ".SH COMMANDS"
    yield from _commands(command, "hivemon")
    yield ".SH FILES"
    yield from _entry("hivemon.toml", "The configuration: ./hivemon.toml, else ~/.config/hivemon/hivemon.toml.")
    yield ".SH ENVIRONMENT"
    yield from _entry("HIVEMON_CONFIG", "The configuration, where \\-\\-config is not given.")
    yield from _entry("HIVEMON_BROKER_PASSWORD", "hivemon's password at your broker.")
    yield from _entry("NO_COLOR", "Any value: no colours.")
    yield ".SH EXIT STATUS"
    yield "0 done; 1 a defect in hivemon; 2 wrong use; 3 configuration; 4 a file; 5 the store; 6 a broker or server;"
    yield "7 \\fBhealth\\fR found something that needs a look; 130 stopped with Ctrl\\-C; 141 nobody reads the output."


def _commands(command: Any, name: str) -> "Iterator[str]":
    for sub in command.commands.values():
        if sub.hidden:
            continue
        full = f"{name} {sub.name}"
        arguments = " ".join(p.metavar or p.name.upper() for p in sub.params if p.param_type_name == "argument")
        yield f'.SS "{_plain(f"{full} {arguments}".strip())}"'
        yield from _paragraphs(sub.help)
        yield from _options(sub)
        if hasattr(sub, "commands"):
            yield from _commands(sub, full)


def _options(command: Any) -> "Iterator[str]":
    for option in command.params:
        if option.param_type_name == "option" and not option.hidden:
            names = ", ".join([*option.opts, *option.secondary_opts])
            yield from _entry(names, _plain(option.help or ""))


def _entry(name: str, text: str) -> "Iterator[str]":
    yield ".TP"
    yield f"\\fB{_plain(name)}\\fR"
    yield text


def _paragraphs(text: str | None) -> "Iterator[str]":
    for paragraph in (text or "").split("\n\n"):
        yield ".PP"
        yield _plain(" ".join(paragraph.split()))


def _plain(text: str) -> str:
    """Return text in which groff sees no request and no escape (groff_man(7), section "Portability")."""
    safe = (
        text.replace("\\", "\\e").replace("-", "\\-").replace("~", "\\(ti").replace("^", "\\(ha").replace("`", "\\(ga")
    )
    return f"\\&{safe}" if safe.startswith((".", "'")) else safe

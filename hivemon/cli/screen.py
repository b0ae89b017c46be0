"""Where output goes: a person's terminal, wide or narrow, or a pipe."""

import os
import shutil
import sys
import textwrap
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from rich.console import Console

NARROW = 76
"""Columns below which tables are written as short paragraphs."""

URGENCY_STYLE = {"now": "bold red", "today": "yellow", "this-week": "cyan", "for-information": "dim"}


def on_terminal() -> bool:
    """Whether a person looks at standard output."""
    return sys.stdout.isatty()


def progress_wanted() -> bool:
    """Whether a person looks at standard error, where progress goes."""
    return sys.stderr.isatty()


def columns() -> int:
    """Return the width to write for: the terminal's, or 80."""
    return shutil.get_terminal_size().columns


def console() -> "Console":
    """Return a console on standard output that obeys NO_COLOR and the terminal's width."""
    from rich.console import Console

    return Console(highlight=False, no_color=bool(os.environ.get("NO_COLOR")))


def say(text: str = "") -> None:
    """Write a line of the answer."""
    typer.echo(text)


def tell(text: str) -> None:
    """Write a sentence of the answer, wrapped to the terminal; one line in a pipe."""
    if on_terminal():
        text = textwrap.fill(text, max(columns() - 1, 20), break_long_words=False, break_on_hyphens=False)
    typer.echo(text)


def aside(text: str) -> None:
    """Write a line beside the answer, on standard error."""
    typer.echo(text, err=True)

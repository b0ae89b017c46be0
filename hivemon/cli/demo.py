"""`hivemon demo`: everything at once on embedded parts: a broker, a daemon, a store, and a season played to them."""

import contextlib
import logging
import shutil
import socket
import sys
import tempfile
import textwrap
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from hivemon.cli.account import Account, Line
    from hivemon.cli.playing import Season
    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.recordings import Recording

INTERRUPTED = 130
"""Exit code when Ctrl-C came before the end."""
LOOK_SECONDS = 0.2
"""How often the account looks into the store."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(demo)


def demo(
    recording: Annotated[str, typer.Option("--recording", help="Which invented season to play.")] = "orchard-swarm",
    seconds: Annotated[float, typer.Option("--seconds", min=5, max=3600, help="How long it should take.")] = 40.0,
    folder: Annotated[
        Path | None,
        typer.Option("--folder", help="Where its configuration and store go; without it, a new temporary folder."),
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Go on afterwards, until Ctrl-C.")] = False,
) -> None:
    """Watch it all work, in about a minute.

    An invented yard's season over real MQTT, at speed: broker, daemon and store are real, only the bees are not. What
    it leaves behind is an ordinary configuration and store, for the other commands to try.
    """
    from hivemon.cli.account import Account
    from hivemon.cli.playing import Season
    from hivemon.config import load
    from hivemon.pages import serving
    from hivemon.recordings import find

    found = find(recording)
    config = _prepare(found, folder)
    settings = load(config)
    account = Account(settings)
    screen.tell(_opening(found, settings, seconds))
    with _quiet(), Season(settings, found, seconds) as season, serving(settings, clock=_clock(settings)) as pages:
        if pages is not None:
            screen.tell(f"To see it on pages meanwhile, open {pages.url}")
        try:
            _follow(season, account)
            if keep:
                _closing(settings, config)
                _go_on(season, account)
        except KeyboardInterrupt:
            done = season.finished
            season.stop()
            _show(_news(settings, account))
            screen.say(f"Stopped. Everything that came is kept in {settings.store.path}")
            raise typer.Exit(0 if done else INTERRUPTED) from None
    _closing(settings, config)


def _prepare(found: "Recording", folder: Path | None) -> Path:
    """Write the season's configuration, with free ports, and its logbook into a new store; return the former."""
    from hivemon.config import load
    from hivemon.files import write_whole
    from hivemon.intake.files import read_logbook
    from hivemon.recordings import PLAYED
    from hivemon.store import Store

    if folder is not None and (folder / "hivemon.db").exists():
        raise UsageError(f"there is a store in {folder} already", hint="name another folder: a demo begins at nothing")
    place = Path(tempfile.mkdtemp(prefix="hivemon-demo-")) if folder is None else folder
    place.mkdir(parents=True, exist_ok=True)
    config = place / "hivemon.toml"
    text = found.config.read_text(encoding="utf-8")
    write_whole(config, f"{text}\n[embedded]\nport = {_free_port()}\n\n[pages]\nport = {_free_port()}\n".encode())
    settings = load(config)
    with Store.open(Path(settings.store.path)) as store:
        store.put_note(PLAYED, found.name)
        entries = read_logbook(found.logbook)
        for yard in settings.yard:
            hives = {hive.id for hive in settings.hives_of(yard.id)}
            store.add_entries(yard.id, [entry for entry in entries if entry.hive in hives])
    return config


def _clock(settings: "Settings") -> "Callable[[], Millis]":
    """Return the clock of the season that is played: the time of its newest reading, for the pages."""
    from hivemon.store import Store

    def now() -> "Millis":
        with Store.open(Path(settings.store.path), read_only=True) as store:
            return store.newest() or 0

    return now


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def _quiet() -> "Iterator[None]":
    """Keep the parts' logs out of the account; what they find wrong still shows."""
    root = logging.getLogger()
    before = root.level
    root.setLevel(logging.ERROR)
    try:
        yield
    finally:
        root.setLevel(before)


def _follow(season: "Season", account: "Account") -> None:
    """Show what is new until all that was played is kept and judged."""
    while True:
        finished = season.finished
        _show(_news(season.settings, account))
        if finished:
            return
        season.check()
        time.sleep(LOOK_SECONDS)


def _go_on(season: "Season", account: "Account") -> None:
    """Show whatever else is published, until Ctrl-C."""
    yard = season.settings.yard[0].id
    port = season.settings.embedded.port
    screen.tell(f"It goes on until Ctrl-C: publish to hives/{yard}/... on port {port} of this machine.")
    while True:
        _show(_news(season.settings, account))
        season.check()
        time.sleep(LOOK_SECONDS)


def _news(settings: "Settings", account: "Account") -> "list[Line]":
    """Look into the store, as any other command would, while the daemon writes to it."""
    from hivemon.store import Store

    with Store.open(Path(settings.store.path), read_only=True) as store, store.view():
        lines = []
        for yard in settings.yard:
            lines += account.news(
                store.hive_days(yard.id),
                store.events(yard.id),
                store.advisories(yard.id),
                store.entries(yard.id, until=store.newest(yard.id) or 0),
            )
    return lines


def _show(lines: "list[Line]") -> None:
    colours = {"now": "red", "today": "yellow", "this-week": "cyan", "event": "green"}
    for line in lines:
        text = line.text
        if screen.on_terminal():
            indent = " " * (len(text) - len(text.lstrip()) + 3)
            text = textwrap.fill(text, max(screen.columns() - 1, 40), subsequent_indent=indent, break_on_hyphens=False)
            text = typer.style(text, fg=colours.get(line.style), bold=line.style == "now", dim=line.style == "logbook")
        screen.say(text)


def _opening(found: "Recording", settings: "Settings", seconds: float) -> str:
    yard = settings.yard[0]
    return (
        f"{yard.title}, an invented yard of {len(settings.hive)} hives ({found.name}), played over real MQTT in about "
        f"{seconds:.0f} seconds. Each day has a line: every hive's weight at dawn and what it gained since the dawn "
        f"before, in {settings.units.weight}. Indented, as it comes: what is inferred, what is advised (->), and what "
        "the beekeeper wrote down."
    )


def _closing(settings: "Settings", config: Path) -> None:
    """Say what came of it, where it is, and what to try on it."""
    from hivemon.store import Store

    with Store.open(Path(settings.store.path), read_only=True) as store:
        facts = store.facts()
    command = _own_name()
    screen.say()
    screen.say(
        f"Kept: {facts.readings or 0:,} readings, {facts.events} events, {facts.advisories_open} open advisories."
    )
    screen.say("Try on it:")
    for name in ("overnight", "note", "advice", "events", "log", "health"):
        screen.say(f"  {command} {name} --config {config}")
    screen.say("For your own hives:")
    screen.say(f"  {command} setup")


def _own_name() -> str:
    """Return how this program was called: `hivemon` where the shell would find it, else the path that was typed."""
    called = Path(sys.argv[0])
    known = shutil.which("hivemon")
    return "hivemon" if known and Path(known).resolve() == called.resolve() else str(called)

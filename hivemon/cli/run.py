"""`hivemon run`: the daemon."""

import typer

from hivemon.cli.options import ConfigOption, load_settings


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(run)


def run(config: ConfigOption = None) -> None:
    """The daemon: readings in, advice out, until Ctrl-C.

    Takes readings in over MQTT, keeps each before acknowledging it, judges them, and says what needs doing. Without a
    [broker] in the configuration it starts its own.
    """
    from hivemon.daemon import run as run_daemon

    run_daemon(load_settings(config))

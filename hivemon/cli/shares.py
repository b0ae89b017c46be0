"""`hivemon shares`: several daemons at one broker: is every yard in exactly one share? The exit code says it too."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.health import NOT_WELL
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from hivemon.config import BrokerSettings
    from hivemon.shares import Share


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(shares)


def shares(
    configurations: Annotated[list[Path], typer.Argument(help="The hivemon.toml of every daemon.", show_default=False)],
    listen: Annotated[
        float,
        typer.Option("--listen", min=0, help="Seconds to listen at the broker for yards that are in no share."),
    ] = 0.0,
    as_json: Annotated[bool, typer.Option("--json", help="JSON for other programs.")] = False,
) -> None:
    """Several daemons at one broker: is every yard in exactly one share? Exits with 7 if not.

    A share is named by `share` under [broker]. Nodes usually speak every 5 to 15 minutes: listen that long to be sure.
    """
    from hivemon.cli.display import counted
    from hivemon.config import load
    from hivemon.shares import Share, doubts

    found = [Share(str(path), load(path)) for path in configurations]
    heard = _heard(found, listen) if listen else set()
    wrong = doubts(found, heard)
    if as_json:
        told = [{"share": s.name, "yards": len(s.settings.yard), "hives": len(s.settings.hive)} for s in found]
        screen.say(json.dumps({"well": not wrong, "shares": told, "doubts": [d._asdict() for d in wrong]}, indent=2))
    else:
        for share in found:
            yards, hives = counted(len(share.settings.yard), "yard"), counted(len(share.settings.hive), "hive")
            screen.say(f"{share.name}: {yards}, {hives}")
        for doubt in wrong:
            screen.say(f"{typer.style('LOOK', fg='red', bold=True)}  {doubt.what}")
            screen.say(f"      {doubt.hint}")
        if not wrong:
            screen.say(f"Every yard is in one share.{f' {len(heard):,} were heard.' if listen else ''}")
    if wrong:
        raise typer.Exit(NOT_WELL)


def _heard(found: "list[Share]", seconds: float) -> set[str]:
    """Return the yards that publish at the shares' broker within some seconds, by names that could be configured."""
    from hivemon.intake.hearing import Hearing
    from hivemon.intake.names import is_id

    broker: BrokerSettings | None = next((s.settings.broker for s in found if s.settings.broker), None)
    if broker is None:
        raise UsageError("there is no broker to listen at", hint="name one as [broker] in a configuration")
    root = broker.topic.strip("/")
    with Hearing(broker, [f"{root}/+", f"{root}/+/+"]) as hearing:
        topics = {message.topic for message in hearing.listen(seconds)}
    yards = {topic.removeprefix(f"{root}/").split("/")[0] for topic in topics}
    return {yard for yard in yards if is_id(yard)}

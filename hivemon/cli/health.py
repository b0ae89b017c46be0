"""`hivemon health`: is everything well? The exit code says it to a watchdog."""

import json
import time
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, load_settings, open_store

if TYPE_CHECKING:
    from hivemon.cli.wellness import Finding
    from hivemon.config import Settings
    from hivemon.store import Quarantined

NOT_WELL = 7
"""Exit code when something needs a look."""

SHOWN = 20
"""Messages set aside that are shown or looked at."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(health)


def health(
    config: ConfigOption = None,
    quick: Annotated[bool, typer.Option("--quick", help="Do not look at every page of the store.")] = False,
    set_aside: Annotated[
        bool,
        typer.Option("--set-aside", help="Show the last messages that could not be used, and why."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="JSON for other programs.")] = False,
) -> None:
    """Is everything well? Exits with 7 if not.

    Looks at the daemon, the store, the disk, the newest reading of every hive, messages set aside, the copy to InfluxDB
    and the channels to people.
    """
    from hivemon.cli.wellness import Seen, judge
    from hivemon.daemon import is_running, read_status

    settings = load_settings(config)
    with open_store(settings) as store:
        facts = store.facts(deep=not quick)
        quarantined = store.quarantined(SHOWN)
        waiting = store.messages_waiting()
        seen = Seen(facts, quarantined, read_status(store), alive=is_running(settings), waiting=waiting)
    findings = judge(seen, settings, int(time.time() * 1000))
    well = all(finding.well for finding in findings)
    if as_json:
        screen.say(json.dumps({"well": well, "findings": [f._asdict() for f in findings]}, indent=2))
    else:
        _show(findings)
        if set_aside:
            _show_set_aside(quarantined, settings)
    if not well:
        raise typer.Exit(NOT_WELL)


def _show(findings: "list[Finding]") -> None:
    from hivemon.cli.display import harmless

    for finding in findings:
        mark = typer.style("well", fg="green") if finding.well else typer.style("LOOK", fg="red", bold=True)
        screen.say(f"{mark}  {harmless(finding.what)}")
        if not finding.well and finding.hint:
            screen.say(f"      {finding.hint}")
    wrong = sum(not finding.well for finding in findings)
    screen.say("All is well." if not wrong else f"{wrong} of {len(findings)} need a look.")


def _show_set_aside(quarantined: "list[Quarantined]", settings: "Settings") -> None:
    from hivemon.cli.display import harmless, local

    screen.say()
    for message in quarantined:
        when = local(message.received, settings.yard[0].zone)
        screen.say(f"{when}  {harmless(message.topic)}: {harmless(message.reason)}")
        screen.say(f"      {message.payload[:100]!r}")

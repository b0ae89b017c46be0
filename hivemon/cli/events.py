"""`hivemon events`: what the program inferred, and why."""

import json
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import (
    ConfigOption,
    HiveOption,
    JsonOption,
    SinceOption,
    YardOption,
    hive_meant,
    load_settings,
    open_store,
    wanted_yards,
)
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings
    from hivemon.model import Event, Kind

NOTHING_YET = "Nothing has been inferred: no swarm, no flow or dearth, no trouble in a brood nest, no lying sensor."
NOTHING_CAME = "No reading has come yet: nothing could be inferred. `hivemon health` says where nodes should publish."

_EVIDENCE_UNITS = {"kg": "kg", "celsius": "°C", "mm": "mm", "volts": "V", "points": "points of %RH", "hours": "hours"}
"""The last word of an evidence key that is a unit."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(events)


def events(
    config: ConfigOption = None,
    yard: YardOption = None,
    hive: HiveOption = None,
    kind: Annotated[str | None, typer.Option("--kind", help="Only this kind: swarm, flow-onset, ...")] = None,
    since: SinceOption = None,
    why: Annotated[
        str | None,
        typer.Option("--why", metavar="ID", help="Show the reason, the numbers and the history of one event."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """What was inferred, and why.

    The oldest first; --why ID shows the numbers behind one event, and its earlier versions.
    """
    from hivemon.cli.times import since_moment
    from hivemon.model import event_to_json

    settings = load_settings(config)
    yards = wanted_yards(settings, yard)
    wanted = _kind(kind)
    with open_store(settings) as store:
        if why is not None:
            history = [version.event for version in store.event_history(why)]
            _show_why(history, why, settings, as_json)
            return
        if hive is not None:
            _, hive = hive_meant(settings, store, hive)
        found = [
            event
            for place in yards
            for event in store.events(place.id, hive=hive, kind=wanted, since=since_moment(since, place.zone))
        ]
        heard = found or any(store.newest(place.id, hive) is not None for place in yards)
    found.sort(key=lambda event: (event.onset, event.id))
    if as_json:
        screen.say(json.dumps([event_to_json(event) for event in found], indent=2, ensure_ascii=False))
    elif not heard:
        screen.tell(NOTHING_CAME)
    elif not found:
        screen.tell(NOTHING_YET if wanted is None and hive is None and since is None else "No such events.")
    else:
        _show(found, settings)


def _kind(name: str | None) -> "Kind | None":
    """Check a kind; raises UsageError naming the nearest."""
    from hivemon.config_words import nearest
    from hivemon.model import Kind

    known = [kind.value for kind in Kind]
    if name is None or name in known:
        return None if name is None else Kind(name)
    near = nearest(name, known)
    hint = f"did you mean {near}?" if near else f"kinds: {', '.join(known)}"
    raise UsageError(f"there is no kind of event called {name!r}", hint=hint)


def _show(found: "Sequence[Event]", settings: "Settings") -> None:
    from hivemon.cli.display import plain_table

    table = plain_table(["When", "Where", "Kind", "Summary", "Id"], [row(event, settings) for event in found])
    if screen.on_terminal() and max(map(len, table.splitlines())) > screen.columns():
        screen.say("\n".join(paragraph(event, settings, screen.columns()) for event in found))
    else:
        screen.say(table)
    screen.say()
    screen.tell("`hivemon events --why ID` shows the numbers behind one of them.")


def row(event: "Event", settings: "Settings") -> list[str]:
    """Return an event as cells: when (local), where, what, in words, id."""
    from hivemon.cli.display import local

    zone = settings.find_yard(event.yard).zone
    summary = event.summary if event.withdrawn is None else f"(taken back) {event.summary}"
    return [local(event.onset, zone), _place(event, settings), event.kind.value, summary, event.id]


def paragraph(event: "Event", settings: "Settings", width: int) -> str:
    """Return an event for a narrow terminal."""
    from hivemon.cli.display import wrapped

    when, where, kind, summary, name = row(event, settings)
    return "\n".join([f"{when}  {where}  {kind}", wrapped(summary, width, "  "), f"  id {name}"])


def _place(event: "Event", settings: "Settings") -> str:
    if event.hive is None:
        return settings.find_yard(event.yard).title
    return settings.find_hive(event.hive, event.yard).title


def _show_why(history: "Sequence[Event]", name: str, settings: "Settings", as_json: bool) -> None:
    """Show an event's reason, its numbers and how it changed; raises UsageError when there is no such event."""
    from hivemon.model import event_to_json

    if not history:
        raise UsageError(f"there is no event {name!r}", hint="`hivemon events` lists them with their ids")
    if as_json:
        screen.say(json.dumps([event_to_json(event) for event in history], indent=2, ensure_ascii=False))
    else:
        screen.say(explanation(history, settings, screen.columns()))


def explanation(history: "Sequence[Event]", settings: "Settings", width: int) -> str:
    """Return the last version in full, then a line for each change before it."""
    from hivemon.cli.display import local, quantity_text, wrapped

    event = history[-1]
    zone = settings.find_yard(event.yard).zone
    lines = [
        wrapped(event.summary, width),
        f"  {event.kind.value}, {_place(event, settings)}, id {event.id}",
        f"  happened {local(event.onset, zone)}, said {local(event.raised, zone)}",
        f"  size {quantity_text(event.size, event.unit, settings.units)}, confidence {event.confidence:.0%}",
        wrapped(event.reason.replace("-", " "), width, "    ", "  because: "),
    ]
    if event.withdrawn is not None:
        taken_back = f"  taken back {local(event.withdrawn, zone)}: "
        lines.append(wrapped(event.withdrawn_because or "it no longer follows", width, "    ", taken_back))
    lines += [f"    {_evidence(key, value)}" for key, value in event.evidence.items()]
    if len(history) > 1:
        lines.append("  Earlier versions:")
        lines += [f"    {_version(old, zone_local=local(old.onset, zone))}" for old in history[:-1]]
    return "\n".join(lines)


def _evidence(key: str, value: float) -> str:
    """Return a number behind an event as measured, in kg and °C: `old_kg` becomes `old (kg): 61.4`."""
    name, _, last = key.rpartition("_")
    unit = _EVIDENCE_UNITS.get(last) if name else None
    label = f"{name} ({unit})" if unit else key
    return f"{label.replace('_', ' ')}: {round(value, 3):,g}"


def _version(event: "Event", zone_local: str) -> str:
    state = "taken back, " if event.withdrawn is not None else ""
    return f"{state}onset {zone_local}, confidence {event.confidence:.0%}: {event.summary}"

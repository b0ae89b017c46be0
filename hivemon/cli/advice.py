"""`hivemon advice`: what needs doing, in reading order, with what was seen and what else it could be."""

import json
import time
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import (
    ConfigOption,
    HiveOption,
    JsonOption,
    YardOption,
    hive_meant,
    load_settings,
    open_store,
    wanted_yards,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from zoneinfo import ZoneInfo

    from hivemon.config import Settings, YardSettings
    from hivemon.model import Advisory
    from hivemon.store import Answer, Store

URGENCY_WORDS = {
    "now": "Now",
    "today": "Today",
    "this-week": "This week",
    "for-information": "For your information",
}

CALM = "Nothing needs you. Leave the bees alone, and enjoy them."

HEARD_CALM = "Of the hives that are heard, none needs you."
NOTHING_NEW = "Nothing else needs you."

WIDEST = 100
"""Columns beyond which lines of prose tire the eye."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(advice)


def advice(
    config: ConfigOption = None,
    yard: YardOption = None,
    hive: HiveOption = None,
    everything: Annotated[bool, typer.Option("--all", help="Closed advisories too, the newest first.")] = False,
    as_json: JsonOption = False,
) -> None:
    """What needs doing, the most urgent first.

    Each advisory says what was seen, what that usually means, what else it could be, what to do and by when. What you
    have answered stands below in a line.
    """
    from hivemon.model import advisory_to_json
    from hivemon.notify.gather import answers_that_hold

    settings = load_settings(config)
    yards = wanted_yards(settings, yard)
    with open_store(settings) as store:
        if hive is not None:
            _, hive = hive_meant(settings, store, hive)
        found = [a for place in yards for a in store.advisories(place.id, hive=hive, open_only=not everything)]
        answers = answers_that_hold(store, [a for a in found if a.closed is None], int(time.time() * 1000))
        silent, heard = _never_heard(settings, store, yards, hive)
    ordered = _ordered(found, everything)
    if as_json:
        objects = [advisory_to_json(advisory) | {"answer": answers.get(advisory.id)} for advisory in ordered]
        screen.say(json.dumps(objects, indent=2, ensure_ascii=False))
        return
    asking = [a for a in ordered if a.id not in answers]
    _show(asking, settings)
    _show_answered(ordered, answers)
    if asking:
        _how_to_answer(asking)
    elif everything:
        screen.tell("No advice has been given yet.")
    elif heard:
        screen.tell(CALM if not silent and not answers else HEARD_CALM if silent else NOTHING_NEW)
    if silent:
        screen.tell(_unknown(silent))


def _show(asking: "list[Advisory]", settings: "Settings") -> None:
    width = min(screen.columns(), WIDEST)
    if asking:
        screen.say("\n\n".join(_styled(text_of(a, settings, width), a) for a in asking))


def _show_answered(ordered: "list[Advisory]", answers: "Mapping[str, Answer]") -> None:
    """Show what was answered in a line each, below what asks."""
    from hivemon.cli.answer import answered_line

    lines = [answered_line(a, answers[a.id]) for a in ordered if a.id in answers]
    if lines and any(a.id not in answers for a in ordered):
        screen.say()
    for line in lines:
        screen.tell(line)


def _how_to_answer(ordered: "list[Advisory]") -> None:
    """Say how the first that stands is answered."""
    from hivemon.advice.draft import short_names

    standing = [a.id for a in ordered if a.closed is None]
    if standing:
        screen.say()
        screen.tell(f"Seen, done or wrong? For the first: `hivemon answer {short_names(standing)[standing[0]]} done`;")
        screen.tell("`hivemon answer` alone shows how to name the others.")


def _never_heard(
    settings: "Settings", store: "Store", yards: "list[YardSettings]", hive: str | None
) -> tuple[list[str], bool]:
    """Return the names of the configured hives of which no reading ever came, and whether any was heard."""
    silent, heard = [], False
    for place in yards:
        speak = {stream.hive for stream in store.streams(place.id)}
        asked = [candidate for candidate in settings.hives_of(place.id) if hive in (None, candidate.id)]
        silent += [candidate.title for candidate in asked if candidate.id not in speak]
        heard = heard or any(hive in (None, spoken) for spoken in speak - {None})
    return silent, heard


def _unknown(names: list[str]) -> str:
    """Say that nothing is known of hives never heard, and where that is looked into."""
    listed = " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
    they, nodes = ("they are", "their nodes") if len(names) > 1 else ("it is", "its node")
    return (
        f"Nothing was ever heard of {listed}: I cannot tell how {they}. "
        f"`hivemon health` says where {nodes} should publish."
    )


def _ordered(found: "list[Advisory]", everything: bool) -> "list[Advisory]":
    from hivemon.morning import in_reading_order

    return sorted(found, key=lambda a: (-a.raised, a.id)) if everything else in_reading_order(found)


def text_of(advisory: "Advisory", settings: "Settings", width: int) -> str:
    """Return an advisory as paragraphs: title, what was seen, what it means, what to do, what may hurt."""
    from hivemon.cli.display import local, wrapped

    zone = settings.find_yard(advisory.yard).zone
    lines = [wrapped(f"{URGENCY_WORDS[advisory.urgency]}: {advisory.title}", width, "  ", "")]
    lines.append(wrapped(_dated(advisory, settings, zone), width, "  "))
    for label, text in (("Saw", advisory.saw), ("Means", advisory.means)):
        lines.append(wrapped(text, width, "    ", f"  {label}: "))
    if advisory.could_also_be:
        lines.append("  Could also be:")
        lines += [wrapped(other, width, "       ", "     - ") for other in advisory.could_also_be]
    by = f" by {local(advisory.do_by, zone)}" if advisory.do_by is not None else ""
    if advisory.do:
        lines.append(f"  Do{by}:")
        lines += [wrapped(step, width, "       ", f"    {number}. ") for number, step in enumerate(advisory.do, 1)]
    lines += [wrapped(caution, width, "    ", "  Take care: ") for caution in advisory.cautions]
    return "\n".join(lines)


def _dated(advisory: "Advisory", settings: "Settings", zone: "ZoneInfo") -> str:
    """Return where and since when: `Orchard, hive o2; said 2026-05-22 14:10, closed 2026-05-30 09:00`."""
    from hivemon.cli.display import local

    place = settings.find_yard(advisory.yard).title
    if advisory.hive is not None:
        place += f", hive {settings.find_hive(advisory.hive, advisory.yard).title}"
    said = f"{place}; said {local(advisory.raised, zone)}"
    if advisory.updated != advisory.raised:
        said += f", last looked at {local(advisory.updated, zone)}"
    return f"{said}, closed {local(advisory.closed, zone)}" if advisory.closed is not None else said


def _styled(text: str, advisory: "Advisory") -> str:
    """Colour the title by its urgency on a terminal; plain text in a pipe (typer strips colours there)."""
    colours = {"now": "red", "today": "yellow", "this-week": "cyan"}
    title, _, rest = text.partition("\n")
    bold = typer.style(title, fg=colours.get(advisory.urgency), bold=True)
    return f"{bold}\n{rest}" if screen.on_terminal() else text

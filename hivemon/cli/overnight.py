"""`hivemon overnight`: how did my hives do last night, and who needs a super?"""

import json
import time
from datetime import date
from typing import TYPE_CHECKING

import typer

from hivemon.cli import screen
from hivemon.cli.options import (
    ConfigOption,
    JsonOption,
    YardOption,
    hives_with_days,
    load_settings,
    open_store,
    wanted_yards,
)

if TYPE_CHECKING:
    from rich.table import Table

    from hivemon.config import Settings, UnitSettings, YardSettings
    from hivemon.morning import HiveMorning, YardMorning
    from hivemon.store import Store

LOOK_BACK_DAYS = 10
"""Hive days read before the newest reading: seven for the trend, and room for a silence."""

NUMBERS = range(1, 6)
"""The columns of the table that hold numbers."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(overnight)


def overnight(config: ConfigOption = None, yard: YardOption = None, as_json: JsonOption = False) -> None:
    """How did my hives do last night, and who needs a super?

    One line a hive: weight at dusk and dawn, overnight change, yesterday's net gain, its mean over seven days, and what
    to do. Steps from handling are not counted.
    """
    from hivemon.morning import to_json

    settings = load_settings(config)
    yards = wanted_yards(settings, yard)
    with open_store(settings) as store:
        mornings = [(place, *_morning(settings, store, place), _old(store, place)) for place in yards]
    if as_json:
        screen.say(json.dumps([to_json(morning) for _, morning, *_ in mornings], indent=2, ensure_ascii=False))
        return
    for index, (place, morning, lines, old) in enumerate(mornings):
        if index:
            screen.say()
        _show(place, morning, settings.units)
        for line in [*lines, old]:
            if line:
                screen.tell(line)
    screen.say()
    answered = any(lines for _, _, lines, _ in mornings)
    screen.tell(closing_line([morning for _, morning, *_ in mornings], answered=answered))


def _old(store: "Store", place: "YardSettings") -> str:
    """Say how old the newest reading is where it cannot be last night's; empty where it can, or there is none."""
    from hivemon.cli.display import local, span
    from hivemon.cli.played import said_of, season_over
    from hivemon.morning import STALE

    now, last = int(time.time() * 1000), store.newest(place.id)
    if last is None or now - last <= STALE:
        return ""
    if season := season_over(store, last, now):
        return said_of(season)
    return f"The newest reading is of {local(last, place.zone)}: nothing for {span(now - last)}."


def _morning(settings: "Settings", store: "Store", place: "YardSettings") -> "tuple[YardMorning, list[str]]":
    """Return the yard's morning of what still asks, and a line for each advisory that was answered."""
    from hivemon.advice.overdue import told_now
    from hivemon.advice.words import speaking
    from hivemon.cli.answer import answered_line
    from hivemon.model import DAY
    from hivemon.morning import in_reading_order, judged_at, yard_morning
    from hivemon.notify.gather import answers_that_hold

    clock = int(time.time() * 1000)
    last = store.newest(place.id)
    since = None if last is None else last - LOOK_BACK_DAYS * DAY
    days = store.hive_days(place.id, since=since)
    advisories = store.advisories(place.id, open_only=True)
    answers = answers_that_hold(store, advisories, clock)
    with speaking(place.language or "en"):
        now = judged_at(last, clock)
        asking = [told_now(a, now, place.zone) for a in advisories if a.id not in answers]
    answered = [answered_line(a, answers[a.id]) for a in in_reading_order(advisories) if a.id in answers]
    hives = hives_with_days(settings, place.id, days)
    return yard_morning(place, hives, days, asking, settings.rules.flow), answered


def _show(place: "YardSettings", morning: "YardMorning", units: "UnitSettings") -> None:
    from hivemon.cli.display import plain_table

    screen.tell(heading(place, morning))
    if not screen.on_terminal():
        screen.say()
        screen.say(plain_table(head(units), rows(morning, units), right=NUMBERS))
    elif screen.columns() < screen.NARROW:
        screen.say()
        screen.say(narrow(morning, units, screen.columns()))
    else:
        screen.console().print(_rich_table(morning, units))
    for note in morning.notes:
        screen.tell(f"The whole yard: {note.removeprefix(f'{place.title}: ')}")


def heading(place: "YardSettings", morning: "YardMorning") -> str:
    """Return the line above the table: the yard, its night, and when that began and ended."""
    from hivemon.cli.display import clock, long_date

    if morning.date is None:
        return f"{place.title}: no whole night of readings yet"
    night = f"{place.title}: night of {long_date(date.fromisoformat(morning.date))}"
    for hive in morning.hives:
        if hive.dusk is not None and hive.dawn is not None:
            return f"{night}, dusk {clock(hive.dusk, place.zone)}, dawn {clock(hive.dawn, place.zone)}"
    return night


def head(units: "UnitSettings") -> list[str]:
    """Return the table's headings with their units."""
    unit = units.weight
    return ["Hive", f"Dusk {unit}", f"Dawn {unit}", "Overnight", "Yesterday", f"7-day {unit}/day", "Verdict"]


def rows(morning: "YardMorning", units: "UnitSettings") -> list[list[str]]:
    """Return the table's cells, one row a hive."""
    from hivemon.cli.display import change, weight

    return [
        [
            hive.name,
            weight(hive.dusk_weight, units),
            weight(hive.dawn_weight, units),
            change(hive.overnight_change, units),
            change(hive.net_gain, units),
            change(hive.trend, units),
            hive.verdict,
        ]
        for hive in morning.hives
    ]


def narrow(morning: "YardMorning", units: "UnitSettings", width: int) -> str:
    """Return the same as short paragraphs for a narrow terminal."""
    from hivemon.cli.display import change, weight, wrapped

    def paragraph(hive: "HiveMorning") -> str:
        numbers = (
            f"{weight(hive.dusk_weight, units)} to {weight(hive.dawn_weight, units)} {units.weight} overnight "
            f"({change(hive.overnight_change, units)}); yesterday {change(hive.net_gain, units)}, "
            f"7 days {change(hive.trend, units)} a day"
        )
        return "\n".join(
            [wrapped(hive.verdict, width, "  ", f"{hive.name}: "), wrapped(numbers, width, "  ", "  ")],
        )

    return "\n".join(paragraph(hive) for hive in morning.hives)


def closing_line(mornings: "list[YardMorning]", *, answered: bool = False) -> str:
    """Return the last line: whether anything needs the beekeeper, and where to read on.

    `answered`: whether some advisories stand that were answered, which ask no more.
    """
    wanted = sum(morning.wanted for morning in mornings)
    if wanted:
        hives = "1 hive needs" if wanted == 1 else f"{wanted} hives need"
        return f"{hives} you: `hivemon advice` says what for, and why."
    if any(morning.notes for morning in mornings):
        return "No single hive needs you today; of the whole yard `hivemon advice` says more."
    if all(morning.date is None for morning in mornings):
        return "The first table comes after the first whole night of readings."
    if silent := sum(morning.silent for morning in mornings):
        hives = "1 hive" if silent == 1 else f"{silent} hives"
        return f"Nothing that was heard needs you today; {hives} sent no readings: `hivemon health` says more."
    if answered:
        return "Nothing else needs you today."
    return "Nothing needs you today. Leave the bees alone, and enjoy them."


def _rich_table(morning: "YardMorning", units: "UnitSettings") -> "Table":
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for index, title in enumerate(head(units)):
        number = index in NUMBERS
        table.add_column(title, justify="right" if number else "left", no_wrap=number)
    for hive, cells in zip(morning.hives, rows(morning, units), strict=True):
        style = screen.URGENCY_STYLE.get(hive.urgency or "", "green")
        table.add_row(*(Text(cell) for cell in cells[:-1]), Text(cells[-1], style=style))
    return table

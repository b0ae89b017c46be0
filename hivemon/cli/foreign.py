"""The part of `hivemon import` for other people's tables: recognised, shown, asked about, confirmed, taken."""

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from hivemon.cli import screen
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.foreign.choices import Choices, Question
    from hivemon.foreign.convert import Converted
    from hivemon.foreign.plan import Plan
    from hivemon.foreign.sheet import Sheet
    from hivemon.store import Store

TableArgument = Annotated[Path | None, typer.Argument(metavar="[TABLE]", help="CSV, .xlsx, .xls or .ods.")]
SheetOption = Annotated[str | None, typer.Option("--sheet", help="Which sheet of a spreadsheet.")]
DelimiterOption = Annotated[
    str | None, typer.Option("--delimiter", help="Between the fields of a CSV: , ; | or tab. Found out without it.")
]
DecimalOption = Annotated[str | None, typer.Option("--decimal", help="The decimal sign: point or comma.")]
OrderOption = Annotated[str | None, typer.Option("--date-order", help="Of dates like 03/04/2026: dmy, mdy or ymd.")]
ZoneOption = Annotated[
    str | None,
    typer.Option(
        "--time-zone", help="Of times without one: yard (the clock on the wall), UTC, Europe/Brussels, +01:00."
    ),
]
TwiceOption = Annotated[
    str | None,
    typer.Option("--hour-twice", help="Rows of the hour that comes twice in autumn: first, second or skip."),
]
ColumnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        help="What a column is: HEADING=HIVE,QUANTITY,UNIT, or =time, date, clock, hive, quantity, value, unit, skip.",
    ),
]
HiveOption = Annotated[
    list[str] | None,
    typer.Option("--hive", help="Whose it all is (ID), or which hive a name in the table is (NAME=ID, NAME=skip)."),
]
YesOption = Annotated[bool, typer.Option("--yes", help="Take the table as it was recognised, without asking.")]
DryOption = Annotated[bool, typer.Option("--dry-run", help="Show how the table would be read; take nothing.")]

_ALLOWED = {
    "--decimal": ("point", "comma"),
    "--date-order": ("dmy", "mdy", "ymd"),
    "--hour-twice": ("first", "second", "skip"),
}
DRY = "Nothing was taken: this was a dry run."
SHOWN = 3
"""Readings shown as they would be kept."""


class Taken(NamedTuple):
    """A table that a person agreed to: whose it is, what was found, and how many cells could not be used."""

    path: Path
    yard: str
    found: "Converted"
    bad: int


def sorted_out(*paths: Path | None) -> tuple[Path | None, Path | None, Path | None]:
    """Return table, readings and logbook, all there; a table in hivemon's own form is taken for what it is.

    Raises:
        InputError: One of the files is not there.
    """
    from hivemon.cli import reading
    from hivemon.intake.files import own_form

    for path in paths:
        if path is not None:
            reading.must_exist(path)
    table, readings, logbook = paths
    form = own_form(table) if table is not None else ""
    if form == "readings" and readings is None:
        return None, table, logbook
    if form == "logbook" and logbook is None:
        return None, readings, table
    return table, readings, logbook


def choices_of(
    decimal: str | None,
    order: str | None,
    zone: str | None,
    hour_twice: str | None,
    columns: list[str] | None,
    hives: list[str] | None,
) -> "Choices":
    """Check the options; raises UsageError."""
    from hivemon.foreign.choices import Choices

    for option, value in (("--decimal", decimal), ("--date-order", order), ("--hour-twice", hour_twice)):
        if value is not None and value not in _ALLOWED[option]:
            raise UsageError(f"{option} {value}: not known", hint=f"one of {', '.join(_ALLOWED[option])}")
    whole = [text for text in hives or [] if "=" not in text]
    if len(whole) > 1:
        raise UsageError(f"--hive {whole[1]}: there can be one for everything", hint="write NAME=ID for several")
    return Choices(
        decimal or "",
        order or "",
        zone or "",
        hour_twice or "",
        dict(_pair(text, "--column") for text in columns or []),
        dict(_pair(text, "--hive") for text in hives or [] if "=" in text),
        whole[0] if whole else "",
    )


def _pair(text: str, option: str) -> tuple[str, str]:
    name, sign, value = text.rpartition("=")
    if not sign or not name or not value.strip():
        raise UsageError(f"{option} {text}: not understood", hint=f"write {option} 'NAME=WHAT IT IS'")
    return name, value.strip()


def recognise(
    settings: "Settings",
    path: Path,
    yard: str | None,
    sheet: str | None,
    delimiter: str | None,
    choices: "Choices",
    *,
    yes: bool,
    dry_run: bool,
) -> Taken | None:
    """Read, show and ask; return what a person agreed to, or None. Raises UsageError where nobody can be asked."""
    from hivemon.cli import reading
    from hivemon.foreign.convert import convert
    from hivemon.foreign.sheet import read_sheet
    from hivemon.intake.moments import latest

    where = _yard_of(settings, yard)
    cells = read_sheet(path, _delimiter(delimiter), sheet or "")
    ask = sys.stdin.isatty() and not dry_run
    plan = _answered(settings, where, cells, choices, ask=ask, may_be_open=dry_run)
    for line in describe(cells, plan, settings.find_yard(where).timezone):
        screen.say(line)
    for line in unconfigured(plan, settings, where):
        screen.say(line)
    if plan.questions:  # what is not known yet is not judged either
        _say_questions(plan.questions)
        screen.say(DRY)
        return None
    bad = reading.BadRows(path)
    found = convert(plan, bad, latest())
    for line in _first(found, settings, where):
        screen.say(line)
    bad.report()
    if dry_run:
        screen.say(DRY)
        return None
    if not found.streams:
        raise UsageError("no reading came of it", hint="look at what it was taken for, above; --column says otherwise")
    if not yes and not ask:
        raise UsageError("nothing was taken yet", hint="look at what it was taken for, above; with --yes it is taken")
    if not yes and not typer.confirm(f"Take these {found.readings:,} readings?", default=False):
        screen.say("Nothing was taken.")
        return None
    return Taken(path, where, found, bad.count)


def _delimiter(text: str | None) -> str:
    sign = {"tab": "\t", "\\t": "\t", None: ""}.get(text, text or "")
    if len(sign) > 1:
        raise UsageError(f"--delimiter {text}: one sign is wanted", hint="write , ; | or tab")
    return sign


def _yard_of(settings: "Settings", yard: str | None) -> str:
    """Return the yard whose table it is; the only one needs no naming."""
    from hivemon.cli.options import wanted_yards

    found = wanted_yards(settings, yard)
    if len(found) > 1:
        known = ", ".join(one.id for one in found)
        raise UsageError("there are several yards", hint=f"say with --yard whose table it is: {known}")
    return found[0].id


def _answered(
    settings: "Settings", yard: str, sheet: "Sheet", choices: "Choices", *, ask: bool, may_be_open: bool
) -> "Plan":
    """Recognise again after each answer until no question is left; in a script, name all that are open."""
    from hivemon.foreign.plan import make_plan

    hives, zone = settings.hives_of(yard), settings.find_yard(yard).timezone
    while True:
        latest = datetime.now(UTC).date()
        plan = make_plan(sheet, hives, settings.units, zone, choices, latest)
        if not plan.questions or may_be_open:
            return plan
        if not ask:
            for line in describe(sheet, plan, zone):
                screen.say(line)
            _say_questions(plan.questions)
            options = ", ".join(dict.fromkeys(question.option for question in plan.questions))
            raise UsageError("it can be read in more than one way; nothing was taken", hint=f"answer with {options}")
        choices = _ask(plan.questions[0], choices)


def _say_questions(questions: "list[Question]") -> None:
    screen.aside("To be answered:")
    for question in questions:
        key = f"{question.key}=" if question.key else ""
        answer = question.default or "|".join(question.answers)
        written = f"'{key}{answer}'" if " " in key or "|" in answer else f"{key}{answer}"
        screen.aside(f"  {question.text}\n    {question.option} {written}")


def _ask(question: "Question", choices: "Choices") -> "Choices":
    """Ask until the answer can be used."""
    default = question.default or None
    answer = str(typer.prompt(f"{question.text} ({', '.join(question.answers)})", default=default)).strip()
    while question.option in _ALLOWED and answer not in question.answers:
        screen.say(f"  write one of {', '.join(question.answers)}")
        answer = str(typer.prompt(question.text, default=default)).strip()
    if question.option == "--column":
        return choices._replace(columns={**choices.columns, question.key: answer})
    if question.option == "--hive":
        return choices._replace(hives={**choices.hives, question.key: answer})
    if question.option == "--decimal":
        return choices._replace(decimal=answer)
    if question.option == "--date-order":
        return choices._replace(order=answer)
    if question.option == "--time-zone":
        return choices._replace(zone=answer)
    return choices._replace(hour_twice=answer)


def describe(sheet: "Sheet", plan: "Plan", own_zone: str) -> list[str]:
    """Return how a table is read, in lines: file, times, numbers, hives, each series and how sure, what is left."""
    from hivemon.model import HIVE_QUANTITIES

    layout = plan.layout
    unknown = {(question.option, question.key) for question in plan.questions}
    shape = "one value a row" if layout.is_long else "one column a quantity"
    decimal = "?" if ("--decimal", "") in unknown else "comma" if plan.decimal == "," else "point"
    lines = [
        f"{sheet.source}; {shape}; {len(layout.body):,} rows from line {layout.line}",
        *_times(plan, own_zone, unknown),
        f"  decimals: {decimal}",
    ]
    for name, hive in plan.hives.items():
        what = f"hive {hive}" if hive else "?" if ("--hive", name) in unknown else "left out"
        lines.append(f"  {name!r}: {what}")
    for track in plan.tracks:
        if ("--column", track.heading) in unknown:
            lines.append(f"  {track.heading!r}: ?")
            continue
        whose = track.hive or ("the row's hive" if track.quantity in HIVE_QUANTITIES else "the yard")
        what = f"{track.quantity.value} of {whose} in {track.form.title}"
        lines.append(f"  {track.heading!r}: {what} ({track.sureness}: {track.why})")
    return [*lines, *(f"  {heading!r}: left out ({why})" for heading, why in plan.left)]


def unconfigured(plan: "Plan", settings: "Settings", yard: str) -> list[str]:
    """Return a line for each hive a table would bring that the configuration does not have: perhaps a slip."""
    from hivemon.config_words import nearest

    known = [hive.id for hive in settings.hives_of(yard)]
    brought = {track.hive for track in plan.tracks} | set(plan.hives.values())
    lines = []
    for hive in sorted(hive for hive in brought if hive is not None and hive not in known):
        near = nearest(hive, known)
        hint = f"did you mean {near}?" if near else f"it has {', '.join(known) or 'none'}"
        lines.append(f"  hive {hive} is none of the configuration's ({hint}): it would be taken in as a new one")
    return lines


def _times(plan: "Plan", own_zone: str, unknown: set[tuple[str, str]]) -> list[str]:
    """Return how the times are read."""
    from hivemon.foreign.dates import ORDERS

    layout, timing = plan.layout, plan.timing
    zone = "said by each time itself" if timing.zone is None else str(timing.zone)
    zone = "?" if ("--time-zone", "") in unknown else f"{zone}, the yard's" if zone == own_zone else zone
    order = f"{ORDERS[timing.order]}" if timing.order else "counted from 1970"
    order = "order of day and month: ?" if ("--date-order", "") in unknown else order
    clock = f" and {layout.headings[layout.clock]!r}" if layout.clock is not None else ""
    lines = [f"  times: {layout.headings[layout.moment]!r}{clock}, {order}; zone: {zone}"]
    if timing.never:
        lines.append(f"  {len(timing.never)} rows lie in an hour that never came in that zone: is it the right one?")
    return lines


def _first(found: "Converted", settings: "Settings", yard: str) -> list[str]:
    """Return the first readings as they would be kept, in the yard's time, so that a wrong zone or unit shows."""
    from hivemon.cli.display import quantity_text
    from hivemon.model import UNITS

    zone = settings.find_yard(yard).zone
    lines = [f"{found.readings:,} readings, {found.empty:,} empty cells. As they would be kept:"]
    if found.conflicts:
        lines.append(
            f"  {found.conflicts:,} have an earlier row's time, other values; the earlier count. Is the zone right?"
        )
    for stream, series in list(found.streams.items())[: 2 * SHOWN]:
        shown = [
            f"{datetime.fromtimestamp(int(series.time[at]) / 1000, zone):%Y-%m-%d %H:%M} "
            f"{quantity_text(float(series.value[at]), UNITS[stream.quantity], settings.units)}"
            for at in sorted({0, series.time.size // 2, series.time.size - 1})
        ]
        lines.append(f"  {stream.hive or yard} {stream.quantity.value}: {' … '.join(shown)}")
    return lines


def keep_table(store: "Store", settings: "Settings", taken: Taken) -> None:
    """Keep the readings a month at a time, each whole or not at all, and report."""
    from hivemon.cli.display import counted
    from hivemon.cli.exchange import keep
    from hivemon.model import DAY

    streams, new, doubles, conflicts = taken.found.streams, 0, taken.found.doubles, taken.found.conflicts
    first = min(int(series.time[0]) for series in streams.values())
    last = max(int(series.time[-1]) for series in streams.values())
    while first <= last:
        cut = {stream: series.between(first, first + 30 * DAY) for stream, series in streams.items()}
        part = {stream: series for stream, series in cut.items() if series.time.size}
        if part:
            added = keep(store, settings, taken.yard, part)
            new, doubles, conflicts = new + added.new, doubles + added.duplicates, conflicts + added.conflicts
        first += 30 * DAY
    differ = f", {conflicts:,} with another value than the one kept" if conflicts else ""
    unusable = counted(taken.bad, "cell or row", "cells or rows")
    screen.say(f"Table: {new:,} new, {doubles:,} known already{differ}, {unusable} not usable.")

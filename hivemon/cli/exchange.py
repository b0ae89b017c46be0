"""`hivemon import` and `hivemon export`: files in the contract's forms, into the store and out of it."""

import contextlib
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import foreign, screen
from hivemon.cli.options import ConfigOption, SinceOption, YardOption, load_settings, open_store, wanted_yards
from hivemon.errors import InputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from hivemon.config import Settings, YardSettings
    from hivemon.intake.files import Batch
    from hivemon.model import LogEntry, Millis, Series, Stream
    from hivemon.store import AddedSeries, Store


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("import")(import_files)
    app.command("export")(export_files)


def import_files(
    table: foreign.TableArgument = None,
    readings: Annotated[Path | None, typer.Option("--readings", help="A readings file (CSV, gzip or not).")] = None,
    logbook: Annotated[Path | None, typer.Option("--logbook", help="A logbook file (CSV).")] = None,
    yard: Annotated[
        str | None, typer.Option("--yard", help="Whose TABLE it is, where there are several yards.")
    ] = None,
    sheet: foreign.SheetOption = None,
    delimiter: foreign.DelimiterOption = None,
    decimal: foreign.DecimalOption = None,
    date_order: foreign.OrderOption = None,
    time_zone: foreign.ZoneOption = None,
    hour_twice: foreign.TwiceOption = None,
    columns: foreign.ColumnOption = None,
    hives: foreign.HiveOption = None,
    yes: foreign.YesOption = False,
    dry_run: foreign.DryOption = False,
    config: ConfigOption = None,
) -> None:
    """Take tables, readings or logbook files into the store.

    TABLE is any CSV or spreadsheet with times and values: it is recognised, shown, asked about where it can be read in
    two ways, and taken once you say yes. In a script, options answer the questions and --yes takes it. --readings and
    --logbook are files in hivemon's own form. What is known already changes nothing; what is new is judged, late or
    not.
    """
    from hivemon.cli import reading
    from hivemon.cli.judging import judge_again

    if table is None and readings is None and logbook is None:
        raise UsageError("nothing to import was named", hint="name a table, --readings FILE or --logbook FILE")
    settings = load_settings(config)
    table, readings, logbook = foreign.sorted_out(table, readings, logbook)
    taken = None
    if table is not None:
        choices = foreign.choices_of(decimal, date_order, time_zone, hour_twice, columns, hives)
        taken = foreign.recognise(settings, table, yard, sheet, delimiter, choices, yes=yes, dry_run=dry_run)
        if taken is None:
            return
    with open_store(settings, read_only=False, make=True) as store:
        if taken is not None:
            foreign.keep_table(store, settings, taken)
        if logbook is not None:
            _import_logbook(store, settings, logbook)
        if readings is not None:
            _import_readings(store, settings, readings)
        with reading.working("judging"):
            said = judge_again(settings, store)
        for line in said:
            screen.tell(line)


def _import_logbook(store: "Store", settings: "Settings", path: Path) -> None:
    """Keep the entries of known hives; entries that were entered before, or corrected since, are left as they are."""
    from hivemon.cli import reading
    from hivemon.cli.display import counted
    from hivemon.cli.remarks import of_file
    from hivemon.config_words import nearest
    from hivemon.intake.files import read_logbook
    from hivemon.intake.moments import latest

    bad = reading.BadRows(path)
    entries = read_logbook(path, rejected=bad, latest=latest())
    yards = {adopted.hive: adopted.yard for adopted in store.adopted()}
    yards |= {hive.id: hive.yard for hive in settings.hive}
    added: list[tuple[str, LogEntry]] = []
    known = 0
    with store.transaction():
        for yard in settings.yard:
            new, old = store.add_entries(yard.id, [e for e in entries if yards.get(e.hive) == yard.id])
            added += [(yard.id, entry) for entry in new]
            known += old
    bad.report()
    for hive in sorted({entry.hive for entry in entries} - set(yards)):
        near = nearest(hive, yards)
        hint = f"; did you mean {near!r}?" if near else ""
        screen.aside(f"entries of hive {hive!r} left out: it is not in the configuration{hint}")
    new_ones, bad_ones = counted(len(added), "entry", "entries"), counted(bad.count, "bad row")
    screen.say(f"Logbook: {new_ones} new, {known:,} known already, {bad_ones}.")
    said = [remark for yard_id, entry in added for remark in of_file(settings, store, yard_id, entry)]
    for remark in said[: reading.SHOWN]:
        screen.aside(remark)
    if len(said) > reading.SHOWN:
        screen.aside(f"... and {len(said) - reading.SHOWN:,} more like these")


def _import_readings(store: "Store", settings: "Settings", path: Path) -> None:
    """Keep the readings batch by batch; each batch is kept whole or not at all."""
    from hivemon.cli import reading
    from hivemon.cli.display import counted
    from hivemon.intake.files import read_readings
    from hivemon.intake.moments import latest

    bad, known = reading.BadRows(path), reading.Counted(settings)
    began, new, doubles, conflicts = time.monotonic(), 0, 0, 0
    with reading.progress(path, "importing") as tell:
        rows = read_readings(path, rejected=bad, progress=tell, doubled=known.doubled, latest=latest())
        for batch in known(rows):
            for yard, streams in batch.items():
                added = keep(store, settings, yard, streams)
                new, doubles, conflicts = new + added.new, doubles + added.duplicates, conflicts + added.conflicts
    bad.report()
    known.report()
    seconds = time.monotonic() - began
    doubles += known.doubles
    differ = f", {conflicts:,} with another value than the one kept" if conflicts else ""
    bad_ones = counted(bad.count, "bad row")
    screen.say(f"Readings: {new:,} new, {doubles:,} known already{differ}, {bad_ones}, in {seconds:.1f} s.")


def keep(store: "Store", settings: "Settings", yard: str, streams: "Mapping[Stream, Series]") -> "AddedSeries":
    """Keep a batch of one yard, adopt hives that are new, and ask for it to be judged: all or nothing."""
    from hivemon.daemon import ask_again

    first = min(int(series.time[0]) for series in streams.values())
    known = {hive.id for hive in settings.hives_of(yard)} | {a.hive for a in store.adopted() if a.yard == yard}
    with store.transaction():
        added = store.add_series(yard, streams)
        for hive in sorted({stream.hive for stream in streams if stream.hive is not None} - known):
            store.adopt(yard, hive, first)
            screen.aside(f"new hive {hive} in yard {yard}: taken in; add a [[hive]] for it to the configuration")
        if added.new:
            ask_again(store, {yard: first})
            if settings.influx is not None:
                store.outbox_put(_lines(yard, streams), int(time.time() * 1000))
    return added


def _lines(yard: str, streams: "Mapping[Stream, Series]") -> list[str]:
    """Return the readings as points for the copy to InfluxDB."""
    from hivemon.model import Reading
    from hivemon.store.points import to_line

    return [
        to_line(Reading(moment, yard, stream.hive, stream.quantity, value))
        for stream, series in streams.items()
        for moment, value in zip(series.time.tolist(), series.value.tolist(), strict=True)
    ]


def export_files(
    readings: Annotated[
        Path | None, typer.Option("--readings", help="Readings to CSV; .gz packs, .parquet: Parquet.")
    ] = None,
    logbook: Annotated[Path | None, typer.Option("--logbook", help="The logbook to CSV.")] = None,
    events: Annotated[Path | None, typer.Option("--events", help="Events, one JSON object a line.")] = None,
    advice: Annotated[Path | None, typer.Option("--advice", help="Advice, one JSON object a line.")] = None,
    days: Annotated[Path | None, typer.Option("--days", help="Hive days, one JSON object a line.")] = None,
    everything: Annotated[Path | None, typer.Option("--everything", help="All of it, into a folder.")] = None,
    page: Annotated[Path | None, typer.Option("--page", help="One hive's season as an HTML page in one file.")] = None,
    hive: Annotated[str | None, typer.Option("--hive", help="The hive, for --page.")] = None,
    since: SinceOption = None,
    yard: YardOption = None,
    config: ConfigOption = None,
) -> None:
    """Write files from what the store holds.

    Readings, logbook, events, advice, hive days, a hive's page: whichever are named. `--everything` adds the
    15-minute means, your answers and the messages.
    """
    from hivemon.cli import reading
    from hivemon.cli.everything import make_folder
    from hivemon.cli.pages import write_page

    named: dict[str, Path | None] = {
        "readings": readings,
        "logbook": logbook,
        "events": events,
        "advice": advice,
        "days": days,
    }
    if not any(named.values()) and page is None and everything is None:
        raise UsageError(
            "nothing to export was named", hint="give --everything FOLDER, or --readings FILE, --events FILE, ..."
        )
    settings = load_settings(config)
    yards = wanted_yards(settings, yard)
    for path in (*named.values(), page, everything):
        reading.must_be_writable(path)
    if everything is not None:
        named.update(make_folder(everything))
    with open_store(settings) as store, store.view():
        for what, path in named.items():
            if path is not None:
                with _said_in_words(path):
                    count = _export(store, what, path, yards, since)
                screen.say(f"{path}: {count:,} {what}")
        if page is not None:
            with _said_in_words(page):
                name = write_page(settings, store, page, yards, hive)
            screen.say(f"{page}: the season of hive {name}")


@contextlib.contextmanager
def _said_in_words(path: Path) -> "Iterator[None]":
    """Turn trouble with writing a file into an InputError."""
    try:
        yield
    except OSError as error:
        hint = "look at the folder's rights and room"
        raise InputError(f"cannot write {path}: {error.strerror}", hint=hint) from error


def _export(store: "Store", what: str, path: Path, yards: "list[YardSettings]", since: str | None) -> int:
    """Write one file; return how many rows or lines."""
    from hivemon.cli.everything import answers, messages, write_means
    from hivemon.cli.times import since_moment
    from hivemon.files import write_json_lines
    from hivemon.intake.files import write_logbook, write_readings
    from hivemon.model import advisory_to_json, event_to_json, hive_day_to_json

    begins = [(yard.id, since_moment(since, yard.zone)) for yard in yards]
    if what == "means":
        return write_means(store, path, [yard.id for yard in yards])
    if what == "readings":
        return write_readings(path, _batches(store, begins))
    if what == "logbook":
        entries = [entry for yard, first in begins for entry in store.entries(yard, since=first)]
        return write_logbook(path, sorted(entries, key=lambda entry: entry.time))
    if what == "events":
        found = [event_to_json(event) for yard, first in begins for event in store.events(yard, since=first)]
    elif what == "advice":
        said = [(advisory, first or 0) for yard, first in begins for advisory in store.advisories(yard)]
        found = [advisory_to_json(advisory) for advisory, first in said if advisory.raised >= first]
    elif what in ("answers", "messages"):
        found = list(answers(store) if what == "answers" else messages(store))
    else:
        found = [hive_day_to_json(day) for yard, first in begins for day in store.hive_days(yard, since=first)]
    return write_json_lines(path, found)


def _batches(store: "Store", begins: "list[tuple[str, Millis | None]]") -> "Iterator[Batch]":
    """Yield the readings a month at a time, so that memory does not grow with the store."""
    from hivemon.model import DAY

    for yard, since in begins:
        newest = store.newest(yard)
        first = since if since is not None else store.oldest(yard)
        while newest is not None and first is not None and first <= newest:
            yield {yard: store.series(yard, since=first, until=first + 30 * DAY)}
            first += 30 * DAY

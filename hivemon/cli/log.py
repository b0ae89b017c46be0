"""`hivemon log`: the beekeeper's logbook. What is logged late still counts: the days it explains are judged again."""

import json
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from hivemon.cli import screen
from hivemon.cli.options import (
    ConfigOption,
    HiveOption,
    JsonOption,
    SinceOption,
    hive_meant,
    load_settings,
    open_store,
)
from hivemon.errors import UsageError

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.model import Entry, LogEntry
    from hivemon.store import Store

book = typer.Typer(
    rich_markup_mode=None,
    invoke_without_command=True,
)


def amount(text: str) -> float:
    """Read an amount as people write it, `2.5` or `2,5`; raises UsageError."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError as error:
        raise UsageError(f"{text!r} is no amount", hint="write a number, like 2.5") from error


AtOption = Annotated[
    str | None,
    typer.Option(
        "--at", help="When: 14:00, 'yesterday 14:00', '12 June 14:00', '2026-06-12 14:00'. Right to an hour will do."
    ),
]
KgOption = Annotated[
    float | None,
    typer.Option(
        "--kg", parser=amount, metavar="number", help="How much, for super-on, super-off, harvest, feed, split."
    ),
]
LbOption = Annotated[float | None, typer.Option("--lb", parser=amount, metavar="number", help="The same in pounds.")]
MitesOption = Annotated[int | None, typer.Option("--mites", help="Mites counted, for mite-wash.")]
BeesOption = Annotated[int | None, typer.Option("--bees", help="Bees in the wash, for mite-wash; usually 300.")]
NoteOption = Annotated[str | None, typer.Option("--note", help="Anything worth remembering.")]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(book, name="log")


@book.callback()
def logbook(context: typer.Context, config: ConfigOption = None) -> None:
    """The logbook: what you did to a hive, or saw.

    Alone, it lists the entries. What is logged late still counts: the days it explains are judged again.
    """
    context.obj = config
    if context.invoked_subcommand is None:
        list_entries(context, config=config)


@book.command("add")
def add(
    context: typer.Context,
    hive: Annotated[str, typer.Argument(help="The hive's id or name.")],
    entry: Annotated[
        str,
        typer.Argument(
            help="inspect, super-on, super-off, harvest, feed, split, combine, requeen, mite-wash, treat, scale-reset, "
            "moved, swarm-seen or note.",
        ),
    ],
    at: AtOption = None,
    kg: KgOption = None,
    lb: LbOption = None,
    mites: MitesOption = None,
    bees: BeesOption = None,
    note: NoteOption = None,
    config: ConfigOption = None,
) -> None:
    """Enter what was done or seen; without --at, now."""
    from hivemon.cli.entries import amount_of, entry_word, hour_taken, note_of, sensible, when
    from hivemon.cli.remarks import remarks
    from hivemon.logbook_limits import SEEN_BY_SCALE
    from hivemon.model import LogEntry

    settings = load_settings(config or context.obj)
    kind = entry_word(entry)
    if not Path(settings.store.path).exists():
        hive_meant(settings, None, hive)  # first: a mistyped name must not make a store
    with open_store(settings, read_only=False, make=True) as store:
        yard, hive = hive_meant(settings, store, hive)
        now = _now()
        meant = when(at, settings.find_yard(yard).zone, now)
        amount = amount_of(kind, kg=kg, lb=lb, mites=mites)
        said = note_of(kind, note, bees)
        new = sensible(LogEntry(time=meant.millis, hive=hive, entry=kind, amount=amount, note=said))
        if twin := _same(store, yard, new):
            screen.say(f"Nothing was entered: that stands already as number {twin.id}.")
            return
        kept = store.add_entry(yard, new)
        screen.say(f"Logged as number {kept.id}: {_sentence(kept, yard, settings)}")
        if at is not None and not meant.hour and kind in SEEN_BY_SCALE:
            screen.tell(hour_taken(meant, at, kept.id, now))
        for remark in remarks(settings, store, yard, kept):
            screen.tell(remark)
        _judge_again(settings, store)


@book.command("list")
def list_entries(
    context: typer.Context,
    hive: HiveOption = None,
    since: SinceOption = None,
    as_json: JsonOption = False,
    config: ConfigOption = None,
) -> None:
    """List the entries that stand, the oldest first, with their numbers."""
    from hivemon.cli.display import plain_table
    from hivemon.cli.times import since_moment

    settings = load_settings(config or context.obj)
    with open_store(settings) as store:
        if hive is not None:
            _, hive = hive_meant(settings, store, hive)
        found = [
            (place.id, entry)
            for place in settings.yard
            for entry in store.entries(place.id, hive=hive, since=since_moment(since, place.zone))
        ]
    found.sort(key=lambda pair: (pair[1].time, pair[1].id))
    if as_json:
        screen.say(json.dumps([_to_json(yard, entry) for yard, entry in found], indent=2, ensure_ascii=False))
    elif not found:
        screen.say("The logbook is empty: `hivemon log add HIVE inspect` makes the first entry.")
    else:
        table = [_row(entry, yard, settings) for yard, entry in found]
        screen.say(plain_table(["No", "When", "Hive", "Entry", "Amount", "Note"], table, right=[0]))


@book.command("correct")
def correct(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The entry's number, as `hivemon log list` shows it.")],
    hive: Annotated[str | None, typer.Option("--hive", help="It was this hive.")] = None,
    entry: Annotated[str | None, typer.Option("--entry", help="It was this.")] = None,
    at: AtOption = None,
    kg: KgOption = None,
    lb: LbOption = None,
    mites: MitesOption = None,
    bees: BeesOption = None,
    note: NoteOption = None,
    config: ConfigOption = None,
) -> None:
    """Correct an entry; what is not given stays as it was, and the old version stays in its history."""
    from hivemon.cli.entries import amended

    settings = load_settings(config or context.obj)
    with open_store(settings, read_only=False) as store:
        yard = store.entry_yard(number)
        old = _standing(store, number)
        there, hive = (yard, None) if hive is None else hive_meant(settings, store, hive)
        if there != yard:
            raise UsageError(
                f"hive {hive!r} stands in another yard than entry {number}",
                hint=f"strike it (`hivemon log strike {number}`) and enter it anew",
            )
        given = {"hive": hive, "entry": entry, "at": at, "kg": kg, "lb": lb, "mites": mites, "bees": bees, "note": note}
        new = amended(old, given, settings.find_yard(yard).zone, _now())
        kept = store.correct_entry(number, new)
        screen.say(f"Corrected number {number}: {_sentence(kept, yard, settings)}")
        _judge_again(settings, store)


@book.command("strike")
def strike(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The entry's number.")],
    config: ConfigOption = None,
) -> None:
    """Strike an entry that never happened; it stays readable in its history."""
    settings = load_settings(config or context.obj)
    with open_store(settings, read_only=False) as store:
        yard = store.entry_yard(number)
        gone = store.strike_entry(number)
        screen.say(f"Struck number {number}: {_sentence(gone, yard, settings)}")
        _judge_again(settings, store)


@book.command("history")
def history(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The entry's number.")],
    config: ConfigOption = None,
) -> None:
    """Show everything that was done to an entry."""
    from hivemon.cli.display import local

    settings = load_settings(config or context.obj)
    with open_store(settings) as store:
        versions = store.entry_history(number)
    if not versions:
        raise UsageError(f"there is no logbook entry {number}", hint="`hivemon log list` shows them with their numbers")
    for version in versions:
        recorded = local(version.recorded, settings.find_yard(version.yard).zone)
        screen.say(f"{recorded}  {version.change}: {_sentence(version.entry, version.yard, settings)}")


def _same(store: "Store", yard: str, new: "LogEntry") -> "LogEntry | None":
    """Return an entry that stands and says the very same, or None."""
    from msgspec.structs import replace

    there = store.entries(yard, new.hive, new.time, new.time + 1)
    return next((entry for entry in there if replace(entry, id=new.id) == new), None)


def _standing(store: "Store", number: int) -> "LogEntry":
    """Return the entry as it stands; raises UsageError when it was struck out."""
    last = store.entry_history(number)[-1]
    if last.change == "struck":
        raise UsageError(f"logbook entry {number} has been struck out already", hint="enter it anew")
    return last.entry


def _judge_again(settings: "Settings", store: "Store") -> None:
    """Judge the days that an entry explains; the entry itself is kept already, whatever becomes of this."""
    from hivemon.cli.judging import judge_again

    for line in judge_again(settings, store):
        screen.tell(line)


def _now() -> int:
    return int(time.time() * 1000)


def _sentence(entry: "LogEntry", yard: str, settings: "Settings") -> str:
    """Return an entry as `super-on, hive o1, 2026-06-12 14:00, 4.2 kg (spare frames)`."""
    _, when, hive, word, amount, note = _row(entry, yard, settings)
    return ", ".join(part for part in (word, f"hive {hive}", when, amount) if part) + (f" ({note})" if note else "")


def _row(entry: "LogEntry", yard: str, settings: "Settings") -> list[str]:
    from hivemon.cli.display import local
    from hivemon.cli.entries import amount_text

    name = settings.find_hive(entry.hive, yard).title
    when = local(entry.time, settings.find_yard(yard).zone)
    return [str(entry.id), when, name, entry.entry.value, amount_text(entry, settings.units), entry.note]


def _to_json(yard: str, entry: "LogEntry") -> dict[str, Any]:
    from hivemon.model import rfc3339

    word: Entry = entry.entry
    return {
        "id": entry.id,
        "time": rfc3339(entry.time),
        "yard": yard,
        "hive": entry.hive,
        "entry": word.value,
        "amount": entry.amount,
        "note": entry.note,
    }

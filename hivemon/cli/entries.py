"""From what a person typed to a logbook entry, or a plain refusal. Pure functions."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import msgspec

from hivemon.advice.counting import BEES
from hivemon.cli.display import weight
from hivemon.cli.times import Meant, read
from hivemon.config_words import nearest
from hivemon.errors import UsageError
from hivemon.intake.units import KG_PER_POUND
from hivemon.logbook_limits import AHEAD, MOST_KG, MOST_MITES, WEIGHED, odd_wash
from hivemon.model import Entry, LogEntry

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from hivemon.config import UnitSettings
    from hivemon.model import Millis


def entry_word(word: str) -> Entry:
    """Return the entry meant; raises UsageError naming the nearest."""
    try:
        return Entry(word.lower())
    except ValueError as error:
        known = [entry.value for entry in Entry]
        near = nearest(word, known)
        hint = f"did you mean {near}?" if near else f"entries: {', '.join(known)}"
        raise UsageError(f"there is no logbook entry called {word!r}", hint=hint) from error


def when(at: str | None, zone: ZoneInfo, now: Millis) -> Meant:
    """Return the moment of an entry, a bare day's midday; raises UsageError for one that has not come yet."""
    here = datetime.fromtimestamp(now / 1000, zone)
    if at is None:
        return Meant(here, True)
    found = read(at, zone, now)
    if not found.hour:
        midday = found.when.replace(hour=12)
        found = Meant(min(midday, here) if midday.date() == here.date() else midday, False)
    if found.when > here + timedelta(milliseconds=AHEAD):
        today = found.when.date() == here.date()
        hint = f"it is {here:%H:%M} there; write 'yesterday {found.when:%H:%M}' for that" if today else "mind the date"
        raise UsageError(f"{at!r} has not come yet", hint=f"the logbook holds what was done: {hint}")
    return found


def hour_taken(meant: Meant, at: str, number: int, now: Millis) -> str:
    """Return what to say of an entry of which only the day was said, with an hour that may be said instead."""
    here, hour = datetime.fromtimestamp(now / 1000, meant.when.tzinfo), meant.when.hour
    midday = (hour, meant.when.minute) == (12, 0)
    other = 16 if meant.when.date() != here.date() else here.hour if here.hour > hour else max(hour - 1, 0)
    return (
        f"No hour was said, so {'midday' if midday else f'the time now, {here:%H:%M},'} is taken. The scale's trace of "
        f"it is looked for near that hour; if it was another: `hivemon log correct {number} --at '{at} {other:02}:00'`."
    )


def amount_of(entry: Entry, *, kg: float | None, lb: float | None, mites: int | None) -> float | None:
    """Return the amount in the entry's own unit, None where none was given; raises UsageError for nonsense."""
    given = {"--kg": kg, "--lb": lb, "--mites": mites}
    named = [name for name, value in given.items() if value is not None]
    if not named:
        return None
    if len(named) > 1:
        raise UsageError(f"{' and '.join(named)} say it twice", hint="give one of them")
    wanted = ("--kg", "--lb") if entry in WEIGHED else ("--mites",) if entry is Entry.MITE_WASH else ()
    if named[0] not in wanted:
        hint = f"it takes {' or '.join(wanted)}" if wanted else "put it into --note"
        raise UsageError(f"{entry.value} has no {named[0]}", hint=hint)
    if mites is not None:
        return _within(float(mites), 0.0, MOST_MITES, "--mites")
    return _within(kg if kg is not None else (lb or 0.0) * KG_PER_POUND, 0.001, MOST_KG, named[0])


def _within(value: float, least: float, most: float, name: str) -> float:
    if not least <= value <= most:
        raise UsageError(f"{name}: that cannot be ({value:g})", hint=f"between {least:g} and {most:g}")
    return value


def note_of(entry: Entry, note: str | None, bees: int | None) -> str:
    """Return the note, with the number of bees of a mite wash as `bees=300`; raises UsageError for bees elsewhere."""
    if bees is None:
        return note or ""
    if entry is not Entry.MITE_WASH:
        raise UsageError(f"{entry.value} has no --bees", hint="put it into --note")
    if bees <= 0:
        raise UsageError(f"--bees: that cannot be ({bees})", hint="about 300 is usual, half a cup")
    return f"bees={bees} {BEES.sub('', note or '').strip()}".strip()


def sensible(entry: LogEntry) -> LogEntry:
    """Return the entry; raises UsageError for a mite wash whose numbers cannot be."""
    if wrong := odd_wash(entry):
        raise UsageError(wrong.what, hint=wrong.hint)
    return entry


def amended(old: LogEntry, given: dict[str, Any], zone: ZoneInfo, now: Millis) -> LogEntry:
    """Return an entry with what was `given` changed (keys: hive, entry, at, kg, lb, mites, bees, note).

    An amount that no longer fits a changed entry falls away. Raises UsageError when nothing is given.
    """
    if all(value is None for value in given.values()):
        raise UsageError(
            "nothing to correct was given", hint="name what was wrong: --at, --kg, --entry, --hive, --note"
        )
    entry = old.entry if given["entry"] is None else entry_word(given["entry"])
    amount = amount_of(entry, kg=given["kg"], lb=given["lb"], mites=given["mites"])
    if amount is None and _unit(entry) == _unit(old.entry):
        amount = old.amount
    bees = given["bees"]
    note = old.note if given["note"] is None else given["note"]
    return sensible(
        msgspec.structs.replace(
            old,
            hive=given["hive"] or old.hive,
            entry=entry,
            time=old.time if given["at"] is None else when(given["at"], zone, now).millis,
            amount=amount,
            note=note if bees is None else note_of(entry, note, bees),
        )
    )


def _unit(entry: Entry) -> str:
    return "kg" if entry in WEIGHED else "mites" if entry is Entry.MITE_WASH else ""


def amount_text(entry: LogEntry, units: UnitSettings) -> str:
    """Return the amount with its unit as a person reads it; empty when there is none."""
    if entry.amount is None:
        return ""
    if _unit(entry.entry) == "kg":
        return f"{weight(entry.amount, units)} {units.weight}"
    return f"{entry.amount:g} {_unit(entry.entry)}".strip()

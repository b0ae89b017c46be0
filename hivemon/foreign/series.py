"""Which series a foreign table holds, and whose they are: columns of a wide one, words of a long one."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.errors import UsageError
from hivemon.foreign.choices import Question
from hivemon.foreign.figures import is_nothing, number
from hivemon.foreign.layout import ROLES, unit_in_cells
from hivemon.intake.names import is_id
from hivemon.intake.units import can_convert
from hivemon.model import HIVE_QUANTITIES, Quantity
from hivemon.recognise.names import Named, read_names
from hivemon.recognise.places import find_hive
from hivemon.recognise.ranges import Form, Proposal, Sureness, propose

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from hivemon.config import HiveSettings, UnitSettings
    from hivemon.foreign.choices import Choices
    from hivemon.foreign.layout import Layout
    from hivemon.foreign.sheet import Cell


class Track(NamedTuple):
    """One series in the table: its heading, where its numbers stand, and what they are. `hive` None: see the row."""

    heading: str
    column: int
    hive: str | None
    quantity: Quantity
    form: Form
    sureness: Sureness
    why: str


def find_hives(
    layout: Layout, hives: Sequence[HiveSettings], choices: Choices, asked: list[Question]
) -> dict[str, str | None]:
    """Map the file's names of hives to ids; ask for each that is neither an id nor a name."""
    if layout.hive is None:
        return {}
    index, found = layout.hive, {}
    for name in dict.fromkeys(_name(row[index]) for row in layout.body if not is_nothing(row[index])):
        said = choices.hives.get(name)
        exact = [hive.id for hive in hives if name.lower() in (hive.id.lower(), hive.name.lower())]
        if said is not None:
            found[name] = None if said == "skip" else _checked_id(said, hives)
        elif len(exact) == 1:
            found[name] = exact[0]
        else:
            near = find_hive([name], hives)
            known = tuple(hive.id for hive in hives)
            text = f"Which hive is {name!r} (its id, a new one, or skip)?"
            asked.append(Question("--hive", name, text, (*known, "skip"), near.hive or ""))
            found[name] = None
    if unknown := sorted(set(choices.hives) - set(found)):
        raise UsageError(f"--hive {unknown[0]}: the file names no such hive", hint=f"it names {', '.join(found)}")
    return found


def _checked_id(text: str, hives: Sequence[HiveSettings]) -> str:
    """Return the id a person means, by itself or by the one hive of that name; raises UsageError."""
    called = [hive.id for hive in hives if hive.name and hive.name.casefold() == text.casefold()]
    if len(called) == 1 and text not in {hive.id for hive in hives}:
        return called[0]
    if not is_id(text):
        raise UsageError(f"--hive: {text!r} cannot be an id", hint="letters, digits, dots, dashes and underscores")
    return text


def _name(cell: Cell) -> str:
    """Return a hive's name; a spreadsheet's whole number without its point."""
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


def find_tracks(
    layout: Layout,
    decimal: str,
    hives: Sequence[HiveSettings],
    units: UnitSettings,
    choices: Choices,
    asked: list[Question],
) -> tuple[list[Track], list[tuple[str, str]]]:
    """Find what each column, or each word of a long table, holds."""
    tracks: list[Track] = []
    left: list[tuple[str, str]] = []
    for heading, column, cells in _sources(layout):
        said = choices.columns.get(heading, "")
        values = [found for cell in cells if (found := number(cell, decimal)) is not None and np.isfinite(found)]
        if said == "skip" or not values:
            left.append((heading, "you said so" if said == "skip" else "no numbers in it"))
            continue
        hint = unit_in_cells(cells)
        reading = (
            _said_reading(heading, said, np.array(values), units)
            if said not in ("", "value")
            else _reading(heading, hint, values, hives, units)
        )
        if isinstance(reading, str):
            left.append((heading, reading))
            continue
        hive, ok = _whose(layout, heading, said, reading.quantity, hives, choices)
        if not ok or (reading.sureness is Sureness.GUESS and not said):
            asked.append(_ask_column(heading, values, reading, hive if ok else "?"))
        tracks.append(Track(heading, column, hive, reading.quantity, reading.form, reading.sureness, reading.why))
    _ask_doubles(tracks, asked)
    return tracks, left


def _sources(layout: Layout) -> list[tuple[str, int, list[Cell]]]:
    """Return heading, column and cells of each series."""
    if layout.quantity is None or layout.value is None:
        return [(layout.headings[i], i, [row[i] for row in layout.body]) for i in layout.measures]
    groups: dict[str, list[Cell]] = {}
    for row in layout.body:
        if not is_nothing(row[layout.quantity]):
            groups.setdefault(str(row[layout.quantity]), []).append(_with_unit(row, layout))
    return [(word, layout.value, cells) for word, cells in groups.items()]


def _with_unit(row: Sequence[Cell], layout: Layout) -> Cell:
    """Return a long table's value with the unit of its row behind it."""
    cell = row[layout.value] if layout.value is not None else None
    unit = row[layout.unit] if layout.unit is not None else None
    if unit is None or is_nothing(cell) or isinstance(cell, datetime | time):
        return cell
    return f"{cell!r} {unit}" if isinstance(cell, float) else f"{cell} {unit}"


def _reading(
    heading: str, unit: str, values: Sequence[float], hives: Sequence[HiveSettings], units: UnitSettings
) -> Proposal | str:
    """Propose what a series is by its heading, without the ids of hives in it."""
    ids = {hive.id.lower() for hive in hives}
    words = [part for part in heading.replace("_", " ").split() if part.lower().strip("()[]:") not in ids]
    named = read_names([" ".join([*words, unit])])
    return propose(named, np.array(values), units)


def _said_reading(heading: str, said: str, values: NDArray[np.float64], units: UnitSettings) -> Proposal | str:
    """Read a person's HIVE,QUANTITY,UNIT; raises UsageError."""
    parts = [part.strip() for part in said.split(",")]
    form = "HIVE,QUANTITY,UNIT (HIVE is yard for the yard's own, row for the hive of the row)"
    if said in ROLES:
        raise UsageError(f"--column {heading}: {said} does not fit here", hint=f"write {form}, or skip")
    if len(parts) not in (2, 3) or parts[1] not in set(Quantity):
        known = ", ".join(Quantity)
        raise UsageError(f"--column {heading}: {said!r} is not understood", hint=f"write {form}; QUANTITY is {known}")
    unit = parts[2] if len(parts) == 3 else ""  # noqa: PLR2004
    if not can_convert(unit, Quantity(parts[1])):
        raise UsageError(
            f"--column {heading}: {parts[1]} in {unit!r} is not understood", hint="kg, g, lb, Cel, degF, %RH, V, mV, mm"
        )
    reading = propose(Named(Quantity(parts[1]), unit, raw=False, foreign=""), values, units)
    if isinstance(reading, str):
        return reading
    return reading._replace(why=reading.why.replace("its name says", "you say"))


def _whose(
    layout: Layout, heading: str, said: str, quantity: Quantity, hives: Sequence[HiveSettings], choices: Choices
) -> tuple[str | None, bool]:
    """Return a series' hive (None: the row says it, or it is the yard's), and whether that is known."""
    if quantity not in HIVE_QUANTITIES:
        return None, True
    named = said.split(",", maxsplit=1)[0].strip() if "," in said else ""
    if named in ("row", "yard", ""):
        if layout.hive is not None:
            return None, True
        if choices.hive:
            return _checked_id(choices.hive, hives), True
        found = find_hive([heading], hives)
        return found.hive, found.hive is not None
    return _checked_id(named, hives), True


def _ask_column(heading: str, values: Sequence[float], reading: Proposal, hive: str | None) -> Question:
    whose = "row" if hive is None and reading.quantity in HIVE_QUANTITIES else "yard" if hive is None else hive
    low, high = min(values), max(values)
    text = f"{reading.why}. What is it?" if hive != "?" else f"a {reading.quantity.value}, but of which hive?"
    text = f"{heading!r} ({low:g} to {high:g}): {text} HIVE,QUANTITY,UNIT or skip"
    default = f"{whose},{reading.quantity.value},{reading.form.unit}"
    fitting = reading.form.scale == 1.0 and not reading.form.offset and hive != "?"
    return Question("--column", heading, text, ("HIVE,QUANTITY,UNIT", "skip"), default if fitting else "")


def _ask_doubles(tracks: Sequence[Track], asked: list[Question]) -> None:
    """Ask about a series that would be mixed into another: two sensors of one kind in one hive."""
    seen: dict[tuple[str | None, Quantity], str] = {}
    for track in tracks:
        first = seen.setdefault((track.hive, track.quantity), track.heading)
        if first != track.heading:
            text = (
                f"{track.heading!r} would be mixed with {first!r}, the same hive's {track.quantity.value}. What is it?"
            )
            asked.append(Question("--column", track.heading, text, ("HIVE,QUANTITY,UNIT", "skip"), "skip"))

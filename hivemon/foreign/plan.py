"""What a foreign table is taken for, as a whole, with the questions that only a person can answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import InputError, UsageError
from hivemon.foreign.choices import Question
from hivemon.foreign.figures import decimal_signs
from hivemon.foreign.layout import Layout, find_layout
from hivemon.foreign.series import Track, find_hives, find_tracks
from hivemon.foreign.timing import Timing, find_timing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from hivemon.config import HiveSettings, UnitSettings
    from hivemon.foreign.choices import Choices
    from hivemon.foreign.sheet import Sheet


class Plan(NamedTuple):
    """How a table will be read; not to be carried out while there are questions."""

    layout: Layout
    decimal: str
    timing: Timing
    tracks: list[Track]
    hives: dict[str, str | None]
    """The file's names of hives to ids; None: left out."""
    left: list[tuple[str, str]]
    """Headings left out, and why."""
    questions: list[Question]


def make_plan(
    sheet: Sheet, hives: Sequence[HiveSettings], units: UnitSettings, own_zone: str, choices: Choices, latest: date
) -> Plan:
    """Recognise a table.

    Args:
        sheet: Its cells.
        hives: Those of the yard.
        units: What a person prefers, where both are possible.
        own_zone: The yard's zone, proposed for times without one.
        choices: What a person has said so far.
        latest: No reading can be later.

    Raises:
        InputError: It cannot be read as a table of readings at all.
        UsageError: A choice does not fit the file.
    """
    layout = find_layout(sheet, choices.columns)
    asked: list[Question] = []
    decimal = _decimal(layout, choices, asked)
    timing = find_timing(layout, own_zone, choices, latest, asked)
    named = find_hives(layout, hives, choices, asked)
    tracks, left = find_tracks(layout, decimal, hives, units, choices, asked)
    if unknown := sorted(set(choices.columns) - _headings(layout)):
        known = ", ".join(sorted(_headings(layout)))
        raise UsageError(f"--column {unknown[0]}: the file has no such column", hint=f"there are: {known}")
    left += [(layout.headings[index], "not needed") for index in layout.skipped]
    return Plan(layout, decimal, timing, tracks, named, left, asked)


def _headings(layout: Layout) -> set[str]:
    words = {str(row[layout.quantity]) for row in layout.body} if layout.quantity is not None else set()
    return {*layout.headings, *words}


def _decimal(layout: Layout, choices: Choices, asked: list[Question]) -> str:
    """Find the decimal sign of all columns of values together."""
    columns = [layout.value] if layout.is_long and layout.value is not None else layout.measures
    signs = decimal_signs(row[index] for row in layout.body for index in columns)
    if choices.decimal:
        return {"point": ".", "comma": ","}.get(choices.decimal, choices.decimal)
    if not signs:
        raise InputError("some numbers have a decimal comma and some a point", hint="export them all alike")
    if len(signs) > 1:
        example = next(
            str(row[i])
            for row in layout.body
            for i in columns
            if isinstance(row[i], str) and set(str(row[i])) & set(".,")
        )
        text = f"{example} has a sign that may stand before decimals or between thousands: which is the decimal sign?"
        asked.append(Question("--decimal", "", text, ("point", "comma"), ""))
    return min(signs, key=lambda sign: sign != ".")

"""How values look to a person: the units of the configuration, local dates and times, plain tables. Pure functions.

Conversion happens here and nowhere else: 1 lb = 0.45359237 kg exactly (international yard and pound agreement, 1959);
°F = °C x 9/5 + 32.
"""

from __future__ import annotations

import textwrap
from datetime import date, datetime
from typing import TYPE_CHECKING

from hivemon.intake.units import KG_PER_POUND

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from hivemon.config import UnitSettings
    from hivemon.model import Millis

NOTHING = "-"
"""Stands where the readings do not tell."""


def weight(kilograms: float | None, units: UnitSettings) -> str:
    """Return a weight to one decimal, without its unit."""
    return NOTHING if kilograms is None else _rounded(_weight(kilograms, units), 1)


def change(kilograms: float | None, units: UnitSettings) -> str:
    """Return a change of weight with its sign: to 10 g in kg, to a tenth in lb; without its unit."""
    if kilograms is None:
        return NOTHING
    text = _rounded(_weight(kilograms, units), 2 if units.weight == "kg" else 1)
    return text if text.startswith("-") or not text.strip("0.") else f"+{text}"


def temperature(celsius: float | None, units: UnitSettings) -> str:
    """Return a temperature to one decimal with its unit."""
    if celsius is None:
        return NOTHING
    return f"{_rounded(celsius * 9 / 5 + 32, 1)} °F" if units.temperature == "F" else f"{_rounded(celsius, 1)} °C"


def quantity_text(value: float | None, unit: str, units: UnitSettings) -> str:
    """Return the size of an event with its unit, converted when it is a weight or a temperature."""
    if value is None:
        return NOTHING
    if unit in ("kg", "kg/d"):
        per_day = "/day" if unit == "kg/d" else ""
        return f"{_rounded(_weight(value, units), 2)} {units.weight}{per_day}"
    if unit == "Cel":
        return temperature(value, units)
    return f"{value:g} {unit}".strip()


def _weight(kilograms: float, units: UnitSettings) -> float:
    return kilograms / KG_PER_POUND if units.weight == "lb" else kilograms


def _rounded(value: float, decimals: int) -> str:
    """Round without ever writing minus nothing."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def local(time: Millis, zone: ZoneInfo) -> str:
    """Return a moment as `2026-06-12 14:05` in the yard's zone."""
    return datetime.fromtimestamp(time / 1000, zone).strftime("%Y-%m-%d %H:%M")


def clock(time: Millis, zone: ZoneInfo) -> str:
    """Return the time of day, `14:05`, in the yard's zone."""
    return datetime.fromtimestamp(time / 1000, zone).strftime("%H:%M")


def long_date(day: date) -> str:
    """Return `Friday 12 June 2026`."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def harmless(text: str) -> str:
    """Return text from a stranger with whatever could move a cursor or ring a bell written as escapes."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def span(millis: Millis) -> str:
    """Return a length of time in the largest unit that says enough: `40 minutes`, `5 hours`, `3 days`."""
    for size, name in ((86_400_000, "day"), (3_600_000, "hour"), (60_000, "minute")):
        count = millis // size
        if count >= (1 if name == "minute" else 2):
            return f"{count:,} {name}{'' if count == 1 else 's'}"
    return "less than a minute"


def counted(count: int, noun: str, more: str = "") -> str:
    """Return a number with its noun, one or `more` of it."""
    return f"{count:,} {noun if count == 1 else more or f'{noun}s'}"


def plain_table(head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Return rows as aligned columns, two spaces apart, for pipes and files; columns in `right` end flush."""
    table = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in table) for column in range(len(head))]
    lines = [
        "  ".join(
            cell.rjust(widths[column]) if column in right else cell.ljust(widths[column])
            for column, cell in enumerate(row)
        ).rstrip()
        for row in table
    ]
    return "\n".join(lines)


def wrapped(text: str, width: int, indent: str = "", first: str | None = None) -> str:
    """Return text wrapped to `width` columns; `first` begins the first line, `indent` the others."""
    return textwrap.fill(
        text,
        max(width, 20),
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )

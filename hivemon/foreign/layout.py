"""What the columns of a table are: times, names of hives, names of quantities, values; long or wide."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import InputError
from hivemon.foreign.dates import time_of_day, written
from hivemon.foreign.figures import is_nothing, looks_numeric, unit_behind
from hivemon.recognise.names import pieces, read_names

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.foreign.sheet import Cell, Sheet

MOSTLY = 0.9
"""Share of a column's cells that must be of a kind for it to be that kind. Our rule."""
_LOOKED_AT = 2000
"""Rows that decide what a column is."""
_HEADER_WITHIN = 30
"""Lines at the top that may come before the heading: what the recorder says of itself. Our rule."""
_HIVE_WORDS = frozenset(
    [
        "hive",
        "colony",
        "device",
        "sensor",
        "volk",
        "beute",
        "stock",
        "kast",
        "ruche",
        "colmena",
        "arnia",
        "name",
        "node",
    ]
)
_TIME_WORDS = frozenset(
    [
        "time",
        "date",
        "datetime",
        "timestamp",
        "tijd",
        "datum",
        "zeit",
        "uhrzeit",
        "heure",
        "fecha",
        "hora",
        "data",
        "ts",
    ]
)
ROLES = ("time", "date", "clock", "hive", "quantity", "value", "unit", "skip")
"""What a column can be said to be, besides HIVE,QUANTITY,UNIT."""
_UNIX = ((1.2e9, 4.1e9, 1000.0), (1.2e12, 4.1e12, 1.0))
"""From 2008 to 2099 in seconds and in milliseconds, and the milliseconds in each."""


class Layout(NamedTuple):
    """A table's columns by what they are; indices into its rows, None where there is no such column.

    `body` are the rows of readings and `line` the line number of the first; `headings` name each column, with its unit
    where a row of units follows. `moment` holds date and time, or the date alone where `clock` holds the time of day;
    `unix` is the milliseconds of its unit where it counts from 1970, else 0. In a long table `quantity` names what
    `value` holds; in a wide one each of `measures` is a quantity of its own.
    """

    headings: list[str]
    body: list[list[Cell]]
    line: int
    moment: int
    clock: int | None
    unix: float
    hive: int | None
    quantity: int | None
    value: int | None
    unit: int | None
    measures: list[int]
    skipped: list[int]

    @property
    def is_long(self) -> bool:
        """Whether each row holds one value, and says of what."""
        return self.quantity is not None and self.value is not None


def find_layout(sheet: Sheet, said: Mapping[str, str]) -> Layout:
    """Find what each column is; `said` maps headings to roles (`ROLES`, or a measure) that a person gave.

    Raises:
        InputError: There is no column of times, or none of numbers.
    """
    at = _header(sheet.rows)
    headings = _named(sheet.rows[at], len(sheet.rows[at]))
    begin = at + 1
    if begin < len(sheet.rows) and _is_units(sheet.rows[begin]):
        headings = [
            f"{name} {unit}".strip() if unit else name
            for name, unit in zip(headings, _texts(sheet.rows[begin]), strict=True)
        ]
        begin += 1
    body = sheet.rows[begin:]
    columns = [
        [row[index] for row in body[:_LOOKED_AT] if not is_nothing(row[index])] for index in range(len(headings))
    ]
    roles = {index: said[name] for index, name in enumerate(headings) if name in said}
    moment, clock, unix = _times(headings, columns, roles)
    free = [i for i in range(len(headings)) if i not in (moment, clock) and roles.get(i) != "skip" and columns[i]]
    numeric = [i for i in free if _share(columns[i], looks_numeric) >= MOSTLY or _is_measure(roles.get(i))]
    texts = [i for i in free if i not in numeric]
    quantity = _said(roles, "quantity") if "quantity" in roles.values() else _quantity(texts, columns)
    hive = (
        _said(roles, "hive")
        if "hive" in roles.values()
        else _hive([i for i in texts + numeric if i != quantity], headings, columns, roles)
    )
    measures = [i for i in numeric if (i != hive and roles.get(i) in (None, "value")) or _is_measure(roles.get(i))]
    value = _said(roles, "value") if "value" in roles.values() else _value(measures, headings)
    unit = (
        _said(roles, "unit")
        if "unit" in roles.values()
        else _unit([i for i in texts if i not in (hive, quantity)], columns)
    )
    if quantity is not None and value is not None:
        measures = []
    if not measures and (quantity is None or value is None):
        raise _no_numbers(headings, body, free, sheet.first + begin)
    used = {moment, clock, hive, quantity, value, unit, *measures}
    skipped = [i for i in range(len(headings)) if i not in used and columns[i]]
    return Layout(
        headings, body, sheet.first + begin, moment, clock, unix, hive, quantity, value, unit, measures, skipped
    )


def _no_numbers(headings: Sequence[str], body: Sequence[Sequence[Cell]], free: Sequence[int], first: int) -> InputError:
    """Return the error of a table without a column of numbers; a cell that spoils one is named with its line."""
    for index in free:
        cells = [(at, row[index]) for at, row in enumerate(body[:_LOOKED_AT], first) if not is_nothing(row[index])]
        spoilt = [(line, cell) for line, cell in cells if not looks_numeric(cell)]
        if len(spoilt) < len(cells):
            line, cell = spoilt[0]
            many = f" and {len(spoilt) - 1:,} more" if len(spoilt) > 1 else ""
            what = f"line {line}: {str(cell)[:40]!r}{many} in the column {headings[index]!r} is no number"
            option = f"--column '{headings[index]}=HIVE,QUANTITY,UNIT'"
            hint = f"mend or empty that cell; or name the column, and the cell is left out: {option}"
            return InputError(what, hint=hint)
    return InputError(f"no column of numbers among {', '.join(headings)}", hint="look at --delimiter and --sheet")


def _header(rows: Sequence[Sequence[Cell]]) -> int:
    """Return the index of the heading: the last line of words only before the first with a moment or many numbers."""
    for index, row in enumerate(rows[:_HEADER_WITHIN]):
        cells = [cell for cell in row if cell is not None]
        dated = any(written(cell) for cell in cells) or any(_unix_of([cell]) for cell in cells if looks_numeric(cell))
        if len(cells) > 1 and dated:
            for back in range(index - 1, -1, -1):
                above = [cell for cell in rows[back] if cell is not None]
                if len(above) > 1 and not _is_units(rows[back]):
                    return back
            raise InputError("no heading above the first row", hint="write one line above it that names each column")
    raise InputError("no row with a date and a value in it", hint="look at --delimiter and --sheet, or the file itself")


def _is_units(row: Sequence[Cell]) -> bool:
    """Tell whether a row names units only: `-;kg;°C`."""
    words = [cell for cell in row if isinstance(cell, str)]
    known = [read_names([word]).unit for word in words]
    return sum(map(bool, known)) >= max(1, len(words) - 2) and all(len(word) <= 6 for word in words)  # noqa: PLR2004


def _texts(row: Sequence[Cell]) -> list[str]:
    return [cell.strip("[]() ") if isinstance(cell, str) else "" for cell in row]


def _named(row: Sequence[Cell], width: int) -> list[str]:
    """Return a name for each column, each once."""
    names: list[str] = []
    for index in range(width):
        cell = row[index]
        name = str(cell) if cell is not None else f"column {index + 1}"
        names.append(name if name not in names else f"{name} ({index + 1})")
    return names


def _share(cells: Sequence[Cell], test: object) -> float:
    return sum(bool(test(cell)) for cell in cells) / len(cells) if cells and callable(test) else 0.0


def _said(roles: Mapping[int, str], role: str) -> int:
    return next(index for index, given in roles.items() if given == role)


def _is_measure(role: str | None) -> bool:
    return role is not None and role not in ROLES


def _times(
    headings: Sequence[str], columns: Sequence[Sequence[Cell]], roles: Mapping[int, str]
) -> tuple[int, int | None, float]:
    """Find the column of moments, the one of times of day beside it, and the unit of one that counts from 1970."""
    wanted = [index for index, role in roles.items() if role in ("time", "date")]
    free = [index for index in range(len(columns)) if index not in roles]
    dated = wanted or [i for i in free if _share(columns[i], written) >= MOSTLY]
    # Of several (measured, sent, received) the one with a time of day, then the first.
    dated.sort(key=lambda i: not any(one.clock for cell in columns[i][:20] if (one := written(cell))))
    for index in dated:
        whole = any(one.clock for cell in columns[index] if (one := written(cell)) and one.clock)
        clocks = (
            [_said(roles, "clock")]
            if "clock" in roles.values()
            else [i for i in free if _share(columns[i], time_of_day) >= MOSTLY]
        )
        midnight = all(
            one.clock is None or (one.clock.hour, one.clock.minute) == (0, 0)
            for c in columns[index]
            if (one := written(c))
        )
        if clocks and (not whole or midnight):
            return index, clocks[0], 0.0
        if not _unix_of(columns[index]):
            return index, None, 0.0
    for index in wanted or [i for i in free if _TIME_WORDS & set(pieces(headings[i]))]:
        if unit := _unix_of(columns[index]):
            return index, None, unit
    raise InputError(f"no column of times among {', '.join(headings)}", hint="say which it is: --column 'HEADING=time'")


def _unix_of(cells: Sequence[Cell]) -> float:
    """Return the milliseconds in the unit of a column that counts from 1970; 0 when it does not."""
    try:
        numbers = [float(cell) for cell in cells if isinstance(cell, str | float)]
    except ValueError:
        return 0.0
    fitting = [unit for low, high, unit in _UNIX if numbers and low <= min(numbers) and max(numbers) <= high]
    return fitting[0] if fitting else 0.0


def _quantity(texts: Sequence[int], columns: Sequence[Sequence[Cell]]) -> int | None:
    """Find a column of words that are quantities: a long table."""
    for index in texts:
        words = {str(cell) for cell in columns[index]}
        if len(words) <= 40 and sum(read_names([word]).quantity is not None for word in words) * 2 > len(words):  # noqa: PLR2004
            return index
    return None


def _hive(
    candidates: Sequence[int], headings: Sequence[str], columns: Sequence[Sequence[Cell]], roles: Mapping[int, str]
) -> int | None:
    """Find the column that names hives: by its heading, and by names that come again and again."""
    for index in candidates:
        words = set(pieces(headings[index]))
        few = len({str(cell) for cell in columns[index]}) <= max(3, len(columns[index]) // 3)
        if index not in roles and _HIVE_WORDS & words and few and read_names([headings[index]]).quantity is None:
            return index
    return None


def _value(measures: Sequence[int], headings: Sequence[str]) -> int | None:
    """Find the one column of values of a long table."""
    plain = [
        i for i in measures if {"value", "reading", "waarde", "wert", "valeur", "valor"} & set(pieces(headings[i]))
    ]
    return plain[0] if plain else measures[0] if len(measures) == 1 else None


def _unit(texts: Sequence[int], columns: Sequence[Sequence[Cell]]) -> int | None:
    """Find a column of units."""
    for index in texts:
        if all(isinstance(cell, str) and len(cell) <= 8 and read_names([cell]).unit for cell in columns[index]):  # noqa: PLR2004
            return index
    return None


def unit_in_cells(cells: Sequence[Cell]) -> str:
    """Return the unit written behind the numbers of a column, where it is one and the same; else empty."""
    units = {unit_behind(cell) for cell in cells if not is_nothing(cell)}
    return units.pop() if len(units) == 1 else ""

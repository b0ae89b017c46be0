"""Cells out of a file: CSV in whatever encoding and with whatever between its fields, or a spreadsheet."""

from __future__ import annotations

import csv
import gzip
import io
import zlib
from datetime import date, datetime, time
from typing import TYPE_CHECKING, NamedTuple

from hivemon.errors import InputError, UsageError

if TYPE_CHECKING:
    from pathlib import Path

Cell = str | float | datetime | time | None
"""Text as it stands (stripped), or what a spreadsheet holds; None where there is nothing."""
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_ZIP, _OLD = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_LOOKED_AT = 200
"""Lines that decide what stands between fields."""
MOST_BYTES = 300 * 1024 * 1024
"""A larger file is refused: its cells would not fit into the memory of a small board. Our rule."""


class Sheet(NamedTuple):
    """A table: `rows[0]` is line `first` of the file; `source` says in words how it was read."""

    rows: list[list[Cell]]
    first: int
    source: str


def read_sheet(path: Path, delimiter: str = "", sheet: str = "") -> Sheet:
    """Read a file's table.

    Args:
        path: CSV (gzip or not), xlsx, xls or ods; told by the content.
        delimiter: What stands between the fields of a CSV; empty: found out.
        sheet: The name of a spreadsheet's sheet; empty: the only one with anything in it.

    Raises:
        InputError: The file cannot be read or holds no table.
        UsageError: A sheet must be named, or the one named is not there.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            hint = "split it into years, or write it as a readings file and use --readings, which reads any size"
            raise InputError(f"{path} has {size / 2**20:.0f} MB: more than fits", hint=hint)
        raw = path.read_bytes()
        if raw[:2] == b"\x1f\x8b":
            raw = gzip.decompress(raw)
    except (OSError, EOFError, zlib.error) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(
            f"cannot read {path}: {reason}", hint="look at its name, its rights and whether it is whole"
        ) from error
    if raw[:4] in (_ZIP, _OLD) or path.suffix.lower() in _SPREADSHEETS:
        return _spreadsheet(path, sheet)
    return _text(path, raw, delimiter)


def _spreadsheet(path: Path, sheet: str) -> Sheet:
    from python_calamine import CalamineError, CalamineWorkbook  # noqa: PLC0415 - only who has a spreadsheet pays

    try:
        book = CalamineWorkbook.from_path(path)
        tables = {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}
    except (CalamineError, OSError, ValueError) as error:
        hint = "open it and save it again as .xlsx or .ods, or as CSV"
        raise InputError(f"{path} is no spreadsheet that can be read: {error}", hint=hint) from error
    filled = [name for name, rows in tables.items() if any(cell != "" for row in rows for cell in row)]
    wanted = sheet or (filled[0] if len(filled) == 1 else "")
    if not filled:
        raise InputError(f"{path} is empty", hint="look whether it is the right file")
    if wanted not in tables:
        what = f"{path} has no sheet {sheet!r}" if sheet else f"{path} has {len(filled)} sheets"
        raise UsageError(what, hint=f"name one with --sheet: {', '.join(filled)}")
    rows = [[_cell(cell) for cell in row] for row in tables[wanted]]
    return Sheet(rows, 1, f"spreadsheet, sheet {wanted!r}")


def _cell(value: object) -> Cell:
    """Return a spreadsheet's value as a cell; truth values and spans are no readings and stay as text."""
    if isinstance(value, datetime):
        return value
    if isinstance(value, date):
        return datetime(value.year, value.month, value.day)  # noqa: DTZ001 - its zone is asked for later
    if isinstance(value, time):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    return str(value).strip() or None


def _text(path: Path, raw: bytes, delimiter: str) -> Sheet:
    text, encoding = _decoded(raw)
    if "\0" in text:
        raise InputError(f"{path} is neither text nor a spreadsheet", hint="export it as CSV, .xlsx or .ods")
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise InputError(f"{path} is empty", hint="look whether it is the right file")
    between = delimiter or _between(lines[:_LOOKED_AT])
    try:
        parsed = list(csv.reader(io.StringIO(text, newline=""), delimiter=between))
    except csv.Error as error:
        raise InputError(f"{path}: {error}", hint="look at its quotes") from error
    width = max(len(row) for row in parsed)
    rows: list[list[Cell]] = [[*(cell.strip() or None for cell in row), *[None] * (width - len(row))] for row in parsed]
    return Sheet(rows, 1, f"CSV in {encoding}, {DELIMITERS.get(between, repr(between))} between the fields")


def _decoded(raw: bytes) -> tuple[str, str]:
    """Return the text and the name of its encoding; what is no UTF is taken for Western European Windows."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", "replace"), "UTF-16"
    try:
        return raw.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace"), "Windows-1252"


def _between(lines: list[str]) -> str:
    """Find what stands between fields: what splits the most lines into the same number of two fields or more."""

    def score(sign: str) -> tuple[int, int]:
        counts = [len(row) for row in csv.reader(lines, delimiter=sign)]
        usual = max(set(counts), key=counts.count)
        return (counts.count(usual) if usual > 1 else 0, usual)

    # A decimal comma splits lines as evenly as a field's: whatever else splits them all is the truer one.
    best = max(DELIMITERS, key=lambda sign: (score(sign)[0], sign != ",", score(sign)[1]))
    return best if score(best)[0] else ","

"""Lines of a readings file into columns: fast for clean blocks, exact for blocks that hold a bad row.

Both ways accept the same rows and give the same values; the exact way also says what is wrong with the others.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv

from hivemon.errors import Unusable
from hivemon.intake.moments import not_yet_come, parse_rfc3339
from hivemon.intake.names import is_id, is_number
from hivemon.intake.units import LIMITS, check_limits
from hivemon.model import HIVE_QUANTITIES, Quantity, Stream

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from hivemon.intake.blocks import Block
    from hivemon.model import Millis

COLUMNS = ["time", "yard", "hive", "quantity", "value"]
"""The header of a readings file."""


_PLAIN, _OFFSET = 20, 25
"""Shortest RFC 3339 moments: 2025-05-01T06:00:00Z and 2025-05-01T06:00:00+02:00."""
_TEXTS = pa.dictionary(pa.int32(), pa.string())
_CONVERT = pa_csv.ConvertOptions(
    column_types={
        "time": pa.timestamp("ns", tz="UTC"),
        "yard": _TEXTS,
        "hive": _TEXTS,
        "quantity": _TEXTS,
        "value": pa.float64(),
    },
    null_values=[],
    strings_can_be_null=False,
)
_READ = pa_csv.ReadOptions(column_names=COLUMNS, block_size=64 * 1024 * 1024)


_Number = TypeVar("_Number", np.int32, np.int64, np.float64)


class Rows(NamedTuple):
    """Columns of one length: time (int64 ms), code of yard and stream (int32), value (float64), line number (int64)."""

    time: NDArray[np.int64]
    code: NDArray[np.int32]
    value: NDArray[np.float64]
    line: NDArray[np.int64]

    def where(self, keep: NDArray[np.bool_] | NDArray[np.intp] | slice) -> Rows:
        """Return the chosen rows."""
        return Rows(self.time[keep], self.code[keep], self.value[keep], self.line[keep])


NO_ROWS = Rows(np.empty(0, np.int64), np.empty(0, np.int32), np.empty(0), np.empty(0, np.int64))


def joined(parts: list[Rows]) -> Rows:
    """Return several parts as one."""
    if len(parts) < 2:  # noqa: PLR2004 - nothing to join
        return parts[0] if parts else NO_ROWS
    return Rows(
        np.concatenate([part.time for part in parts]),
        np.concatenate([part.code for part in parts]),
        np.concatenate([part.value for part in parts]),
        np.concatenate([part.line for part in parts]),
    )


class Parser:
    """Parses blocks and remembers which code means which yard and stream.

    Args:
        rejected: Called with (line number, reason, the row's text) for every row that cannot be used.
        latest: A row after this moment is refused: it cannot have been measured yet. None: any time is taken.
    """

    def __init__(self, rejected: Callable[[int, str, str], None], latest: Millis | None = None) -> None:
        self._rejected = rejected
        self._latest = latest
        self._codes: dict[tuple[str, Stream], int] = {}
        self.meanings: list[tuple[str, Stream]] = []

    def parse(self, block: Block) -> Rows:
        """Return the good rows of a block in the order of the file."""
        rows = self._fast(block)
        return self._come(self._exact(block) if rows is None else rows)

    def code(self, yard: str, stream: Stream) -> int:
        """Return the code of a stream, new or known."""
        key = (yard, stream)
        found = self._codes.get(key)
        if found is None:
            found = self._codes[key] = len(self.meanings)
            self.meanings.append(key)
        return found

    def _come(self, rows: Rows) -> Rows:
        """Return the rows whose time has come, reporting the others."""
        if self._latest is None or (early := rows.time <= self._latest).all():
            return rows
        late = rows.where(~early)
        for line, time in zip(late.line.tolist(), late.time.tolist(), strict=True):
            self._rejected(line, not_yet_come(time), "")
        return rows.where(early)

    def _fast(self, block: Block) -> Rows | None:
        """Parse a whole block at once; None when anything in it needs a closer look."""
        try:
            table = pa_csv.read_csv(io.BytesIO(block.text), read_options=_READ, convert_options=_CONVERT)
        except pa.ArrowInvalid:
            return None
        if not _rfc3339_at_ends(np.frombuffer(block.text, np.uint8), table.num_rows):
            return None
        time = _numbers(table.column("time").combine_chunks(), np.int64) // 1_000_000
        value = _numbers(table.column("value").combine_chunks(), np.float64)
        if not np.isfinite(value).all():
            return None
        code = self._stream_codes(table)
        if code is None:
            return None
        low, high = self._limits()
        if not ((value >= low[code]) & (value <= high[code])).all():
            return None
        return Rows(time, code, value, np.arange(block.first, block.first + len(time), dtype=np.int64))

    def _stream_codes(self, table: pa.Table) -> NDArray[np.int32] | None:
        """Return the code of every row; None where a name or a pairing of hive and quantity cannot be."""
        yards, yard_at = _dictionary(table, "yard")
        hives, hive_at = _dictionary(table, "hive")
        quantities, quantity_at = _dictionary(table, "quantity")
        combined = (yard_at * len(hives) + hive_at) * len(quantities) + quantity_at
        lookup = np.full(len(yards) * len(hives) * len(quantities), -1, np.int32)
        present = np.flatnonzero(np.bincount(combined, minlength=len(lookup)))
        for at in present.tolist():
            rest, quantity = divmod(at, len(quantities))
            yard, hive = divmod(rest, len(hives))
            try:
                lookup[at] = self.code(*_stream(yards[yard], hives[hive], quantities[quantity]))
            except Unusable:
                return None
        codes: NDArray[np.int32] = lookup[combined]
        return codes

    def _limits(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        limits = np.array([LIMITS[stream.quantity] for _, stream in self.meanings])
        return limits[:, 0], limits[:, 1]

    def _exact(self, block: Block) -> Rows:
        """Parse row by row, reporting each bad one."""
        good: list[tuple[int, int, float, int]] = []
        for line, text, fields in _lines(block):
            try:
                yard, stream, time, value = _row(fields)
                good.append((time, self.code(yard, stream), value, line))
            except Unusable as error:
                self._rejected(line, str(error), text)
        return Rows(
            np.array([row[0] for row in good], np.int64),
            np.array([row[1] for row in good], np.int32),
            np.array([row[2] for row in good], np.float64),
            np.array([row[3] for row in good], np.int64),
        )


def _rfc3339_at_ends(text: NDArray[np.uint8], rows: int) -> bool:
    """Tell whether each line is a row whose moment ends as RFC 3339 wants: Arrow also reads hh:mm and offsets like +02.

    The moment is what stands before a row's first comma, in quotes or not; a comma in quotes is answered with no.
    """
    starts = np.concatenate(([0], np.flatnonzero(text[:-1] == ord("\n")) + 1))
    commas = np.flatnonzero(text == ord(","))
    if len(starts) != rows or len(commas) != rows * (len(COLUMNS) - 1):
        return False
    ends = commas[:: len(COLUMNS) - 1]
    quoted = text[ends - 1] == ord('"')
    length, ends = ends - starts - 2 * quoted, ends - quoted
    if length.min(initial=_PLAIN) < _PLAIN:
        return False
    zulu = text[ends - 1] == ord("Z")
    if zulu.all():
        return True
    numeric = (length >= _OFFSET) & (text[ends - 3] == ord(":"))
    sign = text[ends - 6]
    return bool((zulu | (numeric & ((sign == ord("+")) | (sign == ord("-"))))).all())


def _numbers(array: pa.Array, kind: type[_Number]) -> NDArray[_Number]:
    """Return an array without nulls as numpy sees its memory: Arrow's own way there loads pandas where that is."""
    held: NDArray[_Number] = np.frombuffer(array.buffers()[1], kind)[array.offset : array.offset + len(array)]
    return held


def _dictionary(table: pa.Table, column: str) -> tuple[list[str], NDArray[np.int64]]:
    """Return the distinct texts of a column and, for each row, which one it is."""
    chunk = table.column(column).combine_chunks()
    return chunk.dictionary.to_pylist(), _numbers(chunk.indices, np.int32).astype(np.int64)


def _lines(block: Block) -> Iterator[tuple[int, str, list[str] | None]]:
    """Yield line number, text and fields of every line that is not empty; fields None where it is no CSV row."""
    for at, raw in enumerate(block.text.split(b"\n")):
        if not raw.strip():
            continue
        try:
            text = raw.decode().rstrip("\r")
            (fields,) = csv.reader([text], strict=True)
        except (UnicodeDecodeError, csv.Error, ValueError):
            yield block.first + at, raw.decode("utf-8", "replace"), None
        else:
            yield block.first + at, text, fields


def _row(fields: list[str] | None) -> tuple[str, Stream, int, float]:
    """Check one row; raises Unusable with the reason."""
    if fields is None:
        raise Unusable("is not UTF-8 text, or its quotes do not close")
    if len(fields) != len(COLUMNS):
        comma = ": is a decimal comma in it?" if len(fields) == len(COLUMNS) + 1 else ""
        raise Unusable(f"has {len(fields)} fields instead of {len(COLUMNS)}{comma}")
    moment, yard, hive, quantity, number = fields
    yard, stream = _stream(yard, hive, quantity)
    try:
        time = parse_rfc3339(moment)
    except ValueError as error:
        raise Unusable(str(error)) from None
    if not is_number(number):
        hint = ": write the decimal point as '.'" if "," in number else ""
        raise Unusable(f"the value {number!r} is no number{hint}")
    value = float(number)
    check_limits(value, stream.quantity)
    return yard, stream, time, value


def _stream(yard: str, hive: str, quantity: str) -> tuple[str, Stream]:
    """Check the names of a row; raises Unusable."""
    if not is_id(yard):
        raise Unusable(f"the yard {yard!r} is no id")
    try:
        known = Quantity(quantity)
    except ValueError:
        names = ", ".join(Quantity)
        raise Unusable(f"the quantity {quantity!r} is unknown (known: {names})") from None
    if known in HIVE_QUANTITIES:
        if not is_id(hive):
            raise Unusable(f"{quantity} belongs to a hive, and {hive!r} is no hive id")
        return yard, Stream(hive, known)
    if hive:
        raise Unusable(f"{quantity} belongs to the yard: leave the hive empty")
    return yard, Stream(None, known)

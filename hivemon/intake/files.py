"""Readings files and logbook files (CSV, RFC 4180, UTF-8, gzip or not), in and out.

Readings come as batches in time order so that memory does not grow with the file.
"""

from __future__ import annotations

import csv
import gzip
import io
from contextlib import contextmanager
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv

from hivemon.config_words import nearest
from hivemon.errors import InputError, Unusable
from hivemon.files import whole_file
from hivemon.intake.blocks import BLOCK_BYTES, Block, opened, read_blocks
from hivemon.intake.moments import not_yet_come, parse_rfc3339
from hivemon.intake.names import is_id, is_number
from hivemon.intake.ordering import YardOrder
from hivemon.intake.rows import COLUMNS, Parser, Rows
from hivemon.model import Entry, LogEntry, Series, Stream, rfc3339

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from hivemon.model import Millis

Batch = dict[str, dict[Stream, Series]]
"""Yard, then stream, to its readings: strictly ascending in time, without doubles."""
LOGBOOK_COLUMNS = ["time", "hive", "entry", "amount", "note"]
"""The header of a logbook file."""
MOST_AMOUNT = 1000.0
"""A larger amount in a logbook is a slip: kg, or mites in one wash. Our rule."""
_ROWS_AT_A_TIME = 100_000
"""Rows written at once: times as text take a hundred bytes each."""
_BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def read_readings(
    path: Path,
    *,
    rejected: Callable[[int, str, str], None] | None = None,
    progress: Callable[[int], None] | None = None,
    doubled: Callable[[int], None] | None = None,
    latest: Millis | None = None,
    block_bytes: int = BLOCK_BYTES,
) -> Iterator[Batch]:
    """Read a readings file as batches in time order: within a yard, no reading comes at or before an earlier batch's.

    Args:
        path: The file; gzip is told by its content.
        rejected: Called with (line number from 1, reason, the row's text, which may be empty) for each row left out.
        progress: Called with the bytes of the file read so far.
        doubled: Called at the end with the number of rows that only said again what another row said.
        latest: Rows after this moment are left out: they cannot have been measured yet. None: any time is taken.
        block_bytes: Text taken at a time; memory is a few times this and a day of rows.

    Raises:
        InputError: The file cannot be read, is no text in the agreed form, or is cut off.
    """
    say = rejected or _ignore
    parser = Parser(say, latest)
    orders: dict[str, YardOrder] = {}
    block: Block | None = None
    for block in read_blocks(path, block_bytes):
        body = _after_header(block, COLUMNS, path) if block.first == 1 else block
        rows = parser.parse(body)
        batch: Batch = {}
        for yard, part in _by_yard(rows, parser):
            if yard not in orders:
                orders[yard] = YardOrder(parser.meanings, lambda line, reason: say(line, reason, ""))
            if released := orders[yard].push(part):
                batch[yard] = released
        if batch:
            yield batch
        if progress:
            progress(block.consumed)
    if block is None:
        raise InputError(f"{path} is empty", hint=f"its first line must be {','.join(COLUMNS)}")
    last = {yard: left for yard, order in orders.items() if (left := order.finish())}
    if last:
        yield last
    if doubled:
        doubled(sum(order.doubles for order in orders.values()))


def _ignore(line: int, reason: str, text: str) -> None:
    """Take note of nothing: for callers who did not ask."""


def _by_yard(rows: Rows, parser: Parser) -> Iterator[tuple[str, Rows]]:
    """Split rows by yard, keeping their order."""
    names = [yard for yard, _ in parser.meanings]
    yards = list(dict.fromkeys(names))
    if not len(rows.time):
        return
    if len(yards) == 1:
        yield yards[0], rows
        return
    number = np.array([yards.index(name) for name in names])[rows.code]
    for at, yard in enumerate(yards):
        part = rows.where(number == at)
        if len(part.time):
            yield yard, part


def _after_header(block: Block, columns: list[str], path: Path) -> Block:
    """Check the first line and return what follows it; raises InputError saying what to do."""
    text = block.text.removeprefix(_BOM)
    line, _, body = text.partition(b"\n")
    if text.startswith(_UTF16) or b"\0" in line:
        raise InputError(f"{path} is not UTF-8 text", hint="save it as CSV in UTF-8, with commas between the fields")
    wanted = ",".join(columns)
    header = line.decode("utf-8", "replace").rstrip("\r")
    if header.startswith("PK\x03\x04"):
        raise InputError(f"{path} is a spreadsheet, not a CSV", hint=_ANY_TABLE.format(path=path))
    if ";" in header or "\t" in header:
        raise InputError(
            f"{path} has {';' if ';' in header else 'tabs'} between its fields instead of commas",
            hint=f"export it with commas and decimal points, first line {wanted}; or {_ANY_TABLE.format(path=path)}",
        )
    if next(csv.reader([header]), []) != columns:
        raise InputError(f"{path} begins with {header[:80]!r} instead of {wanted}", hint=_mend(header, path))
    return Block(body, block.first + 1, block.consumed)


_ANY_TABLE = "`hivemon import {path}` recognises other people's tables"


def _mend(header: str, path: Path) -> str:
    """Say what to do about a first line that is not the agreed one."""
    own = {",".join(COLUMNS): "--readings", ",".join(LOGBOOK_COLUMNS): "--logbook"}
    if header in own:
        return f"that is the other kind of file: name it with {own[header]}"
    if header[:1].isdigit():
        return "add that line at the top"
    return f"rename or reorder the columns; {_ANY_TABLE.format(path=path)}"


def own_form(path: Path) -> str:
    """Return `readings` or `logbook` for a file in hivemon's own form, by its first line; empty for any other."""
    with opened(path) as (source, _):
        first = source.readline(200).removeprefix(_BOM).rstrip(b"\r\n")
    return {",".join(COLUMNS).encode(): "readings", ",".join(LOGBOOK_COLUMNS).encode(): "logbook"}.get(first, "")


def write_readings(path: Path, batches: Iterable[Batch]) -> int:
    """Write batches as a readings file (gzip where the name ends in .gz), rows by time within a batch; return the rows.

    Where the name ends in .parquet it is a Parquet file with the same columns, `time` as a UTC timestamp in ms. The
    file appears under its name only when it is whole. Raises InputError when it cannot be written.
    """
    if path.suffix == ".parquet":
        return _write_parquet(path, batches)
    written = 0
    with _written(path) as out:
        out.write((",".join(COLUMNS) + "\n").encode())
        for batch in batches:
            for table in _tables(batch):
                texts = table.set_column(0, "time", _texts(table["time"].to_numpy()))
                pa_csv.write_csv(texts, out, pa_csv.WriteOptions(include_header=False, quoting_style="none"))
                written += table.num_rows
    return written


def _write_parquet(path: Path, batches: Iterable[Batch]) -> int:
    import pyarrow.parquet as pa_parquet  # noqa: PLC0415 - slow to load, and seldom wanted

    moment, text = pa.timestamp("ms", "UTC"), pa.string()
    kinds = dict(zip(COLUMNS, (moment, text, text, text, pa.float64()), strict=True))
    written = 0
    with _written(path) as out, pa_parquet.ParquetWriter(out, pa.schema(kinds), compression="zstd") as writer:
        for batch in batches:
            for table in _tables(batch):
                writer.write_table(table.set_column(0, "time", table["time"].cast(moment)))
                written += table.num_rows
    return written


def _tables(batch: Batch) -> Iterator[pa.Table]:
    """Yield a yard's readings as rows by time, some at a time."""
    for yard, streams in batch.items():
        names = list(streams)
        if not names:
            continue
        time = np.concatenate([streams[name].time for name in names])
        value = np.concatenate([streams[name].value for name in names])
        which = np.repeat(np.arange(len(names), dtype=np.int32), [len(streams[name].time) for name in names])
        order = np.argsort(time, kind="stable")
        hives, quantities = [name.hive or "" for name in names], [name.quantity.value for name in names]
        for first in range(0, len(order), _ROWS_AT_A_TIME):
            rows = order[first : first + _ROWS_AT_A_TIME]
            yield pa.table(
                {
                    "time": time[rows],
                    "yard": pa.array([yard] * len(rows)),
                    "hive": pa.DictionaryArray.from_arrays(which[rows], hives).cast(pa.string()),
                    "quantity": pa.DictionaryArray.from_arrays(which[rows], quantities).cast(pa.string()),
                    "value": value[rows],
                },
            )


def _texts(time: NDArray[np.int64]) -> pa.Array:
    """Write moments as RFC 3339 in UTC; milliseconds only where some are not 0."""
    fine = bool((time % 1000).any())
    texts = np.datetime_as_string(time.astype("datetime64[ms]"), unit="ms" if fine else "s")
    return pa.array(np.strings.add(texts, "Z"))


def read_logbook(
    path: Path, *, rejected: Callable[[int, str, str], None] | None = None, latest: Millis | None = None
) -> list[LogEntry]:
    """Read a logbook file, sorted by time.

    Args:
        path: The file; gzip is told by its content.
        rejected: Called with (line number from 1, reason, the row) for each row left out.
        latest: Entries after this moment are left out: they cannot have been done yet. None: any time is taken.

    Raises:
        InputError: The file cannot be read or is not in the agreed form.
    """
    with opened(path) as (source, _):
        raw = source.read()
    body = _after_header(Block(raw, 1, len(raw)), LOGBOOK_COLUMNS, path)
    try:
        rows = csv.reader(io.StringIO(body.text.decode(), newline=""), strict=True)
        entries: list[LogEntry] = []
        line = body.first
        for fields in rows:
            try:
                if fields:
                    entries.append(_entry(fields, latest))
            except Unusable as error:
                (rejected or _ignore)(line, str(error), ",".join(fields))
            line = body.first + rows.line_num
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not UTF-8 text", hint="save it as CSV in UTF-8") from error
    except csv.Error as error:
        raise InputError(f"{path}, line {line}: {error}", hint="look at the quotes in that line") from error
    return sorted(entries, key=lambda entry: entry.time)


def _entry(fields: list[str], latest: Millis | None) -> LogEntry:
    """Check one row of a logbook; raises Unusable."""
    if len(fields) != len(LOGBOOK_COLUMNS):
        comma = ": a note with a comma needs quotes around it" if len(fields) > len(LOGBOOK_COLUMNS) else ""
        raise Unusable(f"has {len(fields)} fields instead of {len(LOGBOOK_COLUMNS)}{comma}")
    moment, hive, entry, amount, note = fields
    if not is_id(hive):
        raise Unusable(f"{hive!r} is no hive id")
    try:
        known = Entry(entry)
    except ValueError:
        near = nearest(entry, list(Entry))
        hint = f"did you mean {near}?" if near else f"known: {', '.join(Entry)}"
        raise Unusable(f"the entry {entry!r} is unknown ({hint})") from None
    try:
        time = parse_rfc3339(moment)
    except ValueError as error:
        raise Unusable(str(error)) from None
    if latest is not None and time > latest:
        raise Unusable(not_yet_come(time))
    if amount and not is_number(amount):
        hint = ": write the decimal point as '.'" if "," in amount else ""
        raise Unusable(f"the amount {amount!r} is no number{hint}")
    if amount and not 0 <= float(amount) <= MOST_AMOUNT:
        raise Unusable(f"the amount {amount} is impossible: from 0 to {MOST_AMOUNT:g} is taken")
    return LogEntry(time=time, hive=hive, entry=known, amount=float(amount) if amount else None, note=note)


def write_logbook(path: Path, entries: Iterable[LogEntry]) -> int:
    """Write a logbook file (gzip where the name ends in .gz) and return the rows; it appears only when it is whole."""
    written = 0
    with _written(path) as out:
        text = io.TextIOWrapper(out, encoding="utf-8", newline="")
        rows = csv.writer(text)  # ends lines with CRLF, as RFC 4180 has it, and so quotes both
        rows.writerow(LOGBOOK_COLUMNS)
        for entry in entries:
            amount = "" if entry.amount is None else f"{entry.amount:.12g}"
            rows.writerow([rfc3339(entry.time), entry.hive, entry.entry.value, amount, entry.note])
            written += 1
        text.flush()
        text.detach()
    return written


@contextmanager
def _written(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing, packed where its name ends in .gz; it appears only when everything is in it."""
    try:
        with whole_file(path) as raw:
            if path.suffix == ".gz":
                with gzip.GzipFile(filename="", mode="wb", fileobj=raw, compresslevel=6, mtime=0) as packed:
                    yield packed  # type: ignore[misc]
            else:
                yield raw  # type: ignore[misc]
    except OSError as error:
        hint = "look at the folder, its rights and its space"
        raise InputError(f"cannot write {path}: {error.strerror}", hint=hint) from error

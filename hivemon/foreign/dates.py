"""Moments as people write them, and what is ambiguous in them.

That is the order of day and month, the zone, the hour that comes twice when summer time ends, and the hour that never
comes when it begins.
"""

from __future__ import annotations

import itertools
import re
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import tzinfo

    from numpy.typing import NDArray

    from hivemon.foreign.sheet import Cell

ORDERS = {"ymd": "year, month, day", "dmy": "day before month", "mdy": "month before day"}
_MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()  # noqa: SIM905 - a row of words
_CLOCK = r"(\d{1,2})[:h](\d{2})(?::(\d{2})(?:[.,](\d{1,6})\d*)?)?\s*([AaPp]\.?[Mm]\.?)?"
_ZONE = r"(Z|UTC|GMT|[+-]\d\d:?\d\d)?"
_NUMERIC = re.compile(rf"(\d{{1,4}})([./-])(\d{{1,2}})\2(\d{{1,4}})\.?(?:[T\s,]+{_CLOCK})?\s*{_ZONE}\Z", re.IGNORECASE)
_DAY_NAMED = re.compile(rf"(\d{{1,2}})\.?[\s-]([A-Za-z]{{3,9}})\.?,?[\s-](\d{{4}})(?:[T\s,]+{_CLOCK})?\s*{_ZONE}\Z")
_NAMED_DAY = re.compile(rf"([A-Za-z]{{3,9}})\.?\s(\d{{1,2}}),?\s(\d{{4}})(?:[T\s,]+{_CLOCK})?\s*{_ZONE}\Z")
_CLOCK_ALONE = re.compile(rf"{_CLOCK}\Z")
_NOON = 12
_CENTURY = 2000


class Written(NamedTuple):
    """A moment as it stands: three numbers of a date in the order they were written, the time of day, the offset.

    `order` is fixed where the writing leaves no choice, else empty. `clock` is None for a date alone. `offset` is in
    minutes from UTC, None where none was written.
    """

    parts: tuple[int, int, int]
    order: str
    year_last: bool
    clock: time | None
    offset: int | None


def written(cell: Cell) -> Written | None:
    """Read a cell as a moment; None when it is none."""
    if isinstance(cell, datetime):
        return Written((cell.year, cell.month, cell.day), "ymd", False, cell.time(), None)
    if not isinstance(cell, str):
        return None
    text = cell.strip()
    if found := _NUMERIC.match(text):
        return _in_numbers(found)
    if found := _DAY_NAMED.match(text):
        day_, name, year, *rest = found.groups()
    elif found := _NAMED_DAY.match(text):
        name, day_, year, *rest = found.groups()
    if found is None or name[:3].lower() not in _MONTHS:
        return None
    return _with_clock((int(year), _MONTHS.index(name[:3].lower()) + 1, int(day_)), "ymd", year_last=False, rest=rest)


def _in_numbers(found: re.Match[str]) -> Written | None:
    first, _, second, third, *rest = found.groups()
    full = [len(part) == 4 for part in (first, third)]  # noqa: PLR2004 - a year in full
    if 3 in (len(first), len(third)) or all(full):  # noqa: PLR2004 - neither a day nor a year
        return None
    parts = (int(first), int(second), int(third))
    return _with_clock(parts, "ymd" if full[0] else "", year_last=full[1], rest=rest)


def _with_clock(
    parts: tuple[int, int, int], order: str, *, year_last: bool, rest: Sequence[str | None]
) -> Written | None:
    *clock, zone = rest
    try:
        hours = None if clock[0] is None else _clock(clock)
    except ValueError:
        return None
    return Written(parts, order, year_last, hours, _offset(zone))


def _clock(groups: Sequence[str | None]) -> time:
    hour, minute, second, fraction, half = groups
    hours = int(hour or 0)
    if half:
        if not 1 <= hours <= _NOON:
            raise ValueError("no hour of a twelve-hour clock")
        hours = hours % _NOON + (_NOON if half[0] in "pP" else 0)
    return time(hours, int(minute or 0), int(second or 0), int((fraction or "0").ljust(6, "0")))


def _offset(zone: str | None) -> int | None:
    if zone is None:
        return None
    if zone[0] not in "+-":
        return 0
    digits = zone[1:].replace(":", "")
    return (int(digits[:2]) * 60 + int(digits[2:])) * (-1 if zone[0] == "-" else 1)


def time_of_day(cell: Cell) -> time | None:
    """Read a cell as a time of day alone; None when it is none."""
    if isinstance(cell, time):
        return cell
    found = _CLOCK_ALONE.match(cell.strip()) if isinstance(cell, str) else None
    try:
        return _clock(found.groups()) if found else None
    except ValueError:
        return None


def day(one: Written, order: str) -> date | None:
    """Return the date meant in an order; None when there is no such day."""
    a, b, c = one.parts
    order = one.order or order
    year, month, dom = {"ymd": (a, b, c), "dmy": (c, b, a), "mdy": (c, a, b)}[order]
    if year < 100:  # noqa: PLR2004 - two digits
        year += _CENTURY
    try:
        return date(year, month, dom)
    except ValueError:
        return None


def orders(moments: Sequence[Written], latest: date) -> list[str]:
    """Return the orders in which every date is a day, and none lies after `latest`; several when it cannot be told."""
    loose = {one.parts: one for one in moments if not one.order}.values()
    if not loose:
        return ["ymd"]
    found = []
    for order in ORDERS:
        if order == "ymd" and any(one.year_last for one in loose):
            continue
        days = {day(one, order) for one in loose}
        if None not in days and max(one for one in days if one is not None) <= latest:
            found.append(order)
    return found


def steadiness(moments: Sequence[Written], order: str) -> float:
    """Return the share of steps from row to row of at most a day either way: in the wrong order days jump by months."""
    days = [found for one in moments if (found := day(one, order)) is not None]
    if len(days) < 2:  # noqa: PLR2004 - no step
        return 1.0
    return float(np.mean([abs((b - a).days) <= 1 for a, b in itertools.pairwise(days)]))


class Placed(NamedTuple):
    """Local times put on the time line: `time` int64 ms UTC of shape (n,), -1 where that cannot be.

    `twice` are the rows whose hour came twice and that nothing tells apart, `never` those whose hour never came.
    """

    time: NDArray[np.int64]
    twice: list[int]
    never: list[int]


def place(local: Sequence[datetime], zone: tzinfo, hour_twice: str, least_back: timedelta) -> Placed:
    """Put local times (without a zone, in the file's order) on the time line of a zone.

    Of an hour that came twice, rows before the clock jumps back in the file are the first, rows after it the second.
    A step back of `least_back` or more is that jump. Where the file does not show it, `hour_twice` decides: `first`,
    `second`, `skip`, or empty for not yet known.
    """
    time_ = np.full(len(local), -1, np.int64)
    unclear: list[int] = []
    never: list[int] = []
    run: list[int] = []
    for number, moment in enumerate(local):
        first, second = moment.replace(tzinfo=zone, fold=0), moment.replace(tzinfo=zone, fold=1)
        if first.utcoffset() == second.utcoffset():
            time_[number] = _millis(first)
            unclear += _settle(run, local, zone, time_, least_back)
            run = []
        elif first.astimezone(UTC).astimezone(zone).replace(tzinfo=None, fold=0) != moment:
            never.append(number)
        else:
            run.append(number)
    unclear += _settle(run, local, zone, time_, least_back)
    if hour_twice in ("first", "second"):
        for number in unclear:
            time_[number] = _millis(local[number].replace(tzinfo=zone, fold=int(hour_twice == "second")))
    return Placed(time_, unclear, never)


def _settle(
    run: list[int], local: Sequence[datetime], zone: tzinfo, time_: NDArray[np.int64], least_back: timedelta
) -> list[int]:
    """Put rows of an hour that came twice where the jump back shows; return those where it does not show."""
    steps = enumerate(itertools.pairwise(run), start=1)
    back = next((at for at, (a, b) in steps if local[a] - local[b] >= least_back), None)
    if back is None:
        return run
    for at, number in enumerate(run):
        time_[number] = _millis(local[number].replace(tzinfo=zone, fold=int(at >= back)))
    return []


def fixed_zone(text: str) -> timezone | None:
    """Read `+01:00` as a zone; None when it is none."""
    found = re.fullmatch(r"[+-]\d\d:?\d\d", text.strip())
    return timezone(timedelta(minutes=_offset(text.strip()) or 0)) if found else None


def _millis(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)

"""When the rows of a foreign table were measured: order of the date, zone, summer time; asked where not to be told."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from hivemon.errors import InputError, UsageError
from hivemon.foreign.choices import Question
from hivemon.foreign.dates import ORDERS, Written, day, fixed_zone, orders, place, steadiness, time_of_day, written
from hivemon.foreign.figures import number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from hivemon.foreign.choices import Choices
    from hivemon.foreign.layout import Layout

_STEP = timedelta(minutes=20)
"""In a long table sensors' times mingle; only a larger step back is the clock's. Our rule."""
NEVER = -1
"""Stands for a row that has no time."""


class Timing(NamedTuple):
    """When each row was measured: `time` int64 ms UTC of shape (rows,), NEVER where there is none.

    `order` and `zone` say how it was read; `zone` is None where every time carries its own. `never` are rows whose hour
    never came, `twice` those of an hour that came twice that the file does not tell apart.
    """

    order: str
    zone: tzinfo | None
    time: NDArray[np.int64]
    never: list[int]
    twice: list[int]


def find_timing(layout: Layout, own_zone: str, choices: Choices, latest: date, asked: list[Question]) -> Timing:
    """Put every row on the time line, as far as it can be told; what cannot is added to `asked`."""
    cells = [row[layout.moment] for row in layout.body]
    if layout.unix:
        counted = [number(cell, ".") for cell in cells]
        times = [NEVER if one is None else round(one * layout.unix) for one in counted]
        return Timing("", None, np.array(times, np.int64), [], [])
    found = [written(cell) for cell in cells]
    order = _order([one for one in found if one is not None], choices, latest, asked)
    clocks = [time_of_day(row[layout.clock]) for row in layout.body] if layout.clock is not None else None
    local = [_local(one, order, None if clocks is None else clocks[at]) for at, one in enumerate(found)]
    offsets = {one.offset for one in found if one is not None}
    if offsets and None not in offsets:
        times = [_absolute(at, one) for at, one in zip(local, found, strict=True)]
        return Timing(order, None, np.array(times, np.int64), [], [])
    zone = _zone(own_zone, choices, asked)
    rows = [at for at, moment in enumerate(local) if moment is not None]
    falling = sum(local[b] < local[a] for a, b in itertools.pairwise(rows)) * 2 > len(rows)  # type: ignore[operator]
    rows = rows[::-1] if falling else rows
    least = _STEP if layout.is_long else timedelta()
    placed = place([moment for at in rows if (moment := local[at]) is not None], zone, choices.hour_twice, least)
    time_ = np.full(len(local), NEVER, np.int64)
    time_[rows] = placed.time
    if placed.twice and not choices.hour_twice:
        asked.append(_ask_twice([local[rows[at]] for at in placed.twice], zone))
    never, twice = (sorted(rows[at] for at in found_) for found_ in (placed.never, placed.twice))
    return Timing(order, zone, time_, never, twice)


def _ask_twice(moments: Sequence[datetime | None], zone: tzinfo) -> Question:
    text = (
        f"{len(moments)} rows lie in the hour that came twice when the clocks of {zone} were put back (first: "
        f"{moments[0]:%Y-%m-%d %H:%M}), and nothing in the file tells the first from the second: which is it?"
    )
    return Question("--hour-twice", "", text, ("first", "second", "skip"), "")


def _local(one: Written | None, order: str, clock: time | None) -> datetime | None:
    """Join date and time of day; None where either is missing."""
    found = day(one, order) if one is not None else None
    at = clock or (one.clock if one is not None else None) or time()
    return datetime.combine(found, at) if found is not None else None


def _absolute(local: datetime | None, one: Written | None) -> int:
    if local is None or one is None or one.offset is None:
        return NEVER
    return round((local.replace(tzinfo=UTC) - timedelta(minutes=one.offset)).timestamp() * 1000)


def _order(moments: Sequence[Written], choices: Choices, latest: date, asked: list[Question]) -> str:
    """Find the order of day, month and year, or ask; raises UsageError for one that does not fit."""
    fitting = orders(moments, latest)
    if choices.order and any(not one.order for one in moments):
        bad = next((one for one in moments if day(one, choices.order) is None), None)
        if bad is not None:
            shown = "/".join(str(part) for part in bad.parts)
            raise UsageError(f"--date-order {choices.order}: {shown} is then no day", hint="try another order")
        return choices.order
    if not fitting:
        raise InputError(
            "the dates fit no order: some have the day first and some the month, or lie in the future",
            hint="look at the first column of times; correct or leave out the odd ones",
        )
    if len(fitting) > 1:
        asked.append(_ask_order(next(one for one in moments if not one.order), moments, fitting))
    return fitting[0]


def _ask_order(first: Written, moments: Sequence[Written], fitting: Sequence[str]) -> Question:
    meant = ", ".join(f"{day(first, order):%-d %B %Y} ({order}: {ORDERS[order]})" for order in fitting)
    smooth = {order: steadiness(moments, order) for order in fitting}
    best = max(fitting, key=lambda order: smooth[order])
    clear = len(moments) > 2 and smooth[best] > 0.9 and sorted(smooth.values())[-2] < 0.5  # noqa: PLR2004 - a majority
    hint = f" Read as {best} the rows follow each other day by day; else they jump." if clear else ""
    text = f"{'/'.join(str(part) for part in first.parts)} may be {meant}.{hint}"
    return Question("--date-order", "", text, tuple(fitting), best if clear else "")


def _zone(own_zone: str, choices: Choices, asked: list[Question]) -> tzinfo:
    """Return the zone a person named, or ask, with the yard's own as the proposal."""
    if not choices.zone:
        text = (
            f"The times say no zone. Is it the clock on the wall ({own_zone}, with summer time), UTC, or a clock "
            "without summer time, like +01:00?"
        )
        asked.append(Question("--time-zone", "", text, (own_zone, "UTC", "+01:00"), own_zone))
        return ZoneInfo(own_zone)
    if fixed := fixed_zone(choices.zone):
        return fixed
    try:
        return ZoneInfo(own_zone if choices.zone == "yard" else choices.zone)
    except (KeyError, ValueError, OSError) as error:
        hint = "write yard, UTC, Europe/Brussels or +01:00"
        raise UsageError(f"--time-zone {choices.zone}: no such zone", hint=hint) from error

"""The first page: what needs doing, and every hive in order of need with one line and one small curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hivemon.model import DAY, HOUR, MINUTE, Quantity, Stream
from hivemon.morning import hive_morning, last_night, standing
from hivemon.pages.advised import advised
from hivemon.pages.hives import Page, in_order_of_need
from hivemon.pages.many import by_yard_and_kind, silent
from hivemon.store import Answer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import HiveSettings, Settings, YardSettings
    from hivemon.model import HiveDay, Millis, Series
    from hivemon.pages.advised import Advised
    from hivemon.pages.hives import Needy
    from hivemon.store import Store

CURVE_DAYS = 14
"""Hive days in a small curve: enough to see a flow begin or end."""


def today(settings: Settings, store: Store, *, page: int, clock: Millis) -> dict[str, Any]:
    """Return the first page: `clock` is now; the yards' newest readings say how fresh it is."""
    found = advised(settings, store, None, clock)
    hives = in_order_of_need(settings, store, found)
    shared = [one for one in found if one.advisory.hive is None and not one.settled]
    part = Page.of(len(hives), page)
    shown = hives[part.slice()]
    newest = {yard.id: store.newest(yard.id) for yard in settings.yard}
    lines: dict[tuple[str, str], dict[str, Any]] = {}
    for yard in settings.yard:
        lines |= _lines(
            settings, store, yard, [hive for hive in shown if hive.settings.yard == yard.id], newest[yard.id]
        )
    return {
        "clock": clock,
        "yards": [_yard(yard, newest[yard.id], shared) for yard in settings.yard],
        "hives": [lines[hive.settings.yard, hive.settings.id] for hive in shown],
        "wanted": sum(hive.wanted for hive in hives),
        "seen": sum(one.answer is Answer.SEEN for hive in hives for one in hive.open)
        + sum(one.answer is Answer.SEEN for one in shared),
        "tasks": by_yard_and_kind(settings, hives),
        "silent": silent(store, [hive.settings for hive in hives], newest, clock),
        "page": part.number,
        "pages": part.pages,
        "total": part.total,
    }


def _yard(yard: YardSettings, newest: Millis | None, shared: Sequence[Advised]) -> dict[str, Any]:
    return {
        "id": yard.id,
        "name": yard.title,
        "timezone": yard.timezone,
        "newest": newest,
        "news": [one.brief() for one in shared if one.advisory.yard == yard.id],
    }


def _lines(
    settings: Settings, store: Store, yard: YardSettings, hives: Sequence[Needy], newest: Millis | None
) -> dict[tuple[str, str], dict[str, Any]]:
    """Return the lines of one yard's hives by (yard, hive)."""
    since = None if newest is None else newest - (CURVE_DAYS + 1) * DAY
    days = {hive.settings.id: store.hive_days(yard.id, hive.settings.id, since) for hive in hives}
    night = last_night([day for found in days.values() for day in found])
    heard = store.heard(yard.id) if hives else {}
    weights = _latest_weights(store, yard.id, [hive.settings for hive in hives], newest)
    return {
        (yard.id, hive.settings.id): {
            "yard": yard.id,
            "hive": hive.settings.id,
            **_line(settings, hive, days[hive.settings.id], night),
            "heard": heard.get(hive.settings.id),
            "weight": weights.get(hive.settings.id),
            "curve": small_curve(days[hive.settings.id]),
        }
        for hive in hives
    }


def _line(settings: Settings, hive: Needy, days: Sequence[HiveDay], night: str | None) -> dict[str, Any]:
    by_date = {day.date: day for day in days}
    last = by_date.get(night) if night else None
    morning = hive_morning(hive.settings, by_date, night, hive.advisories, settings.rules.flow)
    return {
        "name": hive.settings.title,
        "urgency": hive.urgency.value if hive.urgency else None,
        "wanted": hive.wanted,
        "answer": hive.first.answer if hive.first else None,
        "late": bool(hive.first and hive.first.late),
        "title": hive.first.advisory.title if hive.first else None,
        "verdict": morning.verdict,
        "state": None if hive.open else standing(last, morning.trend, settings.rules.flow).value,
        "do_by": hive.first.advisory.do_by if hive.first else None,
        "more": max(len(hive.open) - 1, 0),
        "overnight": morning.overnight_change,
        "yesterday": morning.net_gain,
        "trend": morning.trend,
    }


def _latest_weights(store: Store, yard: str, hives: Sequence[HiveSettings], newest: Millis | None) -> dict[str, float]:
    """Return each hive's newest weight of the yard's last day, kg."""
    if newest is None or not hives:
        return {}
    wanted = {Stream(hive.id, Quantity.WEIGHT) for hive in hives}
    found: dict[Stream, Series] = {}
    for back in (10 * MINUTE, HOUR, DAY):
        missing = wanted - set(found)
        if missing:
            found |= store.series(yard, since=newest - back, streams=missing)
    return {str(stream.hive): round(float(series.value[-1]), 2) for stream, series in found.items()}


def small_curve(days: Sequence[HiveDay]) -> list[list[float | None]]:
    """Return a hive's weights at dawn and dusk as [times, kg]: handling shows, a day's noise does not."""
    points = [
        point for day in days[-CURVE_DAYS:] for point in ((day.start, day.dawn_weight), (day.dusk, day.dusk_weight))
    ]
    if days:
        points.append((days[-1].end, days[-1].end_weight))
    return [[time for time, _ in points], [None if kg is None else round(kg, 2) for _, kg in points]]

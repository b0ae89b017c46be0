"""A yard's hives side by side, day by day: what all do at once is weather or forage, what one does alone is its own."""

from __future__ import annotations

import statistics
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from hivemon.model import DAY, Kind
from hivemon.pages.advised import advised
from hivemon.pages.hives import Page, in_order_of_need
from hivemon.pages.refusal import Refusal
from hivemon.pages.story import event_view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings
    from hivemon.model import HiveDay, Millis
    from hivemon.store import Store

DAYS = 28
"""Days side by side."""
_KINDS = (Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET, Kind.DEARTH_END)


def comparison(settings: Settings, store: Store, yard: str, *, page: int, clock: Millis) -> dict[str, Any]:
    """Return each hive's net gain of the last days, kg, and the yard's median; raises Refusal for no such yard.

    The median is over the hives of this page, which is the whole yard up to its size.
    """
    place = next((place for place in settings.yard if place.id == yard), None)
    if place is None:
        raise Refusal(f"there is no yard {yard!r}", code="no-yard", hint="the first page leads to them all")
    open_now = advised(settings, store, yard, clock)
    hives = in_order_of_need(settings, store, open_now, yard)
    part = Page.of(len(hives), page)
    newest = store.newest(yard) or clock
    since = newest - (DAYS + 1) * DAY
    days = {hive.settings.id: store.hive_days(yard, hive.settings.id, since) for hive in hives[part.slice()]}
    dates = _dates([day for found in days.values() for day in found])
    gains = {hive: _gains(found, dates) for hive, found in days.items()}
    shared = [e for kind in _KINDS for e in store.events(yard, kind=kind, withdrawn=False) if e.onset >= since]
    return {
        "clock": clock,
        "yard": {"id": yard, "name": place.title, "timezone": place.timezone, "newest": newest},
        "advisories": [one.view() for one in open_now if one.advisory.hive is None],
        "dates": dates,
        "median": [_median([gains[hive][n] for hive in gains]) for n in range(len(dates))],
        "hives": [
            {
                "hive": hive.settings.id,
                "name": hive.settings.title,
                "urgency": hive.urgency.value if hive.urgency else None,
                "answer": hive.first.answer if hive.first else None,
                "late": bool(hive.first and hive.first.late),
                "gains": gains[hive.settings.id],
                "weight": _last([day.end_weight for day in days[hive.settings.id]]),
                "temperature": _last([day.temperature_mean for day in days[hive.settings.id]]),
            }
            for hive in hives[part.slice()]
        ],
        "events": [event_view(event) for event in sorted(shared, key=lambda e: (e.onset, e.id))],
        "page": part.number,
        "pages": part.pages,
        "total": part.total,
    }


def _dates(days: Sequence[HiveDay]) -> list[str]:
    """Return the last days' dates without a hole, up to the newest that any hive has."""
    newest = max((day.date for day in days), default=None)
    if newest is None:
        return []
    oldest = min(day.date for day in days)
    last = date.fromisoformat(newest)
    found = [(last - timedelta(days=back)).isoformat() for back in range(DAYS - 1, -1, -1)]
    return [day for day in found if day >= oldest]


def _gains(days: Sequence[HiveDay], dates: Sequence[str]) -> list[float | None]:
    by_date = {day.date: day.net_gain for day in days}
    return [None if (gain := by_date.get(day)) is None else round(gain, 2) for day in dates]


def _median(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return round(statistics.median(known), 2) if known else None


def _last(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return round(known[-1], 2) if known else None

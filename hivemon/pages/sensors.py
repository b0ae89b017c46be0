"""What every sensor last said, and whether it can be believed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from hivemon.model import UNITS, Kind, Quantity
from hivemon.pages.hives import Page, every_hive
from hivemon.pages.story import event_view

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import Settings
    from hivemon.model import Event, Millis, Stream
    from hivemon.store import Store

PER_PAGE = 50
_RECENT = 10
"""Faults told for one place: the newest ones."""
_OVER = "until_ms"
"""A fault whose evidence has this is over."""
_ORDER = list(Quantity)


def sensors(settings: Settings, store: Store, *, page: int, clock: Millis) -> dict[str, Any]:
    """Return the yards' own sensors and each hive's: the newest reading of every quantity and the faults that stand."""
    places: list[tuple[str, str | None, str]] = []
    for yard in settings.yard:
        places += [(yard.id, None, yard.title)]
        places += [(yard.id, hive.id, hive.title) for hive in every_hive(settings, store, yard.id)]
    part = Page.of(len(places), page, PER_PAGE)
    shown = places[part.slice(PER_PAGE)]
    here = sorted({yard for yard, _, _ in shown})
    latest = {yard: store.latest(yard) for yard in here}
    faults = {yard: store.events(yard, kind=Kind.SENSOR_FAULT, withdrawn=False) for yard in here}
    return {
        "clock": clock,
        "yards": [{"id": yard.id, "name": yard.title, "timezone": yard.timezone} for yard in settings.yard],
        "places": [_place(place, latest[place[0]], faults[place[0]]) for place in shown],
        "low_battery": settings.rules.sensors.low_battery_volts,
        "set_aside": store.quarantine_count(),
        "page": part.number,
        "pages": part.pages,
        "total": part.total,
    }


def _place(
    place: tuple[str, str | None, str], latest: dict[Stream, tuple[Millis, float]], faults: Sequence[Event]
) -> dict[str, Any]:
    yard, hive, name = place
    standing = [event for event in faults if event.hive == hive and _OVER not in event.evidence]
    return {
        "yard": yard,
        "hive": hive,
        "name": name,
        "streams": [
            {"quantity": stream.quantity.value, "unit": UNITS[stream.quantity], "time": time, "value": round(value, 3)}
            for stream, (time, value) in sorted(latest.items(), key=lambda item: _ORDER.index(item[0].quantity))
            if stream.hive == hive
        ],
        "faults": [event_view(event) for event in standing[-_RECENT:][::-1]],
    }

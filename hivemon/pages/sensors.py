"""What every sensor last said, and whether it can be believed; those to look at first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from hivemon.model import HOUR, UNITS, Kind, Millis, Quantity
from hivemon.pages.hives import Page, every_hive
from hivemon.pages.story import event_view

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.model import Event, Stream
    from hivemon.store import Store

PER_PAGE = 50
SILENT: Millis = 3 * HOUR
"""Silent so much longer than the others of its yard, a place is looked at first. Our rule."""
_RECENT = 10
"""Faults told for one place: the newest ones."""
_OVER = "until_ms"
"""A fault whose evidence has this is over."""
_ORDER = list(Quantity)


def sensors(settings: Settings, store: Store, *, page: int, clock: Millis) -> dict[str, Any]:
    """Return the yards' own sensors and each hive's: the newest reading of every quantity and the faults that stand."""
    faults = {yard.id: _standing(store, yard.id) for yard in settings.yard}
    places = _places(settings, store)
    troubled = _troubled(store, places, faults)
    places.sort(key=lambda place: place not in troubled)
    part = Page.of(len(places), page, PER_PAGE)
    shown = places[part.slice(PER_PAGE)]
    latest = {yard: store.latest(yard) for yard in {place.yard for place in shown}}
    return {
        "clock": clock,
        "yards": [{"id": yard.id, "name": yard.title, "timezone": yard.timezone} for yard in settings.yard],
        "places": [_place(place, latest[place.yard], faults[place.yard]) for place in shown],
        "troubled": len(troubled),
        "low_battery": settings.rules.sensors.low_battery_volts,
        "set_aside": store.quarantine_count(),
        "page": part.number,
        "pages": part.pages,
        "total": part.total,
    }


class Place(NamedTuple):
    """Where sensors are: a hive, or (None) the yard itself."""

    yard: str
    hive: str | None
    name: str


def _places(settings: Settings, store: Store) -> list[Place]:
    """Return each yard and its hives, in the order of the configuration."""
    hives: dict[str, list[Place]] = {yard.id: [Place(yard.id, None, yard.title)] for yard in settings.yard}
    for hive in every_hive(settings, store):
        hives[hive.yard].append(Place(hive.yard, hive.id, hive.title))
    return [place for found in hives.values() for place in found]


def _standing(store: Store, yard: str) -> list[Event]:
    """Return a yard's faults that are not over."""
    faults = store.events(yard, kind=Kind.SENSOR_FAULT, withdrawn=False)
    return [event for event in faults if _OVER not in event.evidence]


def _troubled(store: Store, places: Sequence[Place], faults: Mapping[str, Sequence[Event]]) -> set[Place]:
    """Return the places to look at: with a fault that stands, never heard, or silent while their yard speaks."""
    heard = {yard: store.heard(yard) for yard in faults}
    newest = {yard: max(times.values(), default=0) for yard, times in heard.items()}
    faulty = {(event.yard, event.hive) for found in faults.values() for event in found}

    def silent(place: Place) -> bool:
        if place.hive is None:
            return False
        last = heard[place.yard].get(place.hive)
        return last is None or newest[place.yard] - last > SILENT

    return {place for place in places if (place.yard, place.hive) in faulty or silent(place)}


def _place(place: Place, latest: dict[Stream, tuple[Millis, float]], standing: Sequence[Event]) -> dict[str, Any]:
    return {
        **place._asdict(),
        "streams": [
            {"quantity": stream.quantity.value, "unit": UNITS[stream.quantity], "time": time, "value": round(value, 3)}
            for stream, (time, value) in sorted(latest.items(), key=lambda item: _ORDER.index(item[0].quantity))
            if stream.hive == place.hive
        ],
        "faults": [event_view(event) for event in standing if event.hive == place.hive][-_RECENT:][::-1],
    }

"""Which hives there are, in order of need, a page at a time. Reads the store; no clock."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import Urgency
from hivemon.morning import URGENCY_ORDER, in_reading_order
from hivemon.pages.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import HiveSettings, Settings
    from hivemon.model import Advisory, Millis
    from hivemon.store import Store

PER_PAGE = 24
"""Hives on one page: more than that nobody reads on a phone, and no page grows with the number of hives."""

_LEAST = len(URGENCY_ORDER)


class Needy(NamedTuple):
    """A hive with its open advisories in reading order."""

    settings: HiveSettings
    advisories: Sequence[Advisory]

    @property
    def urgency(self) -> Urgency | None:
        """The most urgent advisory's, or None."""
        return self.advisories[0].urgency if self.advisories else None

    @property
    def wanted(self) -> bool:
        """Whether something should be done."""
        return self.urgency not in (None, Urgency.FOR_INFORMATION)


def in_order_of_need(settings: Settings, store: Store, yard: str | None = None) -> list[Needy]:
    """Return every hive, configured or adopted, the neediest first; those in no need as the configuration has them."""
    by_hive: dict[tuple[str, str], list[Advisory]] = {}
    for advisory in store.advisories(yard, open_only=True):
        if advisory.hive is not None:
            by_hive.setdefault((advisory.yard, advisory.hive), []).append(advisory)
    hives = every_hive(settings, store, yard)
    found = [Needy(hive, in_reading_order(by_hive.get((hive.yard, hive.id), ()))) for hive in hives]
    return sorted(found, key=_need)


def _need(hive: Needy) -> tuple[int, bool, Millis]:
    """Sort key: urgency, then what must be done first."""
    if not hive.advisories:
        return _LEAST, True, 0
    first = hive.advisories[0]
    return URGENCY_ORDER[first.urgency], first.do_by is None, first.do_by or 0


def every_hive(settings: Settings, store: Store, yard: str | None = None) -> list[HiveSettings]:
    """Return the configured hives in their order, then the adopted ones by id; `yard` None: of all yards."""
    known = {(hive.yard, hive.id) for hive in settings.hive}
    places = {place.id for place in settings.yard}
    adopted = sorted((a.yard, a.hive) for a in store.adopted() if (a.yard, a.hive) not in known and a.yard in places)
    hives = [*settings.hive, *(settings.find_hive(hive, place) for place, hive in adopted)]
    return [hive for hive in hives if yard in (None, hive.yard)]


def find(settings: Settings, store: Store, yard: str, hive: str) -> HiveSettings:
    """Return a hive of a yard; raises Refusal when neither the configuration nor the store knows it."""
    for candidate in every_hive(settings, store, yard):
        if candidate.id == hive:
            return candidate
    raise Refusal(f"there is no hive {hive!r} in yard {yard!r}", code="no-hive", hint="the first page lists them all")


class Page(NamedTuple):
    """A part of a list: `number` from 0 of `pages`, `total` things in all."""

    number: int
    pages: int
    total: int

    @classmethod
    def of(cls, total: int, number: int, size: int = PER_PAGE) -> Page:
        """Return the page asked for, or the last where there are fewer."""
        pages = max(-(-total // size), 1)
        return cls(min(max(number, 0), pages - 1), pages, total)

    def slice(self, size: int = PER_PAGE) -> slice:
        """Return which part of the list it is."""
        return slice(self.number * size, (self.number + 1) * size)

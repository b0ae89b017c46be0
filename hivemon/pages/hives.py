"""Which hives there are, in order of need, a page at a time. Reads the store; no clock."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.morning import URGENCY_ORDER
from hivemon.pages.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from hivemon.config import HiveSettings, Settings
    from hivemon.model import Advisory, Urgency
    from hivemon.pages.advised import Advised
    from hivemon.store import Store

PER_PAGE = 24
"""Hives on one page: more than that nobody reads on a phone, and no page grows with the number of hives."""

_LEAST = len(URGENCY_ORDER)


class Needy(NamedTuple):
    """A hive with its open advisories that are not settled, what asks first."""

    settings: HiveSettings
    open: Sequence[Advised]

    @property
    def first(self) -> Advised | None:
        """What must be done first, or None."""
        return self.open[0] if self.open else None

    @property
    def advisories(self) -> list[Advisory]:
        """The advisories alone."""
        return [one.advisory for one in self.open]

    @property
    def urgency(self) -> Urgency | None:
        """The most urgent advisory's that asks, or that of news; None where everything was answered."""
        return self.first.advisory.urgency if self.first and self.first.answer is None else None

    @property
    def wanted(self) -> bool:
        """Whether something should be done that nobody has answered."""
        return self.first is not None and self.first.asks


def in_order_of_need(
    settings: Settings, store: Store, found: Iterable[Advised], yard: str | None = None
) -> list[Needy]:
    """Return every hive, configured or adopted, the neediest first; those in no need as the configuration has them.

    `found`: the open advisories of the yard, or of all.
    """
    by_hive: dict[tuple[str, str], list[Advised]] = {}
    for one in found:
        if one.advisory.hive is not None and not one.settled:
            by_hive.setdefault((one.advisory.yard, one.advisory.hive), []).append(one)
    hives = [Needy(hive, by_hive.get((hive.yard, hive.id), ())) for hive in every_hive(settings, store, yard)]
    return sorted(hives, key=lambda hive: hive.first.need if hive.first else (_LEAST, True, 0))


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

"""Many hives as a yard manager reads them: what each yard's hives want, by kind, and which are not heard. No clock."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from hivemon.morning import STALE, URGENCY_ORDER
from hivemon.notify.answers import topic_of
from hivemon.pages.advised import advised
from hivemon.pages.hives import in_order_of_need

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from hivemon.config import HiveSettings, Settings
    from hivemon.model import Millis
    from hivemon.pages.advised import Advised
    from hivemon.pages.hives import Needy
    from hivemon.store import Store

NAMED = 12
"""Hives named one by one; a page of the yard has them all."""
_WHEN = ["late", *(urgency.value for urgency in URGENCY_ORDER)]


def by_yard_and_kind(settings: Settings, hives: Iterable[Needy]) -> list[dict[str, Any]]:
    """Return for each yard and kind of advice how many of its hives are late, are due now, today, this week.

    In order of need: the yard and the kind whose hives are in most need first.
    """
    found: dict[tuple[str, str], dict[str, list[HiveSettings]]] = {}
    for hive in hives:
        for one in hive.open:
            if one.asks:
                parts = found.setdefault((hive.settings.yard, topic_of(one.advisory.id)), {})
                parts.setdefault(_when(one), []).append(hive.settings)
    places = {yard.id: yard.title for yard in settings.yard}
    return [
        {
            "yard": yard,
            "name": places[yard],
            "kind": kind,
            "parts": [_part(when, parts[when]) for when in _WHEN if when in parts],
        }
        for (yard, kind), parts in found.items()
    ]


def _when(one: Advised) -> str:
    return "late" if one.late else one.advisory.urgency.value


def _part(when: str, hives: list[HiveSettings]) -> dict[str, Any]:
    once = {hive.id: hive.title for hive in hives}
    named = [{"hive": hive, "name": name} for hive, name in list(once.items())[:NAMED]]
    return {"when": when, "total": len(once), "hives": named}


def silent(
    store: Store, hives: Iterable[HiveSettings], newest: Mapping[str, Millis | None], clock: Millis
) -> list[dict[str, Any]]:
    """Return the hives that are not heard although their yard is, those silent longest first.

    `newest`: yard -> its newest reading. Where a whole yard is silent, that is said of the yard.
    """
    speaking = {yard: last for yard, last in newest.items() if last is not None and clock - last <= STALE}
    heard = {yard: store.heard(yard) for yard in speaking}
    found = [
        {"yard": hive.yard, "hive": hive.id, "name": hive.title, "heard": heard[hive.yard].get(hive.id)}
        for hive in hives
        if hive.yard in speaking and speaking[hive.yard] - heard[hive.yard].get(hive.id, 0) > STALE
    ]
    return sorted(found, key=lambda one: one["heard"] or 0)


def yards(settings: Settings, store: Store, *, clock: Millis) -> dict[str, Any]:
    """Return every yard with how many hives it has and how many of them need the beekeeper, in the file's order."""
    found = advised(settings, store, None, clock)
    hives = in_order_of_need(settings, store, found)
    newest = {yard.id: store.newest(yard.id) for yard in settings.yard}
    count = Counter(hive.settings.yard for hive in hives)
    wanted = Counter(hive.settings.yard for hive in hives if hive.wanted)
    quiet = Counter(one["yard"] for one in silent(store, [hive.settings for hive in hives], newest, clock))
    asks = {one.advisory.yard for one in found if one.advisory.hive is None and one.asks}
    return {
        "clock": clock,
        "yards": [
            {
                "id": yard.id, "name": yard.title, "timezone": yard.timezone, "newest": newest[yard.id],
                "hives": count[yard.id], "wanted": wanted[yard.id], "silent": quiet[yard.id],
                "asks": yard.id in asks,
            }
            for yard in settings.yard
        ],
    }  # fmt: skip

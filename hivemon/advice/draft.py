"""Put an advisory together: its id from its condition, its times from the scene."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from hivemon.advice.words import day, say, weekday
from hivemon.model import Advisory, Event, Millis, Urgency

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from hivemon.advice.scene import Scene

_NAMED = 3
"""Parts of an id that name topic, yard and hive."""


def condition(topic: str, yard: str, hive: str | None, *key: str) -> str:
    """Name a condition. The same condition always has the same name; `key` sets one episode apart from the next.

    The lifecycle turns it into an id by adding `@` and the moment it was raised.
    """
    return ":".join((topic, yard, hive or "", *key)).replace("@", "_")


def short_names(ids: Iterable[str]) -> dict[str, str]:
    """Return for each advisory's id what a person need type: topic, yard and hive, and more where others share that."""
    beginnings = {i: _beginnings(i) for i in ids}
    shared = Counter(beginning for found in beginnings.values() for beginning in found)
    return {i: next((b for b in found if shared[b] == 1), i) for i, found in beginnings.items()}


def _beginnings(advisory_id: str) -> list[str]:
    """Return the beginnings of an id, shortest first: topic, yard and hive, then with each part of its key."""
    parts = advisory_id.partition("@")[0].split(":")
    return [":".join(parts[:count]).rstrip(":") for count in range(min(_NAMED, len(parts)), len(parts) + 1)]


def held(scene: Scene, name: str, do_by: Millis) -> Millis:
    """Return the do-by that was given when this was first asked, unless the new one is sooner: it must not slide."""
    standing = scene.standing(name)
    return do_by if standing is None or standing.do_by is None else min(standing.do_by, do_by)


def _on_no_visiting_day(scene: Scene, urgency: Urgency, do_by: Millis | None) -> list[str]:
    """Say that a day is none of the beekeeper's, where the bees cannot wait for one of those."""
    days, asks = scene.yard.visit_days, urgency in (Urgency.TODAY, Urgency.THIS_WEEK)
    if not days or not asks or do_by is None or weekday(do_by, scene.yard.zone) in days:
        return []
    by = day(do_by, scene.yard.zone)
    return [say("{day} is none of your visiting days, but later may be too late. Can someone near do it?", day=by)]


def draft(  # noqa: PLR0913 - these are the fields of an advisory, no more
    scene: Scene,
    name: str,
    hive: str | None,
    *,
    urgency: Urgency,
    title: str,
    saw: str,
    means: str,
    could_also_be: Sequence[str] = (),
    do: Sequence[str] = (),
    do_by: Millis | None = None,
    cautions: Sequence[str] = (),
    events: Sequence[Event] = (),
    closed: bool = False,
) -> Advisory:
    """Return what is wanted about the condition `name`; `closed`: the words to close it with, if open."""
    return Advisory(
        id=name,
        yard=scene.yard.id,
        hive=hive,
        raised=scene.now,
        updated=scene.now,
        closed=scene.now if closed else None,
        urgency=urgency,
        title=title,
        saw=saw,
        means=means,
        could_also_be=list(could_also_be),
        do=[*do, *_on_no_visiting_day(scene, urgency, do_by)],
        do_by=do_by,
        cautions=list(cautions),
        events=[e.id for e in events],
    )

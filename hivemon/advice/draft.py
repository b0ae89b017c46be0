"""Put an advisory together: its id from its condition, its times from the scene."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import Advisory, Event, Millis, Urgency

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.advice.scene import Scene


def condition(topic: str, yard: str, hive: str | None, *key: str) -> str:
    """Name a condition. The same condition always has the same name; `key` sets one episode apart from the next.

    The lifecycle turns it into an id by adding `@` and the moment it was raised.
    """
    return ":".join((topic, yard, hive or "", *key)).replace("@", "_")


def held(scene: Scene, name: str, do_by: Millis) -> Millis:
    """Return the do-by that was given when this was first asked, unless the new one is sooner: it must not slide."""
    standing = scene.standing(name)
    return do_by if standing is None or standing.do_by is None else min(standing.do_by, do_by)


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
        do=list(do),
        do_by=do_by,
        cautions=list(cautions),
        events=[e.id for e in events],
    )

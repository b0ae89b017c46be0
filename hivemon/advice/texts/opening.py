"""Words for what waits until robbers are gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.words import say, start

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


def _count(place: str) -> str:
    return start(say("{place}: count the mites, but not before the robbing is over", place=place))


def _count_again(place: str) -> str:
    return start(say("{place}: count the mites again, but not before the robbing is over", place=place))


def _room(place: str) -> str:
    return start(say("{place}: see that the queen has room, but not before the robbing is over", place=place))


def _look(place: str) -> str:
    return start(say("{place} falls behind: look at it, but not before the robbing is over", place=place))


def _eggs(place: str) -> str:
    return start(say("{place}: look for eggs, but not before the robbing is over", place=place))


WAITING: Mapping[str, Callable[[str], str]] = {
    "count-mites": _count,
    "recheck-mites": _count_again,
    "nest-room": _room,
    "weak": _look,
    "after-swarm": _eggs,
    "brood": _eggs,
}
"""The topics for which hives are opened that can wait a day or two, and the title of each while it does."""


def wait() -> str:
    """Say that hives stay closed."""
    return say("Open no hive while robbers are about. When they are gone I say by when.")

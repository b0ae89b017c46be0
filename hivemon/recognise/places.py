"""Whose a stream is: a hive's by an id or name that stands in its names, or the yard's own."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from hivemon.recognise.names import pieces
from hivemon.recognise.ranges import Sureness

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from hivemon.config import HiveSettings


class Placed(NamedTuple):
    """A hive's id (None: cannot be told), how sure, and why."""

    hive: str | None
    sureness: Sureness
    why: str


def find_hive(names: Iterable[str], hives: Sequence[HiveSettings]) -> Placed:
    """Find the hive that the names speak of: by its whole id, then by its name, then because there is only one."""
    parts = [part.lower() for name in names for part in re.split(r"[/\s,;:()\[\]]+", name) if part]
    finer = {piece for part in parts for piece in re.split(r"[._-]+", part)}
    for known in (set(parts), finer):
        found = [hive for hive in hives if hive.id.lower() in known]
        if len(found) == 1:
            return Placed(found[0].id, Sureness.SURE, f"{found[0].id} stands in its name")
    words = {piece for part in parts for piece in pieces(part)}
    named = [hive for hive in hives if hive.name and set(pieces(hive.name)) <= words]
    if len(named) == 1:
        return Placed(named[0].id, Sureness.LIKELY, f"{named[0].name!r} stands in its name")
    if len(hives) == 1:
        return Placed(hives[0].id, Sureness.LIKELY, f"{hives[0].id} is the only hive")
    return Placed(None, Sureness.GUESS, "nothing in its name says which hive")

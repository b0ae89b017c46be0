"""Words for what many hives of a yard want at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.words import day, listed, marked, number, say, start

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from zoneinfo import ZoneInfo

    from hivemon.model import Millis

MANY: Mapping[str, str] = {
    "super": marked("{count} hives need a super"),
    "nest-room": marked("{count} hives are strong: see that their queens have room"),
    "after-swarm": marked("{count} hives have swarmed: leave their brood nests closed until the day said for each"),
    "feed": marked("{count} hives are short of food: feed them"),
    "look-for-food": marked("{count} hives may be short of food: lift them"),
    "keep-honey": marked("{count} hives have little food: leave them the honey they have"),
    "winter-food": marked("In {count} hives food may end before spring: lift them"),
    "brood": marked("In {count} brood nests the warmth is not as it should be"),
    "brood-gap": marked("{count} hives have a gap in the brood, as expected: leave them closed"),
    "weak": marked("{count} hives fall behind: look at them"),
    "robbing": marked("{count} hives were robbed: keep an eye on their entrances"),
    "sensor": marked("{count} hives have trouble with a sensor"),
    "step": marked("In {count} hives the weight changed at once and nothing is written down"),
}
"""Sort of advisory and what to say when many hives have it."""
_NAMED = 3
"""Hives named of each sort; the rest is counted. Our rule: a line is read at a glance."""


def many(sort: str, due: Mapping[str, Sequence[str]], last: Millis | None, zone: ZoneInfo) -> str:
    """Say what many hives want; `due`: names by when they are due, `last`: the last day by which any is."""
    count = sum(len(names) for names in due.values())
    head = start(say(MANY[sort], count=number(count)))
    parts = [_part(when, names, last, zone) for when, names in due.items()]
    line = f"{head}: {listed(parts)}." if ":" not in head else f"{head}. {start(listed(parts))}."
    wanted = sum(len(names) for when, names in due.items() if when in ("overdue", "today"))
    if sort == "super" and wanted:
        line += " " + say("Take {count} along.", count=number(wanted))
    return line


def _part(when: str, names: Sequence[str], last: Millis | None, zone: ZoneInfo) -> str:
    values = {"count": number(len(names)), "names": _few(names)}
    if when == "overdue":
        return say("{count} overdue ({names})", **values)
    if when == "today":
        return say("{count} due today ({names})", **values)
    if when == "later" and last is not None:
        return say("{count} due by {day} or sooner ({names})", day=day(last, zone), **values)
    return _few(names)


def _few(names: Sequence[str]) -> str:
    if len(names) <= _NAMED + 1:
        return listed(names)
    return say("{names} and {count} more", names=", ".join(names[:_NAMED]), count=number(len(names) - _NAMED))

"""Several daemons at one broker, each with its share of the yards: is every yard in exactly one? Pure.

A share is named by `share` under [broker]: that daemon subscribes to the yards of its own configuration and to no
others. Two daemons with one yard would judge it twice; a yard in no share is kept by nobody.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from hivemon.config import Settings


class Share(NamedTuple):
    """One daemon's configuration, and the file it stands in."""

    file: str
    settings: Settings

    @property
    def name(self) -> str:
        """What it is called; the file's name where it has none."""
        broker = self.settings.broker
        return (broker.share if broker else None) or self.file

    @property
    def root(self) -> str | None:
        """What stands before /<yard>/<hive>, with the broker's address; None where it runs a broker of its own."""
        broker = self.settings.broker
        return f"{broker.host}:{broker.actual_port}/{broker.topic}" if broker else None


class Doubt(NamedTuple):
    """Something about the shares that is not as it should be, and what to do."""

    what: str
    hint: str


def doubts(shares: Sequence[Share], heard: Iterable[str] = ()) -> list[Doubt]:
    """Return what is wrong with shares, worst first; `heard` are yards that publish at their broker."""
    return [*_overlaps(shares), *_gaps(shares, heard), *_nameless(shares), *_apart(shares)]


def _overlaps(shares: Sequence[Share]) -> Iterator[Doubt]:
    """Find yards, devices' topics, names and sessions that two shares have."""
    for yard, names in _doubled({s.name: [y.id for y in s.settings.yard] for s in shares}):
        yield Doubt(f"overlap: the yard {yard} is in {names}", "leave it in one of them: it would be judged twice")
    for topic, names in _doubled({s.name: [d.topic for d in s.settings.device] for s in shares}):
        yield Doubt(f"overlap: the device topic {topic} is in {names}", "leave its [[device]] in one of them")
    for session, names in _doubled({s.file: [s.settings.broker.session] for s in shares if s.settings.broker}):
        hint = "give each its own share: they shut each other out"
        yield Doubt(f"overlap: {names} come to the broker as {session}", hint)


def _gaps(shares: Sequence[Share], heard: Iterable[str]) -> Iterator[Doubt]:
    known = {yard.id for share in shares for yard in share.settings.yard}
    for yard in sorted(set(heard) - known):
        yield Doubt(f"gap: the yard {yard} publishes and is in no share", "add a [[yard]] to one, or quiet its nodes")


def _nameless(shares: Sequence[Share]) -> Iterator[Doubt]:
    for share in shares:
        broker = share.settings.broker
        if broker is None:
            hint = "add [broker] with host and share"
            yield Doubt(f"{share.file} runs a broker of its own: it has no share in another", hint)
        elif broker.share is None and len(shares) > 1:
            hint = "name its share under [broker]"
            yield Doubt(f"{share.file} has no share: it takes what every yard publishes", hint)


def _apart(shares: Sequence[Share]) -> Iterator[Doubt]:
    """Find shares that do not belong together: other roots, another InfluxDB."""
    for what, places in (
        ("broker and topic", {s.root for s in shares if s.root}),
        ("InfluxDB", {(i.url, i.org, i.bucket) if (i := s.settings.influx) else None for s in shares}),
    ):
        if len(places) > 1:
            told = ", ".join(sorted(map(_told, places)))
            yield Doubt(f"not all have the same {what}: {told}", "name the same in each, if they belong together")


def _told(place: str | tuple[str, ...] | None) -> str:
    return "none" if place is None else place if isinstance(place, str) else " ".join(place)


def _doubled(members: Mapping[str, Iterable[str]]) -> Iterator[tuple[str, str]]:
    """Yield each member that several have, with their names."""
    having: dict[str, list[str]] = defaultdict(list)
    for name, items in members.items():
        for item in sorted(set(items)):
            having[item].append(name)
    yield from ((item, " and ".join(names)) for item, names in sorted(having.items()) if len(names) > 1)

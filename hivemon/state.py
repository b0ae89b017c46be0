"""The state of a yard: what the fold carries from one reading to the next, and how it is written to a snapshot.

States are never changed in place, so keeping one as a snapshot in memory costs nothing.
"""

from __future__ import annotations

import hashlib
import zlib
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from hivemon.config import UnitSettings
from hivemon.inference.questions import HiveMemory, YardMemory
from hivemon.model import Advisory, Event, HiveDay, Millis, Quantity, Series, Stream

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import HiveSettings, YardSettings
    from hivemon.rules import Rules

METRIC = UnitSettings()
"""Units of advice where the configuration names none."""

SNAPSHOT_VERSION = 2
"""Raised whenever a snapshot written before must not be read any more; it is then rebuilt from the readings."""


@dataclass(frozen=True)
class Ground:
    """What the configuration says of a yard; part of the fold's input, not of its memory."""

    yard: YardSettings
    hives: tuple[HiveSettings, ...]
    rules: Rules
    units: UnitSettings = field(default_factory=UnitSettings)


@dataclass(frozen=True)
class Core:
    """What has been learned.

    `time`: of the last reading folded. `decided`: the latest moment at which something was judged from several
    streams; what comes in from before it is late. `boundary`: when the hive day now running will be reckoned.
    `streams`: the newest readings of each. `events`: those of the last weeks, by id. `advisories`: the open ones.
    """

    time: Millis = 0
    decided: Millis = 0
    boundary: Millis | None = None
    streams: dict[Stream, Series] = field(default_factory=dict)
    hives: dict[str, HiveMemory] = field(default_factory=dict)
    yard: YardMemory = field(default_factory=YardMemory)
    events: dict[str, Event] = field(default_factory=dict)
    days: dict[str, tuple[HiveDay, ...]] = field(default_factory=dict)
    advisories: dict[str, Advisory] = field(default_factory=dict)


@dataclass(frozen=True)
class YardState:
    """A yard's state: its ground and what has been learned of it."""

    ground: Ground
    core: Core

    @property
    def time(self) -> Millis:
        """Time of the last reading folded; 0 before the first."""
        return self.core.time

    @property
    def advisories(self) -> list[Advisory]:
        """The open advisories."""
        return list(self.core.advisories.values())


class _Packed(msgspec.Struct, frozen=True, array_like=True):
    """A stream's window as bytes: int64 times and float64 values, little-endian."""

    hive: str | None
    quantity: Quantity
    time: bytes
    value: bytes


class _Snapshot(msgspec.Struct, frozen=True):
    version: int
    shape: str
    time: Millis
    decided: Millis
    boundary: Millis | None
    streams: list[_Packed]
    hives: dict[str, HiveMemory]
    yard: YardMemory
    events: dict[str, Event]
    days: dict[str, tuple[HiveDay, ...]]
    advisories: dict[str, Advisory]


def encode(state: YardState) -> bytes:
    """Write a state's core as a snapshot: compressed MessagePack."""
    core = state.core
    snapshot = _Snapshot(
        version=SNAPSHOT_VERSION,
        shape=_shape(),
        streams=[
            _Packed(s.hive, s.quantity, x.time.astype("<i8").tobytes(), x.value.astype("<f8").tobytes())
            for s, x in core.streams.items()
        ],
        **{name: getattr(core, name) for name in _CARRIED},
    )
    return zlib.compress(msgspec.msgpack.encode(snapshot), 1)


def decode(
    blob: bytes,
    yard: YardSettings,
    hives: Sequence[HiveSettings],
    rules: Rules,
    units: UnitSettings = METRIC,
) -> YardState:
    """Read a snapshot; raises ValueError when it was written by a program that remembered other things."""
    try:
        raw = zlib.decompress(blob)
        head = msgspec.msgpack.decode(raw)
        if (head.get("version"), head.get("shape")) != (SNAPSHOT_VERSION, _shape()):
            raise ValueError("this snapshot was written by another version of hivemon")
        snapshot = msgspec.msgpack.decode(raw, type=_Snapshot)
    except (zlib.error, msgspec.DecodeError, AttributeError) as error:
        raise ValueError(f"this is no snapshot of a yard: {error}") from error
    streams = {
        Stream(p.hive, p.quantity): Series(np.frombuffer(p.time, "<i8"), np.frombuffer(p.value, "<f8"))
        for p in snapshot.streams
    }
    core = Core(streams=streams, **{name: getattr(snapshot, name) for name in _CARRIED})
    return YardState(Ground(yard, tuple(hives), rules, units), core)


_CARRIED = ("time", "decided", "boundary", "hives", "yard", "events", "days", "advisories")


@cache
def _shape() -> str:
    """Return a fingerprint of the fields of everything a snapshot holds, so that a changed program notices."""
    seen: dict[str, Any] = {}
    waiting: list[Any] = [_Snapshot]
    while waiting:
        struct = waiting.pop()
        if struct.__name__ in seen:
            continue
        fields = msgspec.structs.fields(struct)
        seen[struct.__name__] = [(f.encode_name, str(f.type)) for f in fields]
        waiting += [s for f in fields for s in _structs_in(f.type)]
    return hashlib.sha256(repr(sorted(seen.items())).encode()).hexdigest()[:16]


def _structs_in(annotation: Any) -> list[Any]:
    if isinstance(annotation, type) and issubclass(annotation, msgspec.Struct):
        return [annotation]
    return [s for part in getattr(annotation, "__args__", ()) for s in _structs_in(part)]

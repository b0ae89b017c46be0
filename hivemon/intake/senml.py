"""SenML packs (RFC 8428, JSON form) resolved into records with full names, absolute times and summed values.

Resolving follows RFC 8428 section 4.6; section numbers beside the rules are of that document. Sizes are bounded so that
no message can hold the daemon up.
"""

from __future__ import annotations

import base64
import binascii
import re
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import msgspec
from msgspec import UNSET, UnsetType

from hivemon.errors import Unusable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.model import Millis

MOST_BYTES = 64 * 1024
"""A longer payload is refused. Our rule: a year of one hive's days fits."""
MOST_RECORDS = 1000
"""A pack with more records is refused. Our rule."""
MOST_NAME = 512
"""A longer full name is refused. Our rule: names are remembered, and memory is bounded."""
VERSION = 10
"""The SenML version spoken here (section 4.4)."""
ABSOLUTE_FROM = 2.0**28
"""Times of at least this many seconds are Unix times; smaller ones count from the moment of receipt (section 4.5.3)."""
LAST_SECOND = 253_402_300_799.0
"""The end of the year 9999 (RFC 3339 knows no later year)."""

_INFINITE = (float("inf"), float("-inf"))
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*\Z")


class Record(NamedTuple):
    """One resolved record.

    `name` is the full name, `unit` empty where neither the record nor a base unit gave one. `value` is a float, text
    (vs), a truth value (vb), bytes (vd), or None where only a sum was given. `time` is milliseconds UTC. `stamped` is
    True where there was no absolute time, so that `time` rests on the moment of receipt. `sum` is the integral over
    time (s).
    """

    name: str
    unit: str
    value: float | str | bool | bytes | None
    time: Millis
    stamped: bool
    sum: float | None = None


class _Raw(msgspec.Struct):
    """The labels of section 4.3 as they stand in the JSON; others are ignored."""

    bn: str | UnsetType = UNSET
    bt: float | UnsetType = UNSET
    bu: str | UnsetType = UNSET
    bv: float | UnsetType = UNSET
    bs: float | UnsetType = UNSET
    bver: int | UnsetType = UNSET
    n: str = ""
    u: str = ""
    v: float | UnsetType = UNSET
    vs: str | UnsetType = UNSET
    vb: bool | UnsetType = UNSET
    vd: str | UnsetType = UNSET
    s: float | UnsetType = UNSET
    t: float = 0.0
    ut: float | UnsetType = UNSET


_decoder = msgspec.json.Decoder(list[_Raw])
_plain_decoder = msgspec.json.Decoder(list[dict[str, msgspec.Raw]])


class _Base:
    """The base fields in force while a pack is read (section 4.1): each holds until it appears again."""

    __slots__ = ("name", "sum", "time", "unit", "value", "version")

    def __init__(self) -> None:
        self.name = ""
        self.time = 0.0
        self.unit = ""
        self.value = 0.0
        self.sum: float | None = None
        self.version = VERSION

    def take(self, raw: _Raw, first: bool) -> None:
        """Take over the base fields of one record; raises Unusable for a version not spoken here."""
        if raw.bn is not UNSET:
            self.name = raw.bn
        if raw.bt is not UNSET:
            self.time = raw.bt
        if raw.bu is not UNSET:
            self.unit = raw.bu
        if raw.bv is not UNSET:
            self.value = raw.bv
        if raw.bs is not UNSET:
            self.sum = raw.bs
        if raw.bver is not UNSET:
            _check_version(raw.bver, self.version, first)
            self.version = raw.bver


def resolve(payload: bytes, received: Millis) -> list[Record]:
    """Resolve a pack, in the order of its records.

    Args:
        payload: The JSON text, UTF-8.
        received: When it arrived; relative and missing times count from here.

    Raises:
        Unusable: It is no valid SenML pack; the reason names the record, counted from 1.
    """
    raws = _decode(payload)
    base = _Base()
    base_fields = _has_base(payload)
    records: list[Record] = []
    for number, raw in enumerate(raws, 1):
        try:
            if base_fields:
                base.take(raw, number == 1)
            records.append(_record(raw, base, received))
        except Unusable as error:
            raise Unusable(f"SenML record {number}: {error}") from None
    return records


def _decode(payload: bytes) -> list[_Raw]:
    """Decode the JSON array and check what holds for the whole pack."""
    if len(payload) > MOST_BYTES:
        raise Unusable(f"payload of {len(payload)} bytes is longer than the {MOST_BYTES} taken")
    try:
        raws = _decoder.decode(payload)
        # What is unknown has been skipped unread so far, and may be no text at all.
        labels = _plain_decoder.decode(payload) if b'_"' in payload else []
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise Unusable(f"not a SenML pack: {error}") from None
    if not raws:
        raise Unusable("the SenML pack is empty")
    if len(raws) > MOST_RECORDS:
        raise Unusable(f"{len(raws)} SenML records are more than the {MOST_RECORDS} taken")
    _check_labels(labels)
    return raws


def _has_base(payload: bytes) -> bool:
    """Tell cheaply whether a base field may stand in the pack."""
    return b'"b' in payload or b"\\u" in payload


def _check_labels(records: Sequence[Mapping[str, object]]) -> None:
    """Refuse a label ending in "_": its sender demands that it be understood (section 4.4)."""
    for number, fields in enumerate(records, 1):
        for label in fields:
            if label.endswith("_"):
                raise Unusable(f"SenML record {number}: the label {label!r} must be understood, and is not known here")


def _check_version(version: int, before: int, first: bool) -> None:
    if version > VERSION or version < 1:
        raise Unusable(f"SenML version {version} is not spoken here (the newest known is {VERSION})")
    if not first and version != before:
        raise Unusable(f"the SenML version changes within the pack, from {before} to {version}")


def _record(raw: _Raw, base: _Base, received: Millis) -> Record:
    """Resolve one record against the base fields in force."""
    name = base.name + raw.n
    if len(name) > MOST_NAME:
        raise Unusable(f"a name of {len(name)} characters is longer than the {MOST_NAME} taken")
    if not _valid_name(name):
        raise Unusable(_why_not(name))
    seconds = base.time + raw.t
    if not -ABSOLUTE_FROM <= seconds <= LAST_SECOND:
        raise Unusable(f"a time of {seconds:g} s is neither near the moment of receipt nor before the year 10000")
    stamped = seconds < ABSOLUTE_FROM
    time = round(seconds * 1000) + (received if stamped else 0)
    total = _sum(raw, base)
    value: float | str | bool | bytes | None
    if raw.v is not UNSET and raw.vs is UNSET and raw.vb is UNSET and raw.vd is UNSET:
        value = base.value + raw.v
        if value in _INFINITE:
            raise Unusable("the base value and the value add up to more than a number can hold")
    else:
        value = _other_value(raw, total)
    return Record(name, raw.u or base.unit, value, time, stamped, total)


def _sum(raw: _Raw, base: _Base) -> float | None:
    """Add base sum and sum; one that is missing counts as 0 (section 4.5.4)."""
    if raw.s is UNSET:
        return base.sum
    return raw.s if base.sum is None else base.sum + raw.s


def _other_value(raw: _Raw, total: float | None) -> str | bool | bytes | None:
    """Return the value where it is no single number; exactly one value must stand unless there is a sum."""
    given = [label for label in ("v", "vs", "vb", "vd") if getattr(raw, label) is not UNSET]
    if len(given) > 1:
        raise Unusable(f"holds {' and '.join(given)}, but a record has one value")
    if raw.vs is not UNSET:
        return raw.vs
    if raw.vb is not UNSET:
        return raw.vb
    if raw.vd is not UNSET:
        return _data(raw.vd)
    if total is None:
        raise Unusable("holds neither a value (v, vs, vb, vd) nor a sum (s)")
    return None


def _data(text: str) -> bytes:
    """Decode a data value: base64 in the URL-safe alphabet without padding (section 5, RFC 4648 section 5)."""
    if not re.fullmatch(r"[A-Za-z0-9_-]*", text):
        raise Unusable("the data value vd is not base64url without padding")
    try:
        return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except binascii.Error:
        raise Unusable("the data value vd is not base64url without padding") from None


@lru_cache(maxsize=4096)
def _valid_name(name: str) -> bool:
    """Tell whether a full name has the characters of section 4.5.1: A-Z a-z 0-9 - : . / _, the first alphanumeric."""
    return _NAME.match(name) is not None


def _why_not(name: str) -> str:
    if not name:
        return "has no name: neither a base name (bn) nor a name (n)"
    return f"the name {name!r} may hold A-Z a-z 0-9 - : . / _ only and must begin with a letter or digit"

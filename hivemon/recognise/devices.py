"""From messages overheard at a broker to proposals for `[[device]]` tables, one for each number in each topic."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec
import numpy as np

from hivemon.config_words import quoted
from hivemon.intake.moments import parse_rfc3339
from hivemon.intake.names import is_number
from hivemon.intake.pointer import follow, parse_pointer, write_pointer
from hivemon.intake.senml import ABSOLUTE_FROM
from hivemon.model import HIVE_QUANTITIES, UNITS, Quantity
from hivemon.recognise.names import Named, read_names
from hivemon.recognise.places import Placed, find_hive
from hivemon.recognise.ranges import Proposal, Sureness, propose

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from hivemon.config import Settings, UnitSettings
    from hivemon.intake.link import Message

_decode = msgspec.json.Decoder().decode
_TIME_WORDS = ("time", "timestamp", "ts", "date", "datetime", "at")
_UNIT_KEYS = ("unit", "units", "u", "uom")
_NAME_KEYS = ("n", "name", "type", "sensor", "quantity", "field")
_VALUE_KEYS = ("v", "value", "val")
MOST_LEAVES = 64
"""Numbers of one payload that are looked at. Our rule: a device has fewer."""
_LATEST_SECONDS = 4_102_444_800.0
"""2100-01-01: a larger number is no Unix time in seconds (milliseconds, most likely)."""


_Leaf = tuple[tuple[str, ...], float, tuple[str, ...]]
"""A number in a document: its reference tokens, the number, and what names it."""


class Key(NamedTuple):
    """One number's place: a topic, and an RFC 6901 pointer into its JSON (None: the payload is the number)."""

    topic: str
    pointer: str | None

    def __str__(self) -> str:
        return self.topic if self.pointer is None else f"{self.topic}#{self.pointer}"


class Overheard(NamedTuple):
    """A stream of numbers that no configuration knows yet, and what it probably is.

    `reading` is a proposal, or the reason why there is none; `placed` says whose it is (None for the yard's own
    quantities); `time_pointer` where the payload carries its own time.
    """

    key: Key
    values: list[float]
    seconds: float | None
    """Median time between messages; None when there was one."""
    reading: Proposal | str
    placed: Placed | None
    time_pointer: str | None
    note: str = ""

    @property
    def sureness(self) -> Sureness | None:
        """How sure the whole is: as the least sure of its parts; None when nothing is proposed."""
        if isinstance(self.reading, str) or (self.placed is not None and self.placed.hive is None):
            return None
        parts = [self.reading.sureness] + ([self.placed.sureness] if self.placed is not None else [])
        return max(parts, key=lambda part: part.rank)


def overhear(messages: Sequence[Message], settings: Settings, yard: str) -> list[Overheard]:
    """Return every number in the messages that no `[[device]]` reads yet, with what it probably is.

    Args:
        messages: In order of arrival; those the configuration understands already are best left out.
        settings: The hives that there are, the units a person prefers.
        yard: Whose devices these are.
    """
    mapped = {Key(d.topic, d.pointer if d.form == "json" else None): (d.hive, d.quantity) for d in settings.device}
    found: dict[Key, list[float]] = {}
    topics: dict[str, list[Message]] = {}
    last: dict[Key, tuple[tuple[str, ...], Message]] = {}
    for message in messages:
        topics.setdefault(message.topic, []).append(message)
        for key, number, said in numbers_of(message):
            if key in mapped:
                continue
            found.setdefault(key, []).append(number)
            last[key] = said, message
    heard = [_judge(key, numbers, *last[key], topics[key.topic], settings, yard) for key, numbers in found.items()]
    fed = {stream: key for key, stream in mapped.items()}
    return _once_each(sorted(heard, key=lambda one: one.key.topic), fed)


def unreadable(messages: Sequence[Message]) -> list[str]:
    """Return the topics whose messages hold no number that could be mapped, each once."""
    mute = {message.topic for message in messages}
    mute -= {message.topic for message in messages if next(numbers_of(message), None) is not None}
    return sorted(mute)


def _judge(
    key: Key,
    values: list[float],
    names: tuple[str, ...],
    last: Message,
    messages: list[Message],
    settings: Settings,
    yard: str,
) -> Overheard:
    """Propose what a number is; `last` is the last message that held it, `messages` are all of its topic."""
    hives = settings.hives_of(yard)
    ids = {hive.id.lower() for hive in hives}
    said = read_names([name for name in names if name.lower() not in ids])
    reading = propose(said, np.array(values), settings.units)
    placed: Placed | None = find_hive(names, hives)
    if isinstance(reading, Proposal) and reading.quantity not in HIVE_QUANTITIES:
        placed = None
    arrivals = np.diff([message.received for message in messages])
    seconds = float(np.median(arrivals)) / 1000 if arrivals.size else None
    return Overheard(key, values, seconds, reading, placed, _time_pointer(last, key))


def _once_each(heard: list[Overheard], fed: dict[tuple[str | None, Quantity], Key]) -> list[Overheard]:
    """Leave a stream to what feeds it already, else to the surest: two sensors mixed into one curve are none."""
    taken = dict(fed)
    kept = {}
    for one in sorted(heard, key=lambda one: one.sureness.rank if one.sureness else len(Sureness)):
        note = ""
        if one.sureness is not None and isinstance(one.reading, Proposal):
            stream = (one.placed.hive if one.placed else None, one.reading.quantity)
            first = taken.setdefault(stream, one.key)
            if first != one.key:
                whose = stream[0] or "the yard"
                note = f"{first} is the {stream[1].value} of {whose} already: two sensors would make one wrong curve"
        kept[one.key] = one._replace(note=note)
    return [kept[one.key] for one in heard]


def numbers_of(message: Message) -> Iterator[tuple[Key, float, tuple[str, ...]]]:
    """Yield each number of a payload with its place and what names it, the nearest name last."""
    text = message.payload.decode("utf-8", "replace").strip()
    if is_number(text):
        yield Key(message.topic, None), float(text), tuple(message.topic.split("/"))
        return
    try:
        document = _decode(message.payload)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return
    if not isinstance(document, dict | list):
        return
    for count, (tokens, number, names) in enumerate(_leaves(document, (), ())):
        if count >= MOST_LEAVES:
            return
        yield Key(message.topic, write_pointer(tokens)), number, (*message.topic.split("/"), *names)


def _leaves(here: Any, tokens: tuple[str, ...], names: tuple[str, ...]) -> Iterator[_Leaf]:
    """Walk a JSON document; a name or unit beside a value, as in `{"n": "weight", "u": "kg", "v": 1}`, names it."""
    if isinstance(here, list):
        for index, item in enumerate(here):
            yield from _leaves(item, (*tokens, str(index)), names)
    elif isinstance(here, dict):
        beside = " ".join(str(here[key]) for key in (*_NAME_KEYS, *_UNIT_KEYS) if isinstance(here.get(key), str))
        for key, item in here.items():
            own = (*names, beside or key) if key in _VALUE_KEYS else (*names, f"{beside} {key}".strip())
            if key not in (*_NAME_KEYS, *_UNIT_KEYS) and not _is_time(key):
                yield from _leaves(item, (*tokens, key), own)
    elif is_number(here) if isinstance(here, str) else type(here) in (int, float):
        yield tokens, float(here), names


def _is_time(key: str) -> bool:
    return key.lower() in _TIME_WORDS


def _time_pointer(message: Message, key: Key) -> str | None:
    """Return where a message that holds the number says its time, beside or above it, in a form that can be read."""
    if key.pointer is None:
        return None
    document = _decode(message.payload)
    tokens = parse_pointer(key.pointer)
    for depth in range(len(tokens) - 1, -1, -1):
        here = follow(document, tokens[:depth])
        if not isinstance(here, dict):
            continue
        for name, value in here.items():
            if _is_time(name) and _is_moment(value):
                return write_pointer((*tokens[:depth], name))
    return None


def _is_moment(value: Any) -> bool:
    if isinstance(value, str):
        try:
            parse_rfc3339(value)
        except ValueError:
            return False
        return True
    return isinstance(value, int | float) and not isinstance(value, bool) and ABSOLUTE_FROM <= value < _LATEST_SECONDS


def chosen(one: Overheard, hive: str | None, quantity: Quantity, unit: str, prefers: UnitSettings) -> Overheard:
    """Return the same as a person says it is: a hive's or (None) the yard's; an empty `unit` is guessed."""
    said = propose(Named(quantity, unit, raw=False, foreign=""), np.array(one.values), prefers, told=True)
    placed = None if hive is None else Placed(hive, Sureness.SURE, "you said so")
    return one._replace(reading=said, placed=placed, note="")


def device_table(one: Overheard, yard: str) -> str:
    """Return the `[[device]]` table of a proposal, for `hivemon.toml`. Raises TypeError where nothing is proposed."""
    if isinstance(one.reading, str):
        raise TypeError(one.reading)
    quantity, form = one.reading.quantity, one.reading.form
    lines = ["[[device]]", f"topic = {quoted(one.key.topic)}", f"yard = {quoted(yard)}"]
    if one.placed is not None and one.placed.hive is not None:
        lines.append(f"hive = {quoted(one.placed.hive)}")
    lines.append(f"quantity = {quoted(quantity.value)}")
    if one.key.pointer is not None:
        lines += ['form = "json"', f"pointer = {quoted(one.key.pointer)}"]
    if one.time_pointer is not None:
        lines.append(f"time_pointer = {quoted(one.time_pointer)}")
    if form.unit != UNITS[quantity]:
        lines.append(f"unit = {quoted(form.unit)}")
    if form.scale != 1.0:
        lines.append(f"scale = {form.scale!r}")
    if form.offset:
        lines.append(f"offset = {form.offset!r}")
    return "\n".join([*lines, ""])

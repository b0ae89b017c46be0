"""What a scraper is told at /metrics: the daemon's work and every hive's newest values, as OpenMetrics text 1.0.

The format is the OpenMetrics specification's (prometheus/OpenMetrics on GitHub, version 1.0.0): base units, counters
that end in _total, label values with backslash, quote and line break escaped, and "# EOF" as the last line.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import hivemon
from hivemon.intake.link import LinkState
from hivemon.model import SECOND, Quantity, Urgency
from hivemon.store.daemon_state import read_status

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from hivemon.config import Settings
    from hivemon.model import Millis, Stream
    from hivemon.store import Store
    from hivemon.store.daemon_state import DaemonStatus

MEDIA_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
_ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "\n": "\\n"})


class Sample(NamedTuple):
    """One value of a family; `labels` by name."""

    labels: Mapping[str, str]
    value: float


class _Told(NamedTuple):
    """How a quantity is called in base units: a ratio for percent."""

    name: str
    unit: str
    words: str
    scale: float = 1.0


QUANTITIES: Mapping[Quantity, _Told] = {
    Quantity.WEIGHT: _Told("weight", "kilograms", "Newest weight of a hive."),
    Quantity.TEMPERATURE: _Told("brood_nest_temperature", "celsius", "Newest temperature between the brood frames."),
    Quantity.HUMIDITY: _Told("humidity", "ratio", "Newest relative humidity in a hive, 0 to 1.", 0.01),
    Quantity.BATTERY: _Told("battery", "volts", "Newest battery voltage of a node."),
    Quantity.OUTSIDE_TEMPERATURE: _Told("outside_temperature", "celsius", "Newest outside temperature of a yard."),
    Quantity.OUTSIDE_HUMIDITY: _Told("outside_humidity", "ratio", "Newest relative humidity outside, 0 to 1.", 0.01),
}
"""Rain is left out: what fell since the last row says nothing to someone who looks now and then."""


def metrics(settings: Settings, store: Store) -> str:
    """Return the whole text."""
    parts = [
        _family("hivemon_build", "info", "", "The program.", [Sample({"version": hivemon.__version__}, 1)]),
        *_daemon(read_status(store)),
        *_store(store),
        *_yards(settings, store),
        "# EOF\n",
    ]
    return "".join(parts)


def _daemon(status: DaemonStatus | None) -> Iterator[str]:
    if status is None:
        return
    well = status.running and not status.trouble
    committed, started = status.written / SECOND, status.started / SECOND
    yield _one("hivemon_working", "gauge", "", "1 while the daemon runs and can write to its store.", well)
    yield _one("hivemon_link_up", "gauge", "", "1 while the link to the broker stands.", status.link is LinkState.UP)
    yield _one("hivemon_started_seconds", "gauge", "seconds", "When the daemon started, Unix time.", started)
    words = "When the daemon last committed its status, Unix time; every 15 s while it works."
    yield _one("hivemon_committed_seconds", "gauge", "seconds", words, committed)
    for name, count, words in (
        ("messages", status.messages, "Messages taken and acknowledged since the start."),
        ("readings", status.readings, "Readings kept since the start."),
        ("duplicates", status.duplicates, "Readings that were known already, since the start."),
        ("refused", status.refused, "Messages or records that were no reading, since the start."),
    ):
        yield _one(f"hivemon_{name}", "counter", "", words, count)


def _store(store: Store) -> Iterator[str]:
    facts = store.facts(deep=False)
    size, waiting = facts.size + facts.wal_size, store.messages_waiting()
    yield _one("hivemon_store_bytes", "gauge", "bytes", "Size of the store on the disk.", size)
    yield _one("hivemon_disk_free_bytes", "gauge", "bytes", "Room left on the store's disk.", facts.disk_free)
    yield _one("hivemon_copy_points", "gauge", "", "Points that wait for InfluxDB.", facts.outbox_points)
    channels = [Sample({"channel": name}, found.messages) for name, found in sorted(waiting.items())]
    yield _family("hivemon_channel_messages", "gauge", "", "Messages to people that wait for a channel.", channels)


def _yards(settings: Settings, store: Store) -> Iterator[str]:
    latest = {yard.id: store.latest(yard.id) for yard in settings.yard}
    newest = [Sample(labels, time / SECOND) for labels, time in _newest(latest)]
    words = "Time of the newest reading of a hive, or of a yard's own sensors, Unix time."
    yield _family("hivemon_reading_seconds", "gauge", "seconds", words, newest)
    for quantity, told in QUANTITIES.items():
        samples = [
            Sample(_place(yard, stream.hive), value * told.scale)
            for yard, streams in latest.items()
            for stream, (_, value) in streams.items()
            if stream.quantity is quantity
        ]
        yield _family(f"hivemon_{told.name}_{told.unit}", "gauge", told.unit, told.words, samples)
    advisories = []
    for yard in settings.yard:
        counts = Counter(advisory.urgency for advisory in store.advisories(yard.id, open_only=True))
        advisories += [Sample({"yard": yard.id, "urgency": u.value}, counts[u]) for u in Urgency]
    yield _family("hivemon_advisories", "gauge", "", "Open advisories by urgency.", advisories)


def _newest(latest: Mapping[str, Mapping[Stream, tuple[Millis, float]]]) -> Iterator[tuple[dict[str, str], Millis]]:
    """Yield the place and the time of the newest reading of each hive, and of each yard's own sensors."""
    for yard, streams in latest.items():
        times: dict[str | None, Millis] = {}
        for stream, (time, _) in streams.items():
            times[stream.hive] = max(time, times.get(stream.hive, time))
        yield from ((_place(yard, hive), time) for hive, time in times.items())


def _place(yard: str, hive: str | None) -> dict[str, str]:
    return {"yard": yard} if hive is None else {"yard": yard, "hive": hive}


def _one(name: str, kind: str, unit: str, words: str, value: float) -> str:
    return _family(name, kind, unit, words, [Sample({}, value)])


def _family(name: str, kind: str, unit: str, words: str, samples: Iterable[Sample]) -> str:
    """Return a family's lines: its type, its unit where it has one, what it is, and its samples."""
    ending = {"counter": "_total", "info": "_info"}.get(kind, "")
    head = [f"# TYPE {name} {kind}", *([f"# UNIT {name} {unit}"] if unit else []), f"# HELP {name} {words}"]
    lines = [f"{name}{ending}{_labels(sample.labels)} {_number(sample.value)}" for sample in samples]
    return "\n".join([*head, *lines, ""])


def _labels(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{name}="{value.translate(_ESCAPES)}"' for name, value in labels.items()) + "}"


def _number(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else repr(float(value))

"""The nouns everything else is made of: readings, streams, hive days, logbook entries, events, advisories.

Times are whole milliseconds UTC since 1970-01-01 (`Millis`); text forms exist only at the edges. Weights are kg,
temperatures °C, humidities %RH, battery V, rain mm since the row before.
"""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

import msgspec
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

Millis = int
"""A moment: milliseconds UTC since 1970-01-01T00:00:00Z. Also used for spans."""

SECOND: Millis = 1_000
MINUTE: Millis = 60 * SECOND
HOUR: Millis = 60 * MINUTE
DAY: Millis = 24 * HOUR


class Quantity(StrEnum):
    """What is measured. The first four belong to a hive, the last three to a yard."""

    WEIGHT = "weight"
    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    BATTERY = "battery"
    OUTSIDE_TEMPERATURE = "outside-temperature"
    OUTSIDE_HUMIDITY = "outside-humidity"
    RAIN = "rain"


HIVE_QUANTITIES = frozenset(
    {Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.BATTERY},
)
TELLING = (Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.HUMIDITY)
"""What tells of a hive, the one first whose silence matters most."""
YARD_QUANTITIES = frozenset(
    {Quantity.OUTSIDE_TEMPERATURE, Quantity.OUTSIDE_HUMIDITY, Quantity.RAIN},
)

UNITS: dict[Quantity, str] = {
    Quantity.WEIGHT: "kg",
    Quantity.TEMPERATURE: "Cel",
    Quantity.HUMIDITY: "%RH",
    Quantity.BATTERY: "V",
    Quantity.OUTSIDE_TEMPERATURE: "Cel",
    Quantity.OUTSIDE_HUMIDITY: "%RH",
    Quantity.RAIN: "mm",
}
"""The unit each quantity is kept in, by its SenML name (RFC 8428; `mm` from RFC 8798)."""


class Reading(NamedTuple):
    """One measured value.

    `hive` is None for the yard's own readings. `stamped` is True when the device gave no time and the moment of
    receipt was taken instead.
    """

    time: Millis
    yard: str
    hive: str | None
    quantity: Quantity
    value: float
    stamped: bool = False


class Stream(NamedTuple):
    """Names one series of readings within a yard: a hive (None: the yard itself) and a quantity."""

    hive: str | None
    quantity: Quantity


class Series(NamedTuple):
    """Readings of one stream: `time` int64 ms of shape (n,), strictly ascending; `value` float64 of shape (n,)."""

    time: NDArray[np.int64]
    value: NDArray[np.float64]

    def until(self, end: Millis) -> Series:
        """Return the part strictly before `end`."""
        stop = int(self.time.searchsorted(end))
        return Series(self.time[:stop], self.value[:stop])

    def since(self, start: Millis) -> Series:
        """Return the part at or after `start`."""
        first = int(self.time.searchsorted(start))
        return Series(self.time[first:], self.value[first:])

    def between(self, start: Millis, end: Millis) -> Series:
        """Return the part with start <= time < end."""
        first, stop = int(self.time.searchsorted(start)), int(self.time.searchsorted(end))
        return Series(self.time[first:stop], self.value[first:stop])


EMPTY = Series(np.empty(0, np.int64), np.empty(0, np.float64))
"""A stream with nothing in it."""


class Entry(StrEnum):
    """What a logbook line says was done or seen."""

    INSPECT = "inspect"
    SUPER_ON = "super-on"
    SUPER_OFF = "super-off"
    HARVEST = "harvest"
    FEED = "feed"
    SPLIT = "split"
    COMBINE = "combine"
    REQUEEN = "requeen"
    MITE_WASH = "mite-wash"
    TREAT = "treat"
    SCALE_RESET = "scale-reset"
    MOVED = "moved"
    SWARM_SEEN = "swarm-seen"
    NOTE = "note"


HANDLING = frozenset(Entry) - {Entry.NOTE, Entry.SWARM_SEEN}
"""Entries that mean a person was at the hive."""

WEIGHT_SIGN: dict[Entry, int] = {
    Entry.SUPER_ON: 1,
    Entry.FEED: 1,
    Entry.COMBINE: 1,
    Entry.SUPER_OFF: -1,
    Entry.HARVEST: -1,
    Entry.SPLIT: -1,
    Entry.SCALE_RESET: 0,
    Entry.MOVED: 0,
}
"""Which way each entry moves a hive's weight; 0: either way. Entries not listed leave it as heavy as it was."""


class LogEntry(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the beekeeper's logbook.

    `time` is right to about an hour. `amount` is kg for super-on, super-off, harvest, feed and split, mites for
    mite-wash, None where not given. `id` is given by the store; 0 for entries read from a file.
    """

    time: Millis
    hive: str
    entry: Entry
    amount: float | None = None
    note: str = ""
    id: int = 0


class Kind(StrEnum):
    """What the program infers."""

    FLOW_ONSET = "flow-onset"
    FLOW_END = "flow-end"
    DEARTH_ONSET = "dearth-onset"
    DEARTH_END = "dearth-end"
    SWARM = "swarm"
    BROOD_COLD = "brood-cold"
    BROOD_HOT = "brood-hot"
    BROOD_UNSTABLE = "brood-unstable"
    BROOD_RECOVERED = "brood-recovered"
    ROBBING = "robbing"
    SENSOR_FAULT = "sensor-fault"
    UNLOGGED_STEP = "unlogged-step"
    OFF_SCALE = "off-scale"


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """Something inferred from the readings, in the fields of the events file.

    `onset` is the last and best estimate of when it happened, `onset_first` the one at `raised`. `raised` is the time
    of the reading that made the program say it. `withdrawn` is None, or when it was taken back, and
    `withdrawn_because` says why. `size` is in `unit`. `confidence` runs from 0 to 1. `evidence` holds the numbers
    behind `reason`.
    """

    id: str
    kind: Kind
    yard: str
    hive: str | None
    onset: Millis
    onset_first: Millis
    raised: Millis
    withdrawn: Millis | None = None
    withdrawn_because: str = ""
    size: float | None = None
    unit: str = ""
    confidence: float
    reason: str
    summary: str
    evidence: dict[str, float] = {}


class Urgency(StrEnum):
    """How soon a beekeeper should look at an advisory."""

    NOW = "now"
    TODAY = "today"
    THIS_WEEK = "this-week"
    FOR_INFORMATION = "for-information"


class Advisory(msgspec.Struct, frozen=True, kw_only=True):
    """Plain words to the beekeeper, in the fields of the advice file.

    `saw` says what was measured, `means` what that usually is, `could_also_be` the other explanations, `do` the steps
    in order, `do_by` the moment by which, `cautions` what can hurt, `events` the ids it follows from. `closed` is None
    while it stands.
    """

    id: str
    yard: str
    hive: str | None
    raised: Millis
    updated: Millis
    closed: Millis | None = None
    urgency: Urgency
    title: str
    saw: str
    means: str
    could_also_be: list[str] = []
    do: list[str] = []
    do_by: Millis | None = None
    cautions: list[str] = []
    events: list[str] = []


class HiveDay(msgspec.Struct, frozen=True, kw_only=True):
    """One hive from one dawn to the next; None where the readings do not tell.

    All weights and changes in kg and without handling steps: `net_gain` = `foraging_gain` + `overnight_change`.
    `morning_dip` is the mass of bees out (>= 0). `handled` is the sum of steps taken out of `net_gain`.
    """

    yard: str
    hive: str
    date: str
    """Local civil date of the first dawn, YYYY-MM-DD."""
    start: Millis
    dusk: Millis
    end: Millis
    dawn_weight: float | None = None
    dusk_weight: float | None = None
    end_weight: float | None = None
    net_gain: float | None = None
    foraging_gain: float | None = None
    overnight_change: float | None = None
    morning_dip: float | None = None
    handled: float = 0.0
    uncertainty: float | None = None
    """Standard deviation of `net_gain` from the scale's noise and temperature and from moist wood, kg; rain apart."""
    temperature_mean: float | None = None
    temperature_swing: float | None = None
    """Highest less lowest hourly mean of the brood nest, °C."""
    coverage: float = 0.0
    """Share of the day's hours with a weight reading, 0 to 1."""


def rfc3339(time: Millis) -> str:
    """Write a moment as RFC 3339 in UTC, to the second unless it has a fraction of one."""
    moment = datetime.fromtimestamp(time / 1000, UTC)
    return moment.isoformat(timespec="milliseconds" if time % SECOND else "seconds").replace("+00:00", "Z")


def event_to_json(event: Event) -> dict[str, Any]:
    """Return an event as the object of a line in the events file, times in RFC 3339."""
    return _to_json(event, ("onset", "onset_first", "raised", "withdrawn"))


def advisory_to_json(advisory: Advisory) -> dict[str, Any]:
    """Return an advisory as the object of a line in the advice file, times in RFC 3339."""
    return _to_json(advisory, ("raised", "updated", "closed", "do_by"))


def hive_day_to_json(day: HiveDay) -> dict[str, Any]:
    """Return a hive day as a JSON object, times in RFC 3339."""
    return _to_json(day, ("start", "dusk", "end"))


def _to_json(struct: msgspec.Struct, times: tuple[str, ...]) -> dict[str, Any]:
    fields: dict[str, Any] = msgspec.to_builtins(struct)
    for name in times:
        if fields[name] is not None:
            fields[name] = rfc3339(fields[name])
    return fields

"""From a message to readings: the topic names yard and hive, the payload is SenML or a mapped device's.

A pack is broken as a whole where it is no valid SenML. Where only some of its records cannot be used, the others still
count: a wild humidity must not cost the weight beside it.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from paho.mqtt.client import topic_matches_sub

from hivemon.errors import Unusable
from hivemon.intake.devices import DeviceMap
from hivemon.intake.moments import FUTURE
from hivemon.intake.names import is_id
from hivemon.intake.senml import Record, resolve
from hivemon.intake.units import LIMITS, SENML_UNITS, check_limits, to_own_unit
from hivemon.model import HIVE_QUANTITIES, UNITS, Millis, Quantity, Reading, rfc3339

if TYPE_CHECKING:
    from hivemon.config import Settings

EARLIEST: Millis = 1_420_070_400_000
"""2015-01-01T00:00:00Z: an earlier time comes from a clock that was never set (they start at 1970, 1980, 2000 or 2010).
Our rule; older recordings come in as files."""
AHEAD = "lies in the future"
"""In the reason of what was refused since this machine's clock is behind its time."""
_MOST_REMEMBERED = 4096
"""Topics and names whose meaning is kept at hand."""

_QUANTITY_AT_END = re.compile(
    "(?:^|[-:./_])(" + "|".join(sorted((q.value for q in Quantity), key=len, reverse=True)) + r")\Z",
)


class Place(NamedTuple):
    """Whose readings a topic carries: a hive's, or the yard's own (hive None)."""

    yard: str
    hive: str | None


class Translated(NamedTuple):
    """What a message held: its usable readings, and for every record that was refused the reason."""

    readings: list[Reading]
    refused: list[str]


class Translator:
    """Turns messages into readings by one configuration. Used by one thread.

    Raises:
        ConfigError: A [[device]] cannot be.
    """

    def __init__(self, settings: Settings) -> None:
        self._root = settings.broker.topic.strip("/") if settings.broker else "hives"
        self._yards = frozenset(yard.id for yard in settings.yard)
        shared = settings.broker is not None and settings.broker.share is not None
        self._heard = sorted(self._yards) if shared else ["+"]
        self._devices: dict[str, list[DeviceMap]] = {}
        for device in settings.device:
            self._devices.setdefault(device.topic, []).append(DeviceMap(device))
        self._places: dict[str, Place] = {}
        self._meanings: dict[tuple[str, str], Quantity] = {}

    def topics(self) -> list[str]:
        """Return the topic filters to subscribe to; a device's topic that another covers is left out."""
        own = [f"{self._root}/{yard}{rest}" for yard in self._heard for rest in ("/+", "")]
        return [*own, *(topic for topic in self._devices if not any(topic_matches_sub(o, topic) for o in own))]

    def readings(self, topic: str, payload: bytes, received: Millis, *, retained: bool = False) -> list[Reading]:
        """Like `translate`, but raises Unusable when anything in the message was refused."""
        found = self.translate(topic, payload, received, retained=retained)
        if found.refused:
            raise Unusable("; ".join(found.refused))
        return found.readings

    def translate(self, topic: str, payload: bytes, received: Millis, *, retained: bool = False) -> Translated:
        """Translate one message.

        Args:
            topic: Where it was published.
            payload: Its bytes.
            received: When it arrived; stands in for a missing time.
            retained: Whether the broker kept it from earlier, so that `received` says nothing about its time.

        Raises:
            Unusable: Nothing in it can be used, with the reason.
        """
        devices = self._devices.get(topic)
        if devices is not None:
            return self._from_devices(devices, payload, received, retained=retained)
        place = self._places.get(topic) or self._find_place(topic)
        found = Translated([], [])
        for record in resolve(payload, received):
            try:
                found.readings.append(self._reading(place, record, received, retained))
            except Unusable as error:
                found.refused.append(f"{record.name}: {error}")
        if not found.readings:
            raise Unusable("; ".join(found.refused))
        return found

    def _from_devices(
        self, devices: list[DeviceMap], payload: bytes, received: Millis, *, retained: bool
    ) -> Translated:
        found = Translated([], [])
        for device in devices:
            try:
                reading = device.reading(payload, received)
                check_limits(reading.value, reading.quantity)
                _check_time(reading.time, received, relative=retained and reading.stamped)
                found.readings.append(reading)
            except Unusable as error:
                found.refused.append(f"{device.settings.quantity.value}: {error}")
        if not found.readings:
            raise Unusable("; ".join(found.refused))
        return found

    def _reading(self, place: Place, record: Record, received: Millis, retained: bool) -> Reading:
        name, unit, value, time, stamped, _ = record
        quantity = self._meanings.get((name, unit)) or self._find_meaning(name, unit)
        if type(value) is not float:
            raise Unusable("holds no number (v)")
        if unit and unit != UNITS[quantity]:
            value = to_own_unit(value, unit, quantity)
        low, high = LIMITS[quantity]
        if not low <= value <= high:
            check_limits(value, quantity)
        if time > received + FUTURE or time < EARLIEST or (retained and stamped):
            _check_time(time, received, relative=retained and stamped)
        if (quantity in HIVE_QUANTITIES) is (place.hive is None):
            raise Unusable(_misplaced(quantity, self._root, place))
        return Reading(time, place.yard, place.hive, quantity, value, stamped)

    def _find_place(self, topic: str) -> Place:
        """Read `<root>/<yard>/<hive>` or `<root>/<yard>` and remember it."""
        rest = topic.removeprefix(self._root + "/")
        parts = rest.split("/")
        if rest == topic or len(parts) > 2:  # noqa: PLR2004 - yard and hive
            raise Unusable(f"the topic {topic!r} is not {self._root}/<yard>/<hive> or {self._root}/<yard>")
        if parts[0] not in self._yards:
            known = ", ".join(sorted(self._yards))
            raise Unusable(f"there is no yard {parts[0]!r} in the configuration (known: {known})")
        hive = parts[1] if len(parts) > 1 else None
        if hive is not None and not is_id(hive):
            raise Unusable(f"the hive id {hive!r} may hold A-Z a-z 0-9 . _ - only, 64 at most, first a letter or digit")
        if len(self._places) >= _MOST_REMEMBERED:
            self._places.clear()
        place = self._places[topic] = Place(parts[0], hive)
        return place

    def _find_meaning(self, name: str, unit: str) -> Quantity:
        """Find the quantity a full name ends in, and check that its unit may stand in SenML; remember both."""
        found = _QUANTITY_AT_END.search(name)
        if found is None:
            known = ", ".join(quantity.value for quantity in Quantity)
            raise Unusable(f"the name ends in no quantity known here ({known})")
        quantity = Quantity(found.group(1))
        if unit and unit not in SENML_UNITS:
            raise Unusable(f"{quantity.value} in {unit!r} is not understood: it is wanted in {UNITS[quantity]!r}")
        if len(self._meanings) >= _MOST_REMEMBERED:
            self._meanings.clear()
        self._meanings[name, unit] = quantity
        return quantity


def _check_time(time: Millis, received: Millis, *, relative: bool) -> None:
    """Refuse a time that cannot be right; `relative`: it rests on the receipt of a message kept from earlier."""
    if relative:
        raise Unusable("a retained message without an absolute time: nobody knows when it was measured")
    if time > received + FUTURE:
        raise Unusable(f"its time {rfc3339(time)} {AHEAD} (received {rfc3339(received)}): check the clock")
    if time < EARLIEST:
        raise Unusable(f"its time {rfc3339(time)} comes from a clock that was never set")


def _misplaced(quantity: Quantity, root: str, place: Place) -> str:
    if place.hive is None:
        return f"{quantity.value} belongs to a hive: publish it to {root}/{place.yard}/<hive>"
    return f"{quantity.value} belongs to the yard: publish it to {root}/{place.yard}"

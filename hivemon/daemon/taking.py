"""Messages into the store: translated, committed in one transaction, only then acknowledged.

What a crash costs: before the commit nothing (the broker sends the messages again), between commit and acknowledgement
a repeat (known again as doubles). With the embedded broker, which dies with the program, it is the sender that has no
acknowledgement and sends again.
"""

from __future__ import annotations

import logging
from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

from hivemon.daemon.judge import LATE_READINGS
from hivemon.daemon.slow_clocks import SlowClocks, place_of
from hivemon.errors import Unusable
from hivemon.intake.link import Message
from hivemon.intake.translate import AHEAD, Translator
from hivemon.model import UNITS, rfc3339
from hivemon.store.points import to_line
from hivemon.store.quarantine import KEPT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.daemon.judge import YardJudge
    from hivemon.model import Millis, Reading
    from hivemon.store import Added, Store

MOST_STRANGERS = 1_000
"""Hives of a yard that are taken in without being configured. Our rule: more than any yard feeds, and a client that
makes up names cannot fill the disk and the memory with them."""

log = logging.getLogger("hivemon.daemon")


class Taken(NamedTuple):
    """What became of messages: new readings, doubles, and records or messages refused."""

    readings: int
    duplicates: int
    refused: int


class _Refused(NamedTuple):
    message: Message
    reason: str


class Taking:
    """Takes messages in for all yards."""

    def __init__(self, settings: Settings, store: Store, judges: Mapping[str, YardJudge]) -> None:
        self.translator = Translator(settings)
        self.slow_clocks = SlowClocks()
        self._settings = settings
        self._store = store
        self._judges = judges
        self._known = {(hive.yard, hive.id) for hive in settings.hive}
        strangers = {(adopted.yard, adopted.hive) for adopted in store.adopted()} - self._known
        self._known |= strangers
        self._adopted = Counter(yard for yard, _ in strangers)

    def take(self, messages: Sequence[Message], now: Millis) -> Taken:
        """Keep what the messages hold; when this returns it is on the disk. Raises StoreError, and nothing is kept."""
        readings, refused = self._translate(messages)
        added = self._keep(readings, refused, now)
        return Taken(len(added.new), added.duplicates, len(refused) + len(added.conflicts))

    def _keep(self, readings: list[Reading], refused: Sequence[_Refused], now: Millis) -> Added:
        """Commit readings and what was refused, then hand the readings on to be judged."""
        strangers = self._strangers(readings)
        with self._store.transaction():
            added = self._store.add_readings(readings)
            for message, reason in refused:
                self._store.quarantine(reason, message.topic, message.payload, message.received)
            for reading in added.conflicts:
                self._store.quarantine(_conflict(reading), _where(reading), repr(reading.value).encode(), now)
            for (yard, hive), time in strangers.items():
                self._store.adopt(yard, hive, time)
            by_yard = _by_yard(added.new)
            for yard, new in by_yard.items():
                self._drop_wrong_states(yard, new)
            if added.new and self._settings.influx is not None:
                self._store.outbox_put([to_line(reading) for reading in added.new], now)
        for yard, new in by_yard.items():
            self._judges[yard].add(new)
        for yard, hive in strangers:
            self._known.add((yard, hive))
            self._adopted[yard] += 1
            log.info("new hive %s in yard %s: taken in; add a [[hive]] for it to the configuration", hive, yard)
        return added

    def take_again(self, now: Millis) -> int:
        """Take what was set aside only because the machine's clock was behind, now that it has been set.

        Readings with a time of their own alone: nobody knows when the others came. Returns how many are new; they stay
        in quarantine too, as far as that reaches back. Raises StoreError.
        """
        found: list[Reading] = []
        for old in self._store.quarantined(KEPT):
            if AHEAD in old.reason and old.size == len(old.payload):
                message = Message(old.topic, old.payload, now, True, (0, 0))  # True: takes no reading without a time
                found += self._translate([message])[0]
        if not found:
            return 0
        new = len(self._keep(found, [], now).new)
        if new:
            log.info("the clock was set: %d readings that it had put in the future are taken in", new)
        return new

    def _translate(self, messages: Sequence[Message]) -> tuple[list[Reading], list[_Refused]]:
        """Turn messages into readings; whatever happens with one of them, the others are not held up."""
        readings: list[Reading] = []
        refused: list[_Refused] = []
        met: set[tuple[str, str]] = set()
        translate = self.translator.translate
        for message in messages:
            try:
                found = translate(message.topic, message.payload, message.received, retained=message.retained)
            except Unusable as error:
                refused.append(_Refused(message, str(error)))
            except Exception:
                log.exception("a message of %s could not be read for an error of the program's own", message.topic)
                refused.append(_Refused(message, "an error of the program's own; please report it"))
            else:
                if self._crowded(found.readings, met):
                    refused.append(_Refused(message, _CROWDED))
                    continue
                readings += found.readings
                self.slow_clocks.heard(message, found.readings)
                if found.refused:
                    refused.append(_Refused(message, "; ".join(found.refused)))
        return readings, refused

    def _crowded(self, readings: Sequence[Reading], met: set[tuple[str, str]]) -> bool:
        """Tell whether a message is of one stranger too many; `met` are those that these messages bring, and grows."""
        if not readings or readings[0].hive is None:
            return False
        place = (readings[0].yard, readings[0].hive)  # a message speaks for one place
        if place in self._known or place in met:
            return False
        if self._adopted[place[0]] + sum(yard == place[0] for yard, _ in met) >= MOST_STRANGERS:
            return True
        met.add(place)
        return False

    def _strangers(self, readings: Sequence[Reading]) -> dict[tuple[str, str], Millis]:
        """Return hives never seen before with the time of their first reading."""
        found: dict[tuple[str, str], Millis] = {}
        known = self._known
        for reading in readings:
            hive = reading.hive
            if hive is not None and (reading.yard, hive) not in known:
                found.setdefault((reading.yard, hive), reading.time)
        return found

    def _drop_wrong_states(self, yard: str, new: Sequence[Reading]) -> None:
        """Where readings come late, drop the kept states they make wrong, and have the yard judged again."""
        judge = self._judges[yard]
        late = judge.earliest_late(new)
        if late is not None:
            self._store.drop_snapshots(yard, late)
            judge.go_back(LATE_READINGS)


_CROWDED = f"{MOST_STRANGERS:,} hives of this yard are in no [[hive]] already: write this one into the configuration"


def _by_yard(readings: Sequence[Reading]) -> dict[str, list[Reading]]:
    found: dict[str, list[Reading]] = {}
    for reading in readings:
        found.setdefault(reading.yard, []).append(reading)
    return found


def _where(reading: Reading) -> str:
    return f"{place_of(reading)} {reading.quantity.value}"


def _conflict(reading: Reading) -> str:
    value = f"{reading.value:g} {UNITS[reading.quantity]}"
    return f"another value for {rfc3339(reading.time)} was kept already: this one ({value}) is left out"

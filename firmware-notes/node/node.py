"""The node: measure, keep, and hand over what the broker acknowledges. No hardware in here; `main.py` has that."""

from packs import pack
from ring import DATED

AT_ONCE = 20
"""Readings in one pack: about 3 kB, which a small chip holds easily beside TLS."""


class Node:
    """One hive's node.

    `sensors` returns four values (kg, °C, %RH, V), None where a sensor gave nothing. `connect` returns a linked client
    with the `publish` and `disconnect` of umqtt.simple, or raises OSError. `session` tells this stretch of power from
    earlier ones. `alive` is called after every pack that was acknowledged, for a watchdog.
    """

    def __init__(self, topic, sensors, ring, clock, connect, session, alive=lambda: None):
        """Put the parts together; nothing is measured or sent yet."""
        self._topic = topic
        self._sensors = sensors
        self._ring = ring
        self._clock = clock
        self._connect = connect
        self._session = session
        self._alive = alive

    def measure(self):
        """Keep one reading, with the time or, before the clock is set, with what will become the time."""
        values = self._sensors()
        session = DATED if self._clock.known() else self._session
        self._ring.add(session, self._clock.now(), values)

    def set_clock(self):
        """Set the clock if it can be, and date what has waited for it. A clock that runs is set again: it drifts."""
        knew = self._clock.known()
        try:
            moved = self._clock.set()
        except OSError:  # no time to be had now: what is dated can still be sent
            return
        if not knew and self._clock.known():
            self._ring.date(self._session, moved)

    def send(self):
        """Hand over what is kept, pack by pack; return how many readings were acknowledged.

        At QoS 1 `publish` returns when the broker has acknowledged. Whatever fails before that, the reading stays and
        is sent again: hivemon stores it once, since time and value are the same.
        """
        sent = 0
        client = None
        try:
            client = self._connect()
            while True:
                readings = self._ring.pending(AT_ONCE, self._session)
                if not readings:
                    break
                payload = pack(readings)
                if payload:
                    client.publish(self._topic, payload, False, 1)
                self._ring.acknowledge(readings[-1][0])
                sent += len(readings)
                self._alive()
        except OSError as error:
            print("kept for later:", error)
        finally:
            _leave(client)
        return sent


def _leave(client):
    """Say goodbye where there is somebody to say it to."""
    if client is None:
        return
    try:
        client.disconnect()
    except OSError as error:
        print("the link was already gone:", error)

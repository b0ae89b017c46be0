"""Plays a readings file into a broker as nodes would: in time order, one SenML pack a hive and moment, at QoS 1.

A crash costs nothing: playing again publishes the same readings, which the store knows again.
"""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING, NamedTuple, Self

import msgspec
import numpy as np
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion

from hivemon.errors import LinkError
from hivemon.intake.files import read_readings
from hivemon.intake.link import explain_error, explain_reason, tls_context
from hivemon.model import UNITS, Millis

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from hivemon.config import BrokerSettings
    from hivemon.intake.files import Batch

IN_FLIGHT = 200
"""Most messages that the broker has not acknowledged yet."""
ANSWER_SECONDS = 30.0
"""Longest wait for an acknowledgement before the broker is given up."""

_encode = msgspec.json.Encoder().encode


class Pack(NamedTuple):
    """What one hive (None: the yard itself) says at one moment, ready to be published."""

    time: Millis
    topic: str
    payload: bytes


def packs(batch: Batch, root: str = "hives") -> Iterator[Pack]:
    """Turn a batch of readings into packs, in order of time across all its yards and hives."""
    keys = [(yard, stream) for yard, streams in batch.items() for stream in streams]
    if not keys:
        return
    time_ = np.concatenate([batch[yard][stream].time for yard, stream in keys])
    value = np.concatenate([batch[yard][stream].value for yard, stream in keys])
    key = np.repeat(np.arange(len(keys)), [len(batch[yard][stream].time) for yard, stream in keys])
    topics = [f"{root}/{yard}/{stream.hive}" if stream.hive else f"{root}/{yard}" for yard, stream in keys]
    place = np.array([sorted(set(topics)).index(topic) for topic in topics])
    order = np.lexsort((key, place[key], time_))
    records: list[dict[str, object]] = []
    before: tuple[Millis, str] | None = None
    for moment, at, number in zip(time_[order].tolist(), key[order].tolist(), value[order].tolist(), strict=True):
        here = (moment, topics[at])
        if before is not None and here != before:
            yield Pack(*before, _encode(records))
            records = []
        quantity = keys[at][1].quantity
        record: dict[str, object] = {"n": quantity.value, "u": UNITS[quantity], "v": number}
        records.append(record if records else {"bt": moment / 1000} | record)
        before = here
    if before is not None:
        yield Pack(*before, _encode(records))


def play(
    path: Path,
    broker: BrokerSettings,
    *,
    speed: float | None = None,
    progress: Callable[[Millis, int], None] | None = None,
    stopping: Callable[[], bool] = lambda: False,
) -> int:
    """Publish a readings file and return the messages that the broker has acknowledged.

    Args:
        path: The readings file.
        broker: Where to; `broker.topic` is the root of the topics.
        speed: How many times faster than it was; None: as fast as the broker takes it.
        progress: Called with the moment reached and the messages published so far.
        stopping: Asked before each message; True ends the play.

    Raises:
        InputError: The file cannot be read.
        LinkError: The broker cannot be reached, refuses, or stops answering.
    """
    with _Sender(broker) as sender:
        began, first = time.monotonic(), None
        for batch in read_readings(path):
            for pack in packs(batch, broker.topic):
                first = pack.time if first is None else first
                if speed is not None and not _wait_until(began + (pack.time - first) / 1000 / speed, stopping):
                    return sender.finish()
                if stopping():
                    return sender.finish()
                sender.send(pack)
                if progress:
                    progress(pack.time, sender.sent)
        return sender.finish()


def _wait_until(moment: float, stopping: Callable[[], bool]) -> bool:
    """Sleep until a moment of the monotonic clock; False when told to stop."""
    while (left := moment - time.monotonic()) > 0:
        if stopping():
            return False
        time.sleep(min(left, 0.1))
    return True


class _Sender:
    """A publisher that has a bounded number of messages under way."""

    def __init__(self, broker: BrokerSettings) -> None:
        self.sent = 0
        self._broker = broker
        self._room = threading.Semaphore(IN_FLIGHT)
        self._answered = threading.Event()
        self._refusal = ""
        # Two clients of one name would throw each other out: the player's is never the daemon's.
        name = f"{broker.client_id}-player"
        self._client = Client(CallbackAPIVersion.VERSION2, name, protocol=MQTTProtocolVersion.MQTTv311)
        self._client.max_inflight_messages_set(IN_FLIGHT)
        if broker.user is not None:
            self._client.username_pw_set(broker.user, broker.password())
        if broker.uses_tls:
            self._client.tls_set_context(tls_context(broker))
        self._client.on_connect = self._on_connect
        self._client.on_publish = lambda *_: self._room.release()

    def __enter__(self) -> Self:
        where = f"{self._broker.host}:{self._broker.actual_port}"
        try:
            self._client.connect(self._broker.host, self._broker.actual_port)
        except OSError as error:
            raise LinkError(f"cannot reach the broker {where}: {explain_error(error, self._broker)}") from error
        self._client.loop_start()
        if not self._answered.wait(ANSWER_SECONDS) or self._refusal:
            self._client.loop_stop()
            raise LinkError(f"the broker {where} does not let us in: {self._refusal or 'it does not answer'}")
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def send(self, pack: Pack) -> None:
        """Publish as soon as there is room; raises LinkError when the broker has stopped answering."""
        self._take_room()
        result = self._client.publish(pack.topic, pack.payload, qos=1)
        if result.rc not in (MQTTErrorCode.MQTT_ERR_SUCCESS, MQTTErrorCode.MQTT_ERR_NO_CONN):
            raise LinkError(f"the broker takes no more messages: {result.rc}")
        self.sent += 1

    def finish(self) -> int:
        """Wait until everything is acknowledged; return how many messages were."""
        for _ in range(IN_FLIGHT):
            self._take_room()
        for _ in range(IN_FLIGHT):
            self._room.release()
        return self.sent

    def _take_room(self) -> None:
        if not self._room.acquire(timeout=ANSWER_SECONDS):
            raise LinkError(f"the broker {self._broker.host} has stopped answering", hint="is it still running?")

    def _on_connect(self, _client: Client, _data: object, _flags: object, reason: object, _properties: object) -> None:
        if getattr(reason, "is_failure", False):
            self._refusal = explain_reason(getattr(reason, "value", 0), str(reason), self._broker)
        self._answered.set()

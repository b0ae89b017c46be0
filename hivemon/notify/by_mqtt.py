"""A channel that publishes retained messages at QoS 1, each over a connection of its own.

MQTT 5 first: only its acknowledgement says whether the broker's access rules let the message through (MQTT 5.0 section
3.4.2.1). 3.1.1 where the broker speaks no 5.
"""

from __future__ import annotations

import os
import threading
from typing import TYPE_CHECKING, Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from hivemon.intake.link import explain_error, explain_reason, tls_context
from hivemon.notify.wire import to_json, topic_of

if TYPE_CHECKING:
    from paho.mqtt.reasoncodes import ReasonCode

    from hivemon.config import BrokerSettings
    from hivemon.config_notify import ChannelSettings
    from hivemon.store.notices import Message

CONNECT_SECONDS = 10.0
ANSWER_SECONDS = 5.0
"""Longest wait for the broker's answer to the greeting, and for its acknowledgement of the message."""
_UNSUPPORTED_VERSION = 132
_NO_ANSWER = f"the broker did not answer within {ANSWER_SECONDS:g} s"


class MqttChannel:
    """Publishes to `<topic>/<yard>/note` and its like, which no subscription of the intake covers.

    Raises ConfigError when the password or a certificate cannot be read.
    """

    def __init__(self, settings: ChannelSettings, broker: BrokerSettings, *, try_five: bool = True) -> None:
        self._name = settings.name
        self._root = settings.topic
        self._broker = broker
        self._password = broker.password()
        self._tls = tls_context(broker) if broker.uses_tls else None
        self._five = try_five

    def send(self, message: Message) -> str | None:
        """Publish a message; return None once the broker has it, or in plain words why it has not."""
        topic, payload = topic_of(message, self._root), to_json(message)
        attempt = _Attempt(self._client())
        fault = attempt.publish(self._broker, topic, payload)
        if self._five and attempt.speaks_no_five:
            self._five = False
            fault = _Attempt(self._client()).publish(self._broker, topic, payload)
        return fault

    def _client(self) -> Client:
        version = MQTTProtocolVersion.MQTTv5 if self._five else MQTTProtocolVersion.MQTTv311
        # Neither the intake's client id nor another channel's, which would throw that one out.
        own = f"{self._broker.session}-note-{self._name}-{os.getpid()}"
        client = Client(CallbackAPIVersion.VERSION2, own, protocol=version)
        client.connect_timeout = CONNECT_SECONDS
        if self._broker.user is not None:
            client.username_pw_set(self._broker.user, self._password)
        if self._tls is not None:
            client.tls_set_context(self._tls)
        return client


class _Attempt:
    """One connection and one message. `speaks_no_five`: the broker may not know MQTT 5."""

    def __init__(self, client: Client) -> None:
        self.speaks_no_five = False
        self._client = client
        self._answered = threading.Event()
        self._taken = threading.Event()
        self._greeting: ReasonCode | None = None
        self._receipt: ReasonCode | None = None
        client.on_connect = self._on_connect
        client.on_publish = self._on_publish

    def publish(self, broker: BrokerSettings, topic: str, payload: bytes) -> str | None:
        """Connect, publish, wait for the acknowledgement, say goodbye; return None or what went wrong."""
        try:
            self._client.connect(broker.host, broker.actual_port)
        except OSError as error:
            return explain_error(error, broker)
        self._client.loop_start()
        try:
            return self._talk(broker, topic, payload)
        finally:
            self._client.disconnect()
            self._client.loop_stop()

    def _talk(self, broker: BrokerSettings, topic: str, payload: bytes) -> str | None:
        if not self._answered.wait(ANSWER_SECONDS) or self._greeting is None:
            # Some brokers fall silent on a version they do not know.
            self.speaks_no_five = True
            return _NO_ANSWER
        if self._greeting.is_failure:
            self.speaks_no_five = self._greeting.value == _UNSUPPORTED_VERSION
            return explain_reason(self._greeting.value, str(self._greeting), broker)
        self._client.publish(topic, payload, qos=1, retain=True)
        if not self._taken.wait(ANSWER_SECONDS):
            return _NO_ANSWER
        if self._receipt is not None and self._receipt.is_failure:
            return f"it does not take messages to {topic}: {self._receipt}; look at the broker's access rules"
        return None

    def _on_connect(self, _client: Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        self._greeting = reason
        self._answered.set()

    def _on_publish(self, _client: Client, _data: Any, _packet: int, reason: ReasonCode, _properties: Any) -> None:
        self._receipt = reason
        self._taken.set()

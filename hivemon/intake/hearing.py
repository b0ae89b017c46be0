"""Listening in at a broker for a while: everything that is published, nothing acknowledged, nothing left behind.

Unlike the daemon's link it has a passing session of its own, so that a broker keeps nothing for it afterwards and a
running daemon is not disturbed. Messages are heard at QoS 0: one more or less tells as much.
"""

from __future__ import annotations

import secrets
import threading
import time
from typing import TYPE_CHECKING, Any, Self

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from hivemon.errors import LinkError
from hivemon.intake.link import Message, explain_error, explain_reason, tls_context

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from types import TracebackType

    from paho.mqtt.reasoncodes import ReasonCode

    from hivemon.config import BrokerSettings

ANSWER_SECONDS = 10.0
"""Longest wait for the broker's answer."""
MOST_MESSAGES = 50_000
"""More are not kept: a busy broker must not fill the memory. Our rule."""
_REFUSED_FROM = 128

HINT = "look at [broker] in hivemon.toml: host, port, tls, user and its password"


class Hearing:
    """Hears what a broker is told while the `with` block lasts.

    Args:
        broker: Address, TLS, user and password.
        topics: Topic filters; `#` is everything but the broker's own.

    Raises:
        LinkError: On entering, when the broker cannot be reached or refuses.
        ConfigError: A password or certificate file cannot be read.
    """

    def __init__(self, broker: BrokerSettings, topics: Sequence[str] = ("#",)) -> None:
        self._broker = broker
        self._topics = list(topics)
        self._messages: list[Message] = []
        self._answered = threading.Event()
        self._refusal = ""
        self._client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"hivemon-hearing-{secrets.token_hex(4)}",
            protocol=MQTTProtocolVersion.MQTTv311,
            clean_session=True,
            reconnect_on_failure=True,
        )
        if broker.user is not None:
            self._client.username_pw_set(broker.user, broker.password())
        if broker.uses_tls:
            self._client.tls_set_context(tls_context(broker))
        self._client.connect_timeout = ANSWER_SECONDS
        self._client.on_connect = self._on_connect
        self._client.on_subscribe = self._on_subscribe
        self._client.on_message = self._on_message

    def __enter__(self) -> Self:
        where = f"{self._broker.host}:{self._broker.actual_port}"
        try:
            self._client.connect(self._broker.host, self._broker.actual_port)
        except OSError as error:
            reason = explain_error(error, self._broker)
            raise LinkError(f"no link to the broker {where}: {reason}", hint=HINT) from error
        self._client.loop_start()
        answered = self._answered.wait(ANSWER_SECONDS)
        if not answered or self._refusal:
            self.close()
            reason = self._refusal or f"it did not answer within {ANSWER_SECONDS:g} s"
            raise LinkError(f"no link to the broker {where}: {reason}", hint=HINT)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def messages(self) -> list[Message]:
        """What has been heard so far, in order of arrival."""
        return list(self._messages)

    def listen(self, seconds: float, tell: Callable[[int, int], None] | None = None) -> list[Message]:
        """Wait and return what has been heard; `tell` is called with messages and topics so far, twice a second.

        Ctrl-C ends the waiting, not the program: what has been heard counts.
        """
        end = time.monotonic() + seconds
        try:
            while (left := end - time.monotonic()) > 0:
                time.sleep(min(0.5, left))
                if tell is not None:
                    heard = self.messages
                    tell(len(heard), len({message.topic for message in heard}))
        except KeyboardInterrupt:
            pass
        return self.messages

    def close(self) -> None:
        """Say goodbye."""
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(self, client: Client, _data: Any, _flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if reason.is_failure:
            self._refusal = explain_reason(reason.value, str(reason), self._broker)
            self._answered.set()
        else:
            client.subscribe([(topic, 0) for topic in self._topics])

    def _on_subscribe(self, _client: Client, _data: Any, _packet: int, reasons: list[ReasonCode], _props: Any) -> None:
        if all(reason.value >= _REFUSED_FROM for reason in reasons):
            self._refusal = f"it refuses to tell of {', '.join(self._topics)}: look at its access rules"
        self._answered.set()

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        if len(self._messages) >= MOST_MESSAGES:
            return
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return  # a topic that is not UTF-8 is none (MQTT 3.1.1 section 1.5.3), and cannot be configured
        received = time.time_ns() // 1_000_000
        self._messages.append(Message(topic, bytes(message.payload), received, message.retain, (0, 0)))

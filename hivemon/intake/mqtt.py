"""The link to an MQTT broker: with `bulk_client`, the one place that touches paho-mqtt.

MQTT 5 first, 3.1.1 where the broker speaks no 5. QoS 1 in a persistent session, acknowledged by hand once the daemon
has committed. One thread of its own owns the client, connects, reads, and sends the acknowledgements that other threads
hand over; so no lock is held while anybody waits, and nothing can end it but `stop`.

What a crash costs, at each hand-over:
- broker to link, before `ack` reached the broker: nothing; the broker keeps the message and sends it again (a repeat,
  which the store takes for what it is), provided its queue for an absent client is long enough.
- `ack` handed over but not yet sent: a repeat.
- a message published at QoS 0: a loss, by the sender's choice.
"""

from __future__ import annotations

import contextlib
import logging
import selectors
import socket
import threading
import time
from collections import deque
from typing import TYPE_CHECKING, Any

from paho.mqtt.client import Client, MQTTMessage, error_string
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from hivemon.intake.bulk_client import BulkClient
from hivemon.intake.link import (
    STEADY_SECONDS,
    Backoff,
    LinkState,
    LinkStatus,
    Message,
    explain_error,
    explain_reason,
    explain_refused,
    tls_context,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from paho.mqtt.reasoncodes import ReasonCode

    from hivemon.config import BrokerSettings
    from hivemon.model import Millis

KEEPALIVE_SECONDS = 30
CONNECT_SECONDS = 10.0
"""Longest wait for the TCP connection."""
ANSWER_SECONDS = 5.0
"""Longest wait for the broker's answer (CONNACK) once the connection stands."""
SUBSCRIBED_SECONDS = 15.0
"""Longest wait for its answer to the subscription (SUBACK) after that. A broker that is busy takes its time; ours."""
SESSION_SECONDS = 30 * 24 * 3600
"""How long the broker is asked to keep the session of an absent daemon (MQTT 5 session expiry)."""
RECEIVE_MAXIMUM = 2000
"""Most messages that may be unacknowledged (MQTT 5 receive maximum). At twice as many, from a broker that knows no such
maximum or at QoS 0, reading pauses."""
LARGEST_PACKET = 1024 * 1024
"""Bytes; the broker is asked to keep larger ones to itself (MQTT 5 maximum packet size). Packs have 64 kB at most."""
_CLOSED = "the broker closed the connection"
_UNSUPPORTED_VERSION = 132
_NOT_ALLOWED = 135
_REFUSED_FROM = 128
_READS_IN_A_ROW = 500

log = logging.getLogger("hivemon.link")


class MqttLink:
    """Keeps a link to one broker and hands over what arrives.

    Args:
        broker: Address, TLS, user and password.
        topics: Topic filters to subscribe to.
        on_messages: Called from the link's thread with what has arrived; must only put it somewhere and return.
        try_five: False where the broker is known to speak 3.1.1 only.
        leave: Topic filters of an earlier run that are wanted no more; the broker remembers them with the session.
        receive_maximum: Most messages that may be unacknowledged.
        clock: Milliseconds UTC now; stamps the receipt.

    Raises:
        ConfigError: A password or certificate file cannot be read.
    """

    def __init__(
        self,
        broker: BrokerSettings,
        topics: Sequence[str],
        on_messages: Callable[[list[Message]], None],
        *,
        try_five: bool = True,
        leave: Sequence[str] = (),
        receive_maximum: int = RECEIVE_MAXIMUM,
        clock: Callable[[], Millis] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self._broker = broker
        self._topics = list(topics)
        self._leave = list(leave)
        self._on_messages = on_messages
        self._receive_maximum = receive_maximum
        self._clock = clock
        self._password = broker.password()
        self._tls = tls_context(broker) if broker.uses_tls else None
        self._preferred = MQTTProtocolVersion.MQTTv5 if try_five else MQTTProtocolVersion.MQTTv311
        self._version = self._preferred
        self._answered = self._subscribed = False
        self._session = ""
        self._generation = 0
        self._arrived: list[Message] = []
        self._acks: deque[tuple[int, int]] = deque()
        self._unacknowledged = 0
        self._taking = True
        self._stopping = threading.Event()
        self._wake_out, self._wake_in = socket.socketpair()
        self._wake_out.setblocking(False)
        self._wake_in.setblocking(False)
        self._backoff = Backoff()
        self._status = LinkStatus(LinkState.STARTING, "", "", None, self._clock())
        self._thread = threading.Thread(target=self._run, name="mqtt-link", daemon=True)

    # ------------------------------------------------------------ for other threads

    @property
    def status(self) -> LinkStatus:
        """What the link is doing, as of now."""
        return self._status

    @property
    def alive(self) -> bool:
        """Whether its thread works; nothing but `stop` should ever end it."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Begin connecting; returns at once, whether or not the broker is there."""
        self._thread.start()

    def ack(self, messages: Sequence[Message]) -> None:
        """Acknowledge messages whose readings are committed; those of an earlier connection are left to come again."""
        self._acks.extend(message.token for message in messages)
        self._wake()

    def hold(self) -> None:
        """Take no further messages; what the broker has left stays with it. Acknowledgements still go out."""
        self._taking = False
        self._wake()

    def stop(self, seconds: float = 3.0) -> None:
        """Send the acknowledgements handed over so far, say goodbye (the session stays), and end the thread."""
        self._stopping.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(seconds)
        if not self._thread.is_alive():
            self._wake_in.close()
            self._wake_out.close()

    def _wake(self) -> None:
        with contextlib.suppress(BlockingIOError, OSError):
            self._wake_in.send(b"!")

    # ------------------------------------------------------------ the link's own thread

    def _run(self) -> None:
        while not self._stopping.is_set():
            started = time.monotonic()
            try:
                reason = self._connection()
                if reason == _CLOSED and self._answered and time.monotonic() - started < STEADY_SECONDS:
                    reason += f" soon after it was made (has another client the id {self._broker.session!r}?)"
            except OSError as error:
                reason = explain_error(error, self._broker)
            except Exception:
                log.exception("the link failed in a way it should not; connecting anew")
                reason = "an error of the program's own"
            if self._stopping.is_set():
                break
            if reason is None:
                continue
            self._say(LinkState.DOWN, reason)
            self._stopping.wait(self._backoff.next(time.monotonic() - started))
        self._say(LinkState.STOPPED, "")

    def _connection(self) -> str | None:
        """Connect and work until the connection ends; return why, or None to try again at once."""
        client = self._client()
        self._answered = self._subscribed = False
        self._refusal: tuple[int, str] | None = None
        self._generation += 1
        self._unacknowledged = 0
        client.connect_timeout = CONNECT_SECONDS
        if self._version == MQTTProtocolVersion.MQTTv5:
            wishes: Any = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
            wishes.SessionExpiryInterval = SESSION_SECONDS
            wishes.ReceiveMaximum = self._receive_maximum
            wishes.MaximumPacketSize = LARGEST_PACKET
            client.connect(
                self._broker.host, self._broker.actual_port, KEEPALIVE_SECONDS, clean_start=False, properties=wishes
            )
        else:
            client.connect(self._broker.host, self._broker.actual_port, KEEPALIVE_SECONDS)
        try:
            return self._judge_end(self._pump(client))
        finally:
            self._goodbye(client)

    def _client(self) -> BulkClient:
        """Make a client for one connection: nothing of an earlier one can leak into it."""
        five = self._version == MQTTProtocolVersion.MQTTv5
        client = BulkClient(
            CallbackAPIVersion.VERSION2,
            client_id=self._broker.session,
            protocol=self._version,
            manual_ack=True,
            clean_session=None if five else False,
            reconnect_on_failure=False,
        )
        if self._broker.user is not None:
            client.username_pw_set(self._broker.user, self._password)
        if self._tls is not None:
            client.tls_set_context(self._tls)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_message = self._on_message
        # Says that writing is left to `_pump`: without it paho would write from inside every acknowledgement.
        client.on_socket_register_write = lambda *_: None
        return client

    def _pump(self, client: BulkClient) -> str:
        """Read, write and keep alive until the connection ends; return why."""
        began = time.monotonic()
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_out, selectors.EVENT_READ)
            while not self._stopping.is_set():
                reading = self._taking and self._unacknowledged < 2 * self._receive_maximum
                patience = 0.0 if reading and client.ahead else 1.0
                _watch(selector, client.socket(), reading=reading, writing=client.want_write())
                if any(key.fileobj is self._wake_out for key, _ in selector.select(patience)):
                    self._drain_wake()
                code = self._turn(client, reading=reading)
                if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
                    return _CLOSED if code in _LOST else error_string(code)
                if self._refusal is not None:
                    return self._refusal[1]
                if reading and (late := self._late(time.monotonic() - began)):
                    return late
        return "stopped"

    def _late(self, seconds: float) -> str:
        """Say what the broker should have answered by now, so many seconds after the connection was made."""
        if not self._answered and seconds > ANSWER_SECONDS:
            return f"the broker did not answer within {ANSWER_SECONDS:g} s"
        if not self._subscribed and seconds > ANSWER_SECONDS + SUBSCRIBED_SECONDS:
            return "the broker lets hivemon in, but does not say whether it will send it the readings"
        return ""

    def _turn(self, client: BulkClient, *, reading: bool) -> MQTTErrorCode:
        """Do what the socket allows now, acknowledgements first."""
        self._send_acks(client)
        code = MQTTErrorCode.MQTT_ERR_SUCCESS
        if client.want_write():
            code = client.loop_write()
        if reading and code == MQTTErrorCode.MQTT_ERR_SUCCESS:
            code = self._read(client)
        return client.loop_misc() if code == MQTTErrorCode.MQTT_ERR_SUCCESS else code

    def _read(self, client: BulkClient) -> MQTTErrorCode:
        """Read what is there and hand the messages over at once."""
        code = MQTTErrorCode.MQTT_ERR_SUCCESS
        for _ in range(_READS_IN_A_ROW):
            before = len(self._arrived)
            code = client.loop_read()
            if code != MQTTErrorCode.MQTT_ERR_SUCCESS:
                break
            if len(self._arrived) == before and not client.ahead:
                break
        if self._arrived:
            arrived, self._arrived = self._arrived, []
            self._unacknowledged += len(arrived)
            self._status = self._status._replace(last_message=arrived[-1].received)
            self._on_messages(arrived)
        return code

    def _send_acks(self, client: Client) -> None:
        while self._acks:
            generation, packet = self._acks.popleft()
            if generation == self._generation:
                self._unacknowledged -= 1
                if packet:
                    client.ack(packet, 1)

    def _drain_wake(self) -> None:
        with contextlib.suppress(BlockingIOError):
            while self._wake_out.recv(4096):
                pass

    def _judge_end(self, reason: str) -> str | None:
        """Decide what the end of a connection means for the next one; return why it ended, or None to go on at once."""
        five = self._version == MQTTProtocolVersion.MQTTv5
        if self._refusal is not None:
            code, reason = self._refusal
            if code == _UNSUPPORTED_VERSION and five:
                self._version = self._preferred = MQTTProtocolVersion.MQTTv311
                return None
        elif not self._answered and five:
            # Some brokers hang up, or fall silent, on a version they do not know instead of saying so.
            self._version = MQTTProtocolVersion.MQTTv311
            return None
        self._version = self._preferred
        return reason

    def _goodbye(self, client: Client) -> None:
        """End the connection in order where it still stands; the broker keeps the session."""
        try:
            if client.socket() is not None and self._answered:
                self._send_acks(client)
                client.disconnect()
                end = time.monotonic() + 1.0
                while client.socket() is not None and client.want_write() and time.monotonic() < end:
                    client.loop_write()
        except (OSError, ValueError) as error:
            log.debug("the goodbye did not reach the broker: %s", error)
        finally:
            left: Any = client.socket()
            if left is not None:
                left.close()

    def _say(self, state: LinkState, reason: str, refused: Sequence[str] = ()) -> None:
        """Take over a state; one log line when it, or its reason, is new."""
        before = self._status
        if (state, reason, tuple(refused)) == (before.state, before.reason, before.refused):
            return
        version = "5" if self._version == MQTTProtocolVersion.MQTTv5 else "3.1.1"
        self._status = before._replace(
            state=state, reason=reason, version=version, since=self._clock(), refused=tuple(refused)
        )
        where = f"{self._broker.host}:{self._broker.actual_port}"
        if state is LinkState.UP:
            log.info("linked to the broker %s (MQTT %s, %s)", where, version, reason)
        elif state is LinkState.DOWN:
            log.warning("no link to the broker %s: %s; trying again", where, reason)
        else:
            log.info("link to the broker %s stopped", where)
        if refused:
            log.error("%s", explain_refused(refused))

    # ------------------------------------------------------------ called by paho, within `_pump`

    def _on_connect(self, client: Client, _data: Any, flags: Any, reason: ReasonCode, _properties: Any) -> None:
        self._answered = True
        if reason.is_failure:
            self._refusal = (reason.value, explain_reason(reason.value, str(reason), self._broker))
            return
        if self._leave and flags.session_present:
            client.unsubscribe(self._leave)
        if self._version == MQTTProtocolVersion.MQTTv5:
            # Retained messages only with a new subscription, not at every reconnect (MQTT 5.0 section 3.8.3.1).
            options = SubscribeOptions(qos=1, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
            client.subscribe([(topic, options) for topic in self._topics])
        else:
            client.subscribe([(topic, 1) for topic in self._topics])
        self._session = "session resumed" if flags.session_present else "new session"

    def _on_disconnect(self, _client: Client, _data: Any, flags: Any, reason: ReasonCode, _properties: Any) -> None:
        if flags.is_disconnect_packet_from_server and self._refusal is None:
            self._refusal = (reason.value, explain_reason(reason.value, str(reason), self._broker))

    def _on_subscribe(
        self, _client: Client, _data: Any, _packet: int, reasons: list[ReasonCode], _properties: Any
    ) -> None:
        """Only now will readings come: the link is up, or of no use where every topic was refused."""
        given = list(zip(self._topics, reasons, strict=False))
        refused = [topic for topic, reason in given if reason.value >= _REFUSED_FROM]
        if len(refused) == len(given):
            self._refusal = (_NOT_ALLOWED, explain_refused(refused))
            return
        self._subscribed = True
        self._say(LinkState.UP, self._session, refused)
        for topic, reason in given:
            if reason.value < 1:
                log.warning("the broker gives %s with QoS 0 only: messages may be lost on the way", topic)

    def _on_message(self, _client: Client, _data: Any, message: MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = "(a topic that is not UTF-8)"
        token = (self._generation, message.mid if message.qos else 0)
        self._arrived.append(Message(topic, bytes(message.payload), self._clock(), message.retain, token))


_LOST = (MQTTErrorCode.MQTT_ERR_CONN_LOST, MQTTErrorCode.MQTT_ERR_NO_CONN, MQTTErrorCode.MQTT_ERR_CONN_REFUSED)


def _watch(selector: selectors.BaseSelector, sock: Any, *, reading: bool, writing: bool) -> None:
    """Wait for reading only when more is wanted, and for writing only when there is something to write."""
    events = (selectors.EVENT_READ if reading else 0) | (selectors.EVENT_WRITE if writing else 0)
    known = selector.get_map().get(sock) if sock is not None else None
    if known is None:
        if sock is not None and events:
            selector.register(sock, events)
    elif not events:
        selector.unregister(sock)
    elif known.events != events:
        selector.modify(sock, events)

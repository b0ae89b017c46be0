"""The broker inside hivemon (amqtt), for `demo` and for a beekeeper who has no other: MQTT 3.1.1, in memory.

`before_ack` sees each message before the broker acknowledges it: `intake/embedded.py` waits there for the daemon's
commit. Sessions and retained messages live as long as the program.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
import threading
from typing import TYPE_CHECKING, Any, Self

from amqtt.broker import Broker
from amqtt.errors import BrokerError
from amqtt.mqtt.packet import MQTTFixedHeader
from amqtt.plugins.base import BaseAuthPlugin

from hivemon.errors import LinkError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable
    from types import TracebackType

    BeforeAck = Callable[[str, bytes, int], Awaitable[bool]]

START_SECONDS = 10.0
STOP_SECONDS = 5.0

MOST_CLIENTS = 2_000
"""Clients at once; further ones wait. Our rule: whoever has more nodes has a broker of its own for them."""
LARGEST_PACKET = 256 * 1024
"""Bytes; MQTT itself allows 256 MB, and amqtt would hold each whole. Packs have 64 kB at most."""

log = logging.getLogger("hivemon.broker")


class LetAnyoneIn(BaseAuthPlugin):  # type: ignore[misc]
    """Lets every client in, as one with a name: amqtt forgets the sessions of those it takes for anonymous."""

    async def authenticate(self, *, session: Any) -> bool:  # noqa: ARG002 - the interface's
        """Accept the client."""
        return True


_read_header = MQTTFixedHeader.from_stream.__func__


async def _read_bounded(header: Any, reader: Any) -> Any:
    """Read a packet's header; one that announces too much ends the connection, as the end of the stream would."""
    found = await _read_header(header, reader)
    return None if found is not None and found.remaining_length > LARGEST_PACKET else found


# amqtt has no setting for this.
MQTTFixedHeader.from_stream = classmethod(_read_bounded)


class _Asking(Broker):  # type: ignore[misc]
    """A broker that asks before it acknowledges.

    amqtt makes a handler for each connection and gives every PUBLISH to its public `handle_publish`, in a task of its
    own, which delivers and acknowledges. Whoever must have no acknowledgement is hung up on: MQTT has a client send
    again what was not acknowledged when it is back, and not before (MQTT 3.1.1 section 4.4).
    """

    def __init__(self, settings: dict[str, Any], before_ack: BeforeAck) -> None:
        super().__init__(settings)
        self._before_ack = before_ack

    async def _initialize_client_session(self, *args: Any) -> tuple[Any, Any]:
        handler, session = await super()._initialize_client_session(*args)
        deliver = handler.handle_publish

        async def handle_publish(packet: Any) -> None:
            topic, data = packet.topic_name, packet.data
            if not topic or data is None or await self._before_ack(topic, bytes(data), packet.qos):
                await deliver(packet)
            elif packet.qos:
                await handler.writer.close()

        handler.handle_publish = handle_publish
        return handler, session


async def _at_once(_topic: str, _payload: bytes, _qos: int) -> bool:
    return True


class EmbeddedBroker:
    """Runs a broker in a thread of its own while the `with` block lasts; it listens once the block begins.

    Args:
        bind: The address to listen on; 127.0.0.1 is reached from this machine only.
        port: The TCP port; 0 takes a free one, which `port` then tells.
        before_ack: Awaited in the broker's thread with (topic, payload, QoS) before a message is delivered and
            acknowledged; False drops it without either, and hangs up on a sender that waits for the acknowledgement.

    Raises:
        LinkError: On entering, when the port is taken or the address is not this machine's.
    """

    def __init__(self, bind: str = "127.0.0.1", port: int = 1883, before_ack: BeforeAck = _at_once) -> None:
        self.bind = bind
        self.port = port
        self._before_ack = before_ack
        self._loop = asyncio.new_event_loop()
        self._broker: Any = None
        self._failure: BaseException | None = None
        self._listening = threading.Event()
        self._thread = threading.Thread(target=self._run, name="broker", daemon=True)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    @property
    def alive(self) -> bool:
        """Whether its thread runs."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Begin to listen; returns when the port is open."""
        self.port = _free_port(self.bind, self.port)
        for name in ("amqtt", "transitions"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        self._thread.start()
        if not self._listening.wait(START_SECONDS) or self._failure is not None:
            reason = self._failure.__cause__ or self._failure if self._failure else "it did not start in time"
            raise LinkError(f"the embedded broker cannot listen on {self.bind}:{self.port}: {reason}", hint=_HINT)
        log.info("embedded broker listens on %s:%d", self.bind, self.port)

    def stop(self) -> None:
        """Close all connections and the port; returns when the thread has ended."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(STOP_SECONDS)

    def call_soon(self, function: Callable[..., None], *arguments: Any) -> None:
        """Have something called in the broker's thread; nothing happens once it has ended."""
        with contextlib.suppress(RuntimeError):  # the loop is closed
            self._loop.call_soon_threadsafe(function, *arguments)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        # amqtt trips over clients that hang up early; that is theirs to mend and no news for the beekeeper.
        self._loop.set_exception_handler(lambda _, context: log.debug("broker: %s", context))
        try:
            self._loop.run_until_complete(self._open())
        except (BrokerError, OSError) as error:
            self._failure = error
            self._listening.set()
            self._end()
            return
        self._listening.set()
        self._loop.run_forever()
        with contextlib.suppress(Exception):  # its own shutdown trips over clients that left; the port closes anyway
            self._loop.run_until_complete(asyncio.wait_for(self._broker.shutdown(), STOP_SECONDS))
        self._end()

    async def _open(self) -> None:
        # Made here because the broker binds itself to the loop that runs.
        self._broker = _Asking(_settings(self.bind, self.port), self._before_ack)
        await self._broker.start()

    def _end(self) -> None:
        """Cancel what is left and close the loop."""
        left = asyncio.all_tasks(self._loop)
        for task in left:
            task.cancel()
        self._loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
        self._loop.close()


_HINT = "another broker may be running there: name it as [broker] in hivemon.toml, or set embedded.port to another"


def _free_port(bind: str, port: int) -> int:
    """Check that the port can be listened on, and find one for 0; raises LinkError saying what to do."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(bind, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
            return int(probe.getsockname()[1])
    except OSError as error:
        message = f"the embedded broker cannot listen on {bind}:{port}: {error.strerror or error}"
        raise LinkError(message, hint=_HINT) from error


def _settings(bind: str, port: int) -> dict[str, Any]:
    """Return the broker's own configuration: one listener, anonymous clients, nothing else loaded."""
    host = f"[{bind}]" if ":" in bind else bind
    return {
        "listeners": {"default": {"type": "tcp", "bind": f"{host}:{port}", "max_connections": MOST_CLIENTS}},
        "plugins": {f"{LetAnyoneIn.__module__}.{LetAnyoneIn.__name__}": {}},
    }

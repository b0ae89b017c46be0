"""hivemon's own broker as the daemon's link: what nodes publish is handed over at once, without a second client.

A node that publishes at QoS 1 or 2 has its acknowledgement (PUBACK, PUBREC) after `ack`, that is after the daemon's
commit, so a crash costs it nothing: it has no acknowledgement and sends again. At QoS 0 a crash costs what was on the
way, by the sender's choice.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from typing import TYPE_CHECKING

from paho.mqtt.client import topic_matches_sub

from hivemon.intake.broker import EmbeddedBroker
from hivemon.intake.link import LinkState, LinkStatus, Message

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from hivemon.model import Millis

MOST_WAITING = 4_000
"""Messages handed over and not committed yet. Beyond that a node is hung up on and sends again when it is back, so that
neither a flood nor a full disk fills the memory."""
LEFT_OPEN_SECONDS = 2.0
"""How long acknowledgements of the last commit have to go out when the daemon stops."""

log = logging.getLogger("hivemon.broker")


class EmbeddedLink:
    """A broker of our own whose acknowledgements follow the daemon's commit.

    Args:
        bind: The address to listen on.
        port: The TCP port; 0 takes a free one.
        topics: Topic filters of what is wanted; the rest passes between clients without the daemon.
        on_messages: Called from the broker's thread; must only put the messages somewhere and return.
        clock: Milliseconds UTC now; stamps the receipt.
    """

    def __init__(
        self,
        bind: str,
        port: int,
        topics: Sequence[str],
        on_messages: Callable[[list[Message]], None],
        *,
        clock: Callable[[], Millis] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self._topics = list(topics)
        self._on_messages = on_messages
        self._clock = clock
        self._taking = True
        self._number = 0
        self._waiting: dict[int, asyncio.Future[None]] = {}
        self._none_waits = threading.Event()
        self._broker = EmbeddedBroker(bind, port, before_ack=self._hand_over)
        self._status = LinkStatus(LinkState.STARTING, "", "", None, clock())

    @property
    def status(self) -> LinkStatus:
        """What the broker is doing, as of now."""
        return self._status

    @property
    def alive(self) -> bool:
        """Whether its thread runs."""
        return self._broker.alive

    @property
    def port(self) -> int:
        """The port it listens on, once it has started."""
        return self._broker.port

    def start(self) -> None:
        """Begin to listen; raises LinkError when the port is taken or the address is not this machine's."""
        self._broker.start()
        self._say(LinkState.UP, "hivemon's own broker")

    def ack(self, messages: Sequence[Message]) -> None:
        """Let the acknowledgements of messages whose readings are committed go out."""
        self._broker.call_soon(self._release, [message.token[1] for message in messages])

    def hold(self) -> None:
        """Take no further messages: their senders get no acknowledgement and keep them."""
        self._taking = False

    def stop(self) -> None:
        """Let the last acknowledgements go out, then close the port and every connection."""
        self._taking = False
        self._broker.call_soon(self._release, [])
        self._none_waits.wait(LEFT_OPEN_SECONDS)
        self._broker.stop()
        self._say(LinkState.STOPPED, "")

    def _say(self, state: LinkState, reason: str) -> None:
        self._status = self._status._replace(state=state, reason=reason, version="3.1.1", since=self._clock())

    # ------------------------------------------------------------ in the broker's thread

    async def _hand_over(self, topic: str, payload: bytes, qos: int) -> bool:
        """Give a message to the daemon and wait for its commit; False: it must not be acknowledged."""
        if not any(topic_matches_sub(wanted, topic) for wanted in self._topics):
            return True
        if not self._taking:
            await asyncio.get_running_loop().create_future()  # the end of the connection ends this
        if len(self._waiting) >= MOST_WAITING:
            return False
        self._number += 1
        number, received = self._number, self._clock()
        committed = self._waiting[number] = asyncio.get_running_loop().create_future()
        self._status = self._status._replace(last_message=received)
        self._on_messages([Message(topic, payload, received, False, (0, number))])
        if qos:
            await committed
        return True

    def _release(self, numbers: Sequence[int]) -> None:
        for number in numbers:
            committed = self._waiting.pop(number, None)
            if committed is not None and not committed.done():  # a sender that hung up has cancelled it
                committed.set_result(None)
        if not self._taking and not self._waiting:
            # One round later, so that the acknowledgements just let go are written first.
            asyncio.get_running_loop().call_later(0.05, self._none_waits.set)

"""What the MQTT link says about itself: messages, states, waiting times, and failures in plain words."""

from __future__ import annotations

import random
import socket
import ssl
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple, Protocol

from hivemon import certificates

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import BrokerSettings
    from hivemon.model import Millis

FIRST_WAIT = 1.0
LONGEST_WAIT = 60.0
STEADY_SECONDS = 30.0
"""A connection that held this long was a good one: the next failure starts with the first wait again."""


class Message(NamedTuple):
    """One MQTT message. `token` is (connection, packet id) for the acknowledgement; packet id 0: QoS 0, none wanted."""

    topic: str
    payload: bytes
    received: Millis
    retained: bool
    token: tuple[int, int]


class LinkState(StrEnum):
    """What a link is doing; UP is one that is let in and subscribed."""

    STARTING = "starting"
    UP = "up"
    DOWN = "down"
    STOPPED = "stopped"


class LinkStatus(NamedTuple):
    """A link at one moment: `reason` says why it is down or how the session stands, `version` the MQTT version.

    `refused` are the topics that the broker will not send, of a link that is up for the others.
    """

    state: LinkState
    reason: str
    version: str
    last_message: Millis | None
    since: Millis
    refused: tuple[str, ...] = ()


class Link(Protocol):
    """What the daemon needs of a way to the nodes: a link to a broker, or the broker inside."""

    @property
    def status(self) -> LinkStatus:
        """What the link is doing, as of now; may be read from any thread."""
        ...

    @property
    def alive(self) -> bool:
        """Whether its thread runs."""
        ...

    def start(self) -> None:
        """Begin; raises LinkError where it cannot."""
        ...

    def ack(self, messages: Sequence[Message]) -> None:
        """Acknowledge messages whose readings are committed."""
        ...

    def hold(self) -> None:
        """Take no further messages; acknowledgements still go out."""
        ...

    def stop(self) -> None:
        """Send the acknowledgements handed over so far, and end."""
        ...


class Backoff:
    """Waits of 1 s doubling to 60 s, each a quarter up or down so that many clients do not come at once."""

    def __init__(self) -> None:
        self._wait = FIRST_WAIT

    def next(self, held: float) -> float:
        """Return the seconds to wait after a connection or attempt that held `held` seconds."""
        if held >= STEADY_SECONDS:
            self._wait = FIRST_WAIT
        wait = self._wait * random.uniform(0.75, 1.25)  # noqa: S311 - spreads load, keeps no secret
        self._wait = min(self._wait * 2, LONGEST_WAIT)
        return min(wait, LONGEST_WAIT)


def tls_context(broker: BrokerSettings) -> ssl.SSLContext:
    """Make a context for the link; raises ConfigError when `ca_file` cannot be used."""
    return certificates.context(broker.ca_file, "broker.ca_file")


_REASONS = {
    # MQTT 5.0 section 3.2.2.2 (CONNACK) and 3.14.2.1 (DISCONNECT)
    132: "it speaks no MQTT version known here",
    133: "it does not take the client id {broker.session!r}: choose another as broker.client_id",
    134: "it does not accept the user and password: look at broker.user and its password",
    135: "it does not let this user in: look at broker.user, its password and the broker's access rules",
    136: "it is not available now",
    137: "it is busy",
    138: "it has banned this client",
    139: "it is shutting down",
    141: "it heard nothing for too long",
    142: "another client came with the same id {broker.session!r}: give each its own broker.client_id",
}


def explain_reason(code: int, name: str, broker: BrokerSettings) -> str:
    """Say in plain words why the broker refused or hung up; `name` is the standard's."""
    text = _REASONS.get(code)
    return text.format(broker=broker) if text else f"it says: {name}"


def explain_refused(topics: Sequence[str]) -> str:
    """Say in plain words that the broker will not send these topics."""
    return f"the broker refuses to send {', '.join(topics)}: let broker.user read that in the broker's access rules"


def explain_error(error: OSError, broker: BrokerSettings) -> str:
    """Say in plain words why no connection came about."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return certificates.explain(error, ca_file="broker.ca_file", host="broker.host")
    if isinstance(error, ssl.SSLError):
        return f"no TLS with it ({error.reason or error}): is port {broker.actual_port} its TLS port?"
    words = {
        socket.gaierror: f"the name {broker.host!r} is unknown: look at broker.host and the network",
        ConnectionRefusedError: "nothing listens there: is the broker running, and broker.port right?",
        TimeoutError: "it does not answer: look at the network and firewalls",
    }
    if broker.uses_tls:
        words[ConnectionResetError] = f"it hung up on the TLS greeting: is port {broker.actual_port} its TLS port?"
    return words.get(type(error)) or error.strerror or str(error)

"""paho's client for messages by the thousand: fewer calls of the system, and nothing looked for that is not there.

Each way round goes through a method that paho keeps to itself. Should a later paho not call one of them any more, that
changes nothing but the speed.
"""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING

from paho.mqtt.client import Client

if TYPE_CHECKING:
    from paho.mqtt.client import MQTTMessage
    from paho.mqtt.enums import MQTTErrorCode

_READ_AHEAD = 65536
_PUBACK = 0x40
"""First byte of an acknowledgement (MQTT 5.0 section 3.4.1)."""


class BulkClient(Client):
    """A client that reads ahead, writes acknowledgements together, and has one callback for all messages.

    paho reads a packet's type, its length and its body each by itself, and writes each acknowledgement by itself: a
    call of the system each, in which another thread may take the interpreter and keep it for milliseconds.
    """

    _chunk = b""
    _at = 0
    _gathered = b""

    @property
    def ahead(self) -> bool:
        """Whether bytes wait here that no selector will announce: read ahead, or unpacked by TLS."""
        if self._at < len(self._chunk):
            return True
        sock = self.socket()
        return isinstance(sock, ssl.SSLSocket) and sock.pending() > 0

    def want_write(self) -> bool:
        """Whether anything waits to be written."""
        return bool(self._gathered) or super().want_write()

    def loop_write(self) -> MQTTErrorCode:
        """Write what waits, as far as the socket takes it. Raises OSError where the connection is lost."""
        code = super().loop_write()
        if self._gathered and self.socket() is not None:
            self._send_gathered()
        return code

    def _sock_recv(self, bufsize: int) -> bytes:
        if self._at >= len(self._chunk):
            self._chunk = super()._sock_recv(_READ_AHEAD)
            self._at = 0
        start = self._at
        self._at = start + bufsize
        return self._chunk[start : self._at]

    def _sock_send(self, buf: bytes | bytearray) -> int:
        """Gather acknowledgements; anything else goes out at once, after those gathered before it."""
        if buf[0] == _PUBACK:
            self._gathered += buf
            return len(buf)
        if self._gathered and not self._send_gathered():
            raise BlockingIOError
        return super()._sock_send(buf)

    def _send_gathered(self) -> bool:
        """Send the acknowledgements gathered; return whether the socket took all of them."""
        try:
            self._gathered = self._gathered[super()._sock_send(self._gathered) :]
        except BlockingIOError:
            return False
        return not self._gathered

    def _handle_on_message(self, message: MQTTMessage) -> None:
        """Hand a message on at once: there are no callbacks by topic to look for."""
        if self.on_message is not None:
            self.on_message(self, self._userdata, message)

"""Acknowledgements are written together, all of them, once, and in their order among the rest."""

import socket
import struct

import pytest
from paho.mqtt.enums import CallbackAPIVersion

from hivemon.intake.bulk_client import BulkClient

SUBSCRIBE = 0x82
"""First byte of that packet (MQTT 5.0 section 3.8.1)."""


@pytest.fixture
def pair():
    ours, broker = socket.socketpair()
    ours.setblocking(False)
    broker.setblocking(False)
    with ours, broker:
        yield ours, broker


@pytest.fixture
def client(pair):
    client = BulkClient(CallbackAPIVersion.VERSION2, "c", manual_ack=True)
    client._sock = pair[0]
    client.on_socket_register_write = lambda *_: None
    return client


def pubacks(first: int, last: int) -> bytes:
    """Return what MQTT 3.1.1 section 3.4 wants for these packet identifiers."""
    return b"".join(b"\x40\x02" + struct.pack("!H", number) for number in range(first, last + 1))


def read(broker: socket.socket) -> bytes:
    try:
        return broker.recv(1 << 20)
    except BlockingIOError:
        return b""


def acknowledge(client: BulkClient, first: int, last: int) -> None:
    for number in range(first, last + 1):
        client.ack(number, 1)


def test_a_thousand_acknowledgements_go_out_with_one_write(client, pair):
    acknowledge(client, 1, 1000)
    assert client.want_write()
    client.loop_write()
    assert read(pair[1]) == pubacks(1, 1000)
    assert not client.want_write()


def test_another_packet_keeps_its_place_among_them(client, pair):
    acknowledge(client, 1, 3)
    client.subscribe("hives/+")
    acknowledge(client, 4, 5)
    client.loop_write()
    sent = read(pair[1])
    assert sent.startswith(pubacks(1, 3) + bytes([SUBSCRIBE]))
    assert sent.endswith(b"hives/+\0" + pubacks(4, 5))


def test_what_the_socket_does_not_take_is_sent_when_it_does(client, pair):
    ours, broker = pair
    ours.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 4096)
    acknowledge(client, 1, 40_000)
    client.subscribe("hives/+")
    client.loop_write()
    assert client.want_write()
    sent = b""
    while client.want_write() or len(sent) < 160_000:
        sent += read(broker)
        client.loop_write()
    sent += read(broker)
    assert sent.startswith(pubacks(1, 40_000) + bytes([SUBSCRIBE]))
    assert sent.count(b"hives/+") == 1


def test_a_lost_connection_is_an_error(client, pair):
    acknowledge(client, 1, 1)
    pair[1].close()
    with pytest.raises(OSError, match=r"[Pp]ipe"):
        client.loop_write()

"""The broker inside: a node has its acknowledgement after the daemon's commit, and not before."""

import threading
import time

import pytest
from brokers import Publisher, free_port, until

from hivemon.errors import LinkError
from hivemon.intake import embedded
from hivemon.intake.embedded import EmbeddedLink
from hivemon.intake.link import LinkState


@pytest.fixture
def arrived():
    return []


@pytest.fixture
def link(arrived):
    opened = EmbeddedLink("127.0.0.1", 0, ["hives/+/+", "hives/+"], arrived.extend)
    opened.start()
    yield opened
    opened.stop()


@pytest.fixture
def node(link):
    client = Publisher(link.port)
    yield client
    client.close()


@pytest.mark.parametrize("qos", [1, 2])
def test_the_acknowledgement_follows_the_commit(link, arrived, node, qos):
    number = node.publish("hives/orchard/o1", b"41.5", qos=qos)
    until(lambda: arrived)
    time.sleep(0.2)
    assert number not in node.acknowledged
    link.ack(arrived)
    until(lambda: number in node.acknowledged)
    assert [(m.topic, m.payload, m.retained) for m in arrived] == [("hives/orchard/o1", b"41.5", False)]


def test_what_the_daemon_does_not_want_passes_without_it(arrived, node):
    node.publish_and_wait("hivemon/orchard/note", b"all is well")
    assert not arrived


def test_a_message_at_qos_0_needs_no_acknowledgement(link, arrived, node):
    for number in range(10):
        node.publish("hives/orchard/o1", b"%d" % number, qos=0)
    until(lambda: len(arrived) == 10)
    link.ack(arrived)
    until(lambda: not link._waiting)


def test_a_client_that_hangs_up_unacknowledged_costs_nothing(link, arrived):
    short = Publisher(link.port, name="short")
    short.publish("hives/orchard/o1", b"41.5")
    until(lambda: arrived)
    short.close()
    time.sleep(0.2)
    link.ack(arrived)
    until(lambda: not link._waiting)


def test_a_flood_is_hung_up_on_and_comes_again_once_there_is_room(link, arrived, monkeypatch):
    """Nothing is lost by it, and memory is bounded while nothing is committed."""
    monkeypatch.setattr(embedded, "MOST_WAITING", 30)
    nodes = [Publisher(link.port, name=f"node {number}") for number in range(4)]
    sent = [{node.publish("hives/orchard/o1", b"%d" % number) for number in range(15)} for node in nodes]
    until(lambda: len(arrived) >= 30)
    time.sleep(0.2)
    assert len(arrived) == 30
    committing = threading.Event()

    def commit() -> None:
        while not committing.wait(0.01):
            link.ack(list(arrived))

    thread = threading.Thread(target=commit)
    thread.start()
    for node, numbers in zip(nodes, sent, strict=True):
        until(lambda: node.acknowledged >= numbers, 20)  # noqa: B023 - waited for within the turn
        node.close()
    committing.set()
    thread.join()


def test_after_hold_nothing_is_taken_and_stop_lets_acknowledgements_out(arrived):
    link = EmbeddedLink("127.0.0.1", 0, ["hives/+/+"], arrived.extend)
    link.start()
    node = Publisher(link.port)
    first = node.publish("hives/orchard/o1", b"1")
    until(lambda: arrived)
    link.hold()
    second = node.publish("hives/orchard/o1", b"2")
    time.sleep(0.2)
    link.ack(arrived)
    link.stop()
    until(lambda: first in node.acknowledged)
    assert second not in node.acknowledged
    assert link.status.state is LinkState.STOPPED
    node.close()


def test_a_port_that_is_taken_is_said_in_words(link):
    with pytest.raises(LinkError, match=str(link.port)):
        EmbeddedLink("127.0.0.1", link.port, [], lambda _: None).start()
    other = EmbeddedLink("127.0.0.1", free_port(), [], lambda _: None)
    other.stop()  # one that never started can be stopped

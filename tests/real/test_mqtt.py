"""The MQTT link against real brokers: mosquitto speaks 5 and 3.1.1, amqtt 3.1.1 only."""

import logging
import socket
import subprocess
import threading
import time
from datetime import UTC, datetime, timedelta

import pytest
import trustme
from brokers import Mosquitto, Publisher, free_port, until
from paho.mqtt.client import MQTTMessage

from hivemon.config import BrokerSettings
from hivemon.errors import ConfigError, LinkError
from hivemon.intake.broker import EmbeddedBroker
from hivemon.intake.link import LinkState, Message
from hivemon.intake.mqtt import LARGEST_PACKET, MqttLink

TOPICS = ["hives/+/+", "hives/+"]


class Receiver:
    """A link with everything that arrived; acknowledges at once unless told to leave that alone."""

    def __init__(self, broker: BrokerSettings, *, acknowledging: bool = True, **options) -> None:
        self.messages: list[Message] = []
        self.acknowledging = acknowledging
        self.link = MqttLink(broker, TOPICS, self._take, **options)

    def _take(self, messages: list[Message]) -> None:
        self.messages.extend(messages)
        if self.acknowledging:
            self.link.ack(messages)

    def payloads(self) -> list[bytes]:
        return [message.payload for message in self.messages]

    def __enter__(self):
        self.link.start()
        return self

    def __exit__(self, *_):
        self.link.stop()

    def up(self) -> None:
        until(lambda: self.link.status.state is LinkState.UP, 15)


def local(port: int, **fields) -> BrokerSettings:
    return BrokerSettings(**{"host": "127.0.0.1", "port": port} | fields)


def numbered(count: int, start: int = 0) -> list[bytes]:
    return [str(number).encode() for number in range(start, start + count)]


@pytest.fixture
def lines(caplog):
    """Return the link's log lines so far."""
    caplog.set_level(logging.INFO, "hivemon.link")
    return lambda: [record.getMessage() for record in caplog.records if record.name == "hivemon.link"]


def test_mosquitto_is_spoken_to_in_mqtt_5_and_its_messages_arrive_once(mosquitto, publisher, lines):
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
        for payload in numbered(500):
            publisher.publish("hives/orchard/o1", payload)
        until(lambda: len(receiver.messages) == 500)
        time.sleep(0.2)
    assert receiver.payloads() == numbered(500)
    assert receiver.link.status.version == "5"
    assert {(message.topic, message.retained) for message in receiver.messages} == {("hives/orchard/o1", False)}
    assert abs(receiver.link.status.last_message - time.time() * 1000) < 10_000
    assert len(lines()) == 2
    assert "MQTT 5, new session" in lines()[0]
    assert "stopped" in lines()[1]


def test_amqtt_speaks_no_5_and_is_spoken_to_in_3_1_1():
    with EmbeddedBroker("127.0.0.1", 0) as broker, Receiver(local(broker.port)) as receiver:
        receiver.up()
        publisher = Publisher(broker.port)
        for payload in numbered(50):
            publisher.publish("hives/orchard/o1", payload)
        until(lambda: len(receiver.messages) == 50)
        publisher.close()
        assert receiver.link.status.version == "3.1.1"
    assert receiver.payloads() == numbered(50)


def test_where_5_is_known_to_be_unknown_it_is_not_tried():
    with EmbeddedBroker("127.0.0.1", 0) as broker, Receiver(local(broker.port), try_five=False) as receiver:
        until(lambda: receiver.link.status.state is LinkState.UP, 2)


def test_messages_published_while_the_daemon_is_away_arrive_when_it_is_back(mosquitto, publisher):
    """MQTT 5.0 section 4.1: the session outlives the connection."""
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
    for payload in numbered(200):
        publisher.publish_and_wait("hives/orchard/o1", payload)
    with Receiver(local(mosquitto.port)) as receiver:
        until(lambda: len(receiver.messages) == 200)
        receiver.up()  # the messages of a session that goes on come before the subscription is confirmed
        assert receiver.link.status.reason == "session resumed"
    assert receiver.payloads() == numbered(200)


def test_what_was_not_acknowledged_comes_again_and_what_was_does_not(mosquitto, publisher):
    with Receiver(local(mosquitto.port), acknowledging=False) as receiver:
        receiver.up()
        for payload in numbered(20):
            publisher.publish("hives/orchard/o1", payload)
        until(lambda: len(receiver.messages) == 20)
        receiver.link.ack(receiver.messages[:8])
    time.sleep(0.5)  # mosquitto reads one packet at a time: whoever comes at once overtakes the acknowledgements
    with Receiver(local(mosquitto.port)) as again:
        until(lambda: len(again.messages) == 12)
        time.sleep(0.2)
    assert again.payloads() == numbered(12, 8)


def test_an_acknowledgement_of_an_earlier_connection_is_not_sent_on_a_new_one(mosquitto, publisher):
    """Packet ids are used again: an old acknowledgement could take away another message (MQTT 5.0 section 2.2.1)."""
    with Receiver(local(mosquitto.port), acknowledging=False) as receiver:
        receiver.up()
        publisher.publish("hives/orchard/o1", b"old")
        until(lambda: len(receiver.messages) == 1)
        mosquitto.stop()
        until(lambda: receiver.link.status.state is LinkState.DOWN)
        mosquitto.start()
        until(lambda: len(receiver.messages) == 2, 15)
        receiver.link.ack(receiver.messages[:1])
        time.sleep(0.3)
    with Receiver(local(mosquitto.port)) as again:
        until(lambda: len(again.messages) == 1)


def test_the_receive_maximum_bounds_what_is_unacknowledged(mosquitto, publisher):
    """MQTT 5.0 section 3.1.2.11.3: the broker must not send more QoS 1 messages than that without acknowledgement."""
    with Receiver(local(mosquitto.port), acknowledging=False, receive_maximum=10) as receiver:
        receiver.up()
        for payload in numbered(50):
            publisher.publish("hives/orchard/o1", payload)
        until(lambda: len(receiver.messages) == 10)
        time.sleep(0.5)
        assert len(receiver.messages) == 10
        receiver.acknowledging = True
        receiver.link.ack(list(receiver.messages))
        until(lambda: len(receiver.messages) == 50)


def test_messages_at_qos_0_are_held_back_too_when_nobody_takes_them(mosquitto, publisher):
    """The receive maximum says nothing about QoS 0: the link stops reading, and the memory stays bounded."""
    with Receiver(local(mosquitto.port), acknowledging=False, receive_maximum=10) as receiver:
        receiver.up()
        for payload in numbered(5000):
            publisher.publish("hives/orchard/o1", payload, qos=0)
        time.sleep(1)
        assert 10 <= len(receiver.messages) <= 10 + 500
        receiver.acknowledging = True
        receiver.link.ack(list(receiver.messages))
        until(lambda: receiver.messages[-1].payload == b"4999")


def test_a_broker_restart_while_publishing_loses_nothing(mosquitto, lines):
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
        sent: list[bytes] = []
        stop = threading.Event()

        def publish() -> None:
            publisher = Publisher(mosquitto.port)
            for payload in numbered(3000):
                publisher._client.publish("hives/orchard/o1", payload, 1)
                sent.append(payload)
                if stop.wait(0.001):
                    break
            until(lambda: len(publisher.acknowledged) == len(sent), 30)
            publisher.close()

        thread = threading.Thread(target=publish)
        thread.start()
        for _ in range(2):
            time.sleep(0.7)
            mosquitto.stop()
            time.sleep(0.3)
            mosquitto.start()
            until(lambda: receiver.link.status.state is LinkState.UP, 20)
        stop.set()
        thread.join()
        until(lambda: set(receiver.payloads()) == set(sent), 20)
    states = ["up" if "linked" in line else "down" for line in lines()[:-1]]
    assert states[:2] == ["up", "down"]
    assert all("trying again" in line for line in lines() if line.startswith("no link"))


def test_a_broker_that_is_not_there_is_one_log_line_and_found_when_it_comes(mosquitto, lines):
    mosquitto.stop()
    with Receiver(local(mosquitto.port)) as receiver:
        until(lambda: receiver.link.status.state is LinkState.DOWN)
        time.sleep(3)
        assert len(lines()) == 1
        assert "nothing listens there" in lines()[0]
        mosquitto.start()
        receiver.up()


def test_a_retained_message_is_marked_and_does_not_come_with_every_reconnect(mosquitto, publisher):
    """MQTT 5.0 section 3.8.3.1: retain handling 1 sends it with a new subscription only."""
    publisher.publish_and_wait("hives/orchard/o1", b"kept", retain=True)
    with Receiver(local(mosquitto.port)) as receiver:
        until(lambda: len(receiver.messages) == 1)
        assert receiver.messages[0].retained
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
        time.sleep(0.5)
        assert receiver.messages == []


def test_a_handler_that_fails_ends_neither_the_link_nor_the_messages(mosquitto, publisher, lines):
    """An exception in a callback ends paho's own thread for good; ours must go on."""
    failures = []

    def take(messages: list[Message]) -> None:
        if not failures:
            failures.append(messages)
            raise RuntimeError("once")
        arrived.extend(messages)

    arrived: list[Message] = []
    link = MqttLink(local(mosquitto.port), TOPICS, take)
    link.start()
    try:
        until(lambda: link.status.state is LinkState.UP)
        publisher.publish("hives/orchard/o1", b"precious")
        until(lambda: arrived, 15)
        assert arrived[0].payload == b"precious"
        assert any("should not" in line for line in lines())
    finally:
        link.stop()


def test_a_topic_that_is_not_text_is_handed_over_like_any_other(mosquitto):
    """MQTT 5.0 section 1.5.4 forbids it, and paho raises in the reader of the topic: the link must not."""
    message = MQTTMessage(mid=1, topic=b"hives/\xff/o1")
    link = MqttLink(local(mosquitto.port), TOPICS, lambda _: None)
    link._on_message(None, None, message)
    assert "not UTF-8" in link._arrived[0].topic


def test_hold_leaves_the_rest_with_the_broker(mosquitto, publisher):
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
        receiver.link.hold()
        time.sleep(0.1)
        publisher.publish_and_wait("hives/orchard/o1", b"later")
        time.sleep(0.3)
        assert receiver.messages == []
    with Receiver(local(mosquitto.port)) as receiver:
        until(lambda: receiver.payloads() == [b"later"])


# ---------------------------------------------------------------- users, passwords, other clients


@pytest.fixture
def guarded(tmp_path):
    """Return a mosquitto that lets only `keeper` with `clover` in."""
    folder = tmp_path / "guarded"
    folder.mkdir()
    words = folder / "passwords"
    words.write_text("keeper:clover\n")
    subprocess.run(["mosquitto_passwd", "-U", str(words)], check=True, capture_output=True)
    server = Mosquitto(folder, f"allow_anonymous false\npassword_file {words}\n")
    server.start()
    yield server
    server.stop()


def test_the_right_password_from_a_file_gets_in(guarded, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("clover\n")
    with Receiver(local(guarded.port, user="keeper", password_file=str(secret))) as receiver:
        receiver.up()


def test_a_wrong_password_is_said_in_plain_words_and_never_shown(guarded, tmp_path, caplog, lines):
    caplog.set_level(logging.DEBUG)
    secret = tmp_path / "secret"
    secret.write_text("ragwort")
    with Receiver(local(guarded.port, user="keeper", password_file=str(secret))) as receiver:
        until(lambda: receiver.link.status.state is LinkState.DOWN)
        assert "password" in receiver.link.status.reason
    assert len(lines()) == 2
    assert "ragwort" not in caplog.text


def test_a_second_client_of_the_same_name_is_named_as_the_trouble(mosquitto):
    """MQTT 5.0 section 3.1.4: the broker must close the connection of the first; some do so without a word."""
    with Receiver(local(mosquitto.port)) as first:
        first.up()
        with Receiver(local(mosquitto.port)) as second:
            second.up()
            until(lambda: first.link.status.state is LinkState.DOWN)
            assert "id 'hivemon'" in first.link.status.reason


# ---------------------------------------------------------------- TLS


@pytest.fixture(scope="module")
def authority():
    """Return a certificate authority of our own."""
    return trustme.CA()


def secure(folder, authority, name="localhost", **fields) -> Mosquitto:
    folder.mkdir()
    certificate = authority.issue_cert(name, **fields)
    certificate.private_key_pem.write_to_path(folder / "key.pem")
    certificate.cert_chain_pems[0].write_to_path(folder / "cert.pem")
    server = Mosquitto(folder, f"allow_anonymous true\ncertfile {folder}/cert.pem\nkeyfile {folder}/key.pem\n")
    server.start()
    return server


@pytest.fixture
def ca_file(authority, tmp_path):
    """Return the file with our authority's certificate."""
    path = tmp_path / "ca.pem"
    authority.cert_pem.write_to_path(path)
    return str(path)


def test_tls_with_an_authority_of_our_own(authority, ca_file, tmp_path):
    server = secure(tmp_path / "secure", authority)
    try:
        with Receiver(BrokerSettings(host="localhost", port=server.port, tls=True, ca_file=ca_file)) as receiver:
            receiver.up()
            publisher = Publisher(server.port, ca_certs=ca_file)
            for payload in numbered(2000):
                publisher.publish("hives/orchard/o1", payload * 20)
            until(lambda: len(receiver.messages) == 2000, 20)
            publisher.close()
        assert receiver.payloads() == [payload * 20 for payload in numbered(2000)]
    finally:
        server.stop()


@pytest.mark.parametrize(
    ("name", "host", "with_ca", "words"),
    [
        ("localhost", "localhost", False, "authority unknown here"),
        ("broker.example", "localhost", True, "another host name"),
        ("localhost", "127.0.0.1", True, "another address"),
    ],
)
def test_certificate_troubles_are_said_in_plain_words(authority, ca_file, tmp_path, name, host, with_ca, words):
    server = secure(tmp_path / "secure", authority, name)
    settings = BrokerSettings(host=host, port=server.port, tls=True, ca_file=ca_file if with_ca else None)
    try:
        with Receiver(settings) as receiver:
            until(lambda: receiver.link.status.state is LinkState.DOWN)
            assert words in receiver.link.status.reason
    finally:
        server.stop()


def test_an_expired_certificate_is_said_in_plain_words(authority, ca_file, tmp_path):
    old = datetime(2020, 1, 1, tzinfo=UTC)
    server = secure(tmp_path / "secure", authority, not_before=old, not_after=old + timedelta(days=1))
    try:
        with Receiver(BrokerSettings(host="localhost", port=server.port, tls=True, ca_file=ca_file)) as receiver:
            until(lambda: receiver.link.status.state is LinkState.DOWN)
            assert "expired" in receiver.link.status.reason
    finally:
        server.stop()


def test_tls_to_a_port_without_it_is_said_in_plain_words(mosquitto, ca_file):
    settings = BrokerSettings(host="127.0.0.1", port=mosquitto.port, tls=True, ca_file=ca_file)
    with Receiver(settings) as receiver:
        until(lambda: receiver.link.status.state is LinkState.DOWN)
        assert "TLS" in receiver.link.status.reason


def test_a_ca_file_that_is_none_is_an_error_of_configuration(tmp_path):
    empty = tmp_path / "ca.pem"
    empty.write_text("no certificate")
    for path in (empty, tmp_path / "nowhere.pem"):
        with pytest.raises(ConfigError, match="ca_file"):
            MqttLink(BrokerSettings(host="bees.example", ca_file=str(path)), TOPICS, lambda _: None)


# ---------------------------------------------------------------- the embedded broker


def test_a_taken_port_is_an_error_that_says_what_to_do(mosquitto):
    with pytest.raises(LinkError) as caught, EmbeddedBroker("127.0.0.1", mosquitto.port):
        pass
    assert str(mosquitto.port) in str(caught.value)
    assert "[broker]" in caught.value.hint


def test_an_address_of_another_machine_is_an_error():
    with pytest.raises(LinkError, match="cannot listen"), EmbeddedBroker("192.0.2.1", free_port()):
        pass


def test_the_embedded_broker_is_gone_after_its_block_and_can_come_again():
    port = free_port()
    for _ in range(2):
        with EmbeddedBroker("127.0.0.1", port) as broker, Receiver(local(broker.port), try_five=False) as receiver:
            receiver.up()
    assert not [thread for thread in threading.enumerate() if thread.name in ("broker", "mqtt-link")]


def test_the_embedded_broker_keeps_a_session_while_it_runs():
    with EmbeddedBroker("127.0.0.1", 0) as broker:
        with Receiver(local(broker.port), try_five=False) as receiver:
            receiver.up()
            time.sleep(0.2)
        publisher = Publisher(broker.port)
        publisher.publish_and_wait("hives/orchard/o1", b"meanwhile")
        with Receiver(local(broker.port), try_five=False) as receiver:
            until(lambda: receiver.payloads() == [b"meanwhile"])
        publisher.close()


# ---------------------------------------------------------------- size


def test_the_embedded_broker_hangs_up_on_a_packet_that_announces_too_much():
    """MQTT allows 256 MB a packet (section 2.2.3): without a bound one client could fill the memory."""
    with EmbeddedBroker("127.0.0.1", 0) as broker:
        hello = b"\x10\x0d\x00\x04MQTT\x04\x02\x00\x3c\x00\x01x"
        with socket.create_connection(("127.0.0.1", broker.port), 5) as client:
            client.sendall(hello)
            assert client.recv(4)[:1] == b"\x20"
            client.sendall(b"\x32\xff\xff\xff\x7f")  # a PUBLISH of 268,435,455 bytes
            assert client.recv(1) == b""
        publisher = Publisher(broker.port)
        publisher.publish_and_wait("hives/orchard/o1", bytes(64 * 1024))
        publisher.close()


def test_a_broker_is_asked_to_keep_huge_messages_to_itself(mosquitto, publisher):
    """MQTT 5.0 section 3.1.2.11.4: the server must not send what is larger than the client's maximum packet size."""
    with Receiver(local(mosquitto.port)) as receiver:
        receiver.up()
        publisher.publish_and_wait("hives/orchard/o1", bytes(LARGEST_PACKET + 1))
        publisher.publish_and_wait("hives/orchard/o1", b"small")
        until(lambda: receiver.messages)
        assert receiver.payloads() == [b"small"]

"""The reference node against the real daemon over real MQTT: days offline and back, everything once, in its place."""

import subprocess

import pytest
import trustme
from brokers import Mosquitto, Publisher, binary, free_port, until
from daemon_beside import NAMES, TOPIC, Deaf, Turning, last_whole_hour, running, settings, stored
from node import Node
from ring import Ring
from umqtt.simple import MQTTClient, MQTTException

from hivemon.store import Store

EVERY = 900


@pytest.fixture
def mosquitto(tmp_path):
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    server = Mosquitto(folder)
    server.start()
    yield server
    server.stop()


class Bench:
    """A node with invented sensors that remembers what it measured when."""

    def __init__(self, folder, port, begin, *, slots=2000, patience=5.0):
        self.path = str(folder / "readings.ring")
        self.slots = slots
        self.time = Turning(begin)
        self.port = port
        self.patience = patience
        self.measured = []
        self.start()

    def start(self, session=1):
        """Begin as after a wake or a power cut: everything but the ring is new."""
        self.ring = Ring(self.path, self.slots)
        self.node = Node(TOPIC, self._sensors, self.ring, self.time.clock, self._connect, session)

    def _sensors(self):
        number = len(self.measured)
        values = [40 + number % 300 / 100, 34.5 + number % 7 / 10, 55 + number % 30 / 10, 4.1 - number / 10_000]
        if number % 50 == 49:
            values[2] = None
        self.measured.append((self.time.really, values))
        return values

    def _connect(self):
        client = MQTTClient("o1", "127.0.0.1", self.port)
        client.patience = self.patience
        client.connect()
        client.sock.settimeout(self.patience)
        return client

    def measure(self, times):
        for _ in range(times):
            self.node.measure()
            self.time.really += EVERY

    def expected(self, measured=None):
        """Return what must be in the store: every value once, at the moment it was measured."""
        found = {name: [] for name in NAMES}
        for moment, values in self.measured if measured is None else measured:
            for name, value, digits in zip(NAMES, values, (3, 2, 1, 3), strict=True):
                if value is not None:
                    found[name].append((moment, pytest.approx(value, abs=0.51 * 10**-digits)))
        return found


def count(folder, name="weight"):
    return len(stored(folder).get(name, []))


@pytest.mark.parametrize("embedded", [False, True], ids=["mosquitto", "embedded"])
def test_three_days_offline_arrive_once_and_in_their_place(request, tmp_path, embedded):
    port = free_port() if embedded else request.getfixturevalue("mosquitto").port
    bench = Bench(tmp_path, free_port(), last_whole_hour() - 4 * 86400)
    bench.node.set_clock()
    bench.measure(96)
    assert bench.node.send() == 0, "nobody was there to send to"
    bench.start()
    bench.measure(3 * 96)
    bench.start()
    bench.port = port
    with running(settings(tmp_path, port, embedded=embedded)):
        assert bench.node.send() == 4 * 96
        until(lambda: count(tmp_path) == 4 * 96)
        assert bench.node.send() == 0, "what was acknowledged is not sent again"
    assert stored(tmp_path) == bench.expected()


def test_a_broker_that_leaves_in_the_middle_costs_nothing(mosquitto, tmp_path):
    bench = Bench(tmp_path, mosquitto.port, last_whole_hour() - 86400, patience=0.5)
    bench.node.set_clock()
    bench.measure(90)
    connect, publish = bench.node._connect, []

    def leaving():
        client = connect()
        real = client.publish

        def after_two(*message):
            publish.append(message)
            if len(publish) == 3:
                mosquitto.stop()
            real(*message)

        client.publish = after_two
        return client

    bench.node._connect = leaving
    with running(settings(tmp_path, mosquitto.port)):
        assert bench.node.send() == 40
        assert len(bench.ring) == 50
        mosquitto.start()
        bench.start()
        assert bench.node.send() == 50
        until(lambda: count(tmp_path) == 90)
    assert stored(tmp_path) == bench.expected()


def test_lost_acknowledgements_mean_sent_twice_and_stored_once(mosquitto, tmp_path):
    link = Deaf(mosquitto.port)
    try:
        bench = Bench(tmp_path, link.port, last_whole_hour() - 86400, patience=0.5)
        bench.node.set_clock()
        bench.measure(10)
        with running(settings(tmp_path, mosquitto.port)) as daemon:
            connect = bench.node._connect

            def then_deaf():
                client = connect()
                link.deaf = True
                return client

            bench.node._connect = then_deaf
            assert bench.node.send() == 0
            until(lambda: daemon.status.messages == 1)
            bench.port = mosquitto.port
            bench.start()
            assert bench.node.send() == 10
            until(lambda: daemon.status.messages == 2)
        assert stored(tmp_path) == bench.expected()
    finally:
        link.close()


def test_what_was_measured_before_the_clock_was_set_gets_its_time(mosquitto, tmp_path):
    bench = Bench(tmp_path, mosquitto.port, last_whole_hour() - 86400)
    bench.time.reachable = False
    bench.measure(30)
    with running(settings(tmp_path, mosquitto.port)):
        bench.node.set_clock()
        assert bench.node.send() == 0, "without a time nothing may go out"
        bench.time.reachable = True
        bench.node.set_clock()
        bench.measure(10)
        assert bench.node.send() == 40
        until(lambda: count(tmp_path) == 40)
    assert stored(tmp_path) == bench.expected()


def test_a_power_cut_before_the_clock_was_ever_set_loses_those_readings_and_misplaces_none(mosquitto, tmp_path):
    bench = Bench(tmp_path, mosquitto.port, last_whole_hour() - 86400)
    bench.measure(4)
    bench.time.really += 5000
    bench.time.power_cut()
    bench.start(Ring(bench.path).newest_session() + 1)
    bench.measure(3)
    bench.node.set_clock()
    with running(settings(tmp_path, mosquitto.port)):
        assert bench.node.send() == 3
        until(lambda: count(tmp_path) == 3)
    assert bench.ring.undated == 4
    assert stored(tmp_path) == bench.expected(bench.measured[4:])


def test_a_full_ring_keeps_the_newest_and_counts_what_gave_way(mosquitto, tmp_path):
    bench = Bench(tmp_path, mosquitto.port, last_whole_hour() - 86400, slots=50)
    bench.node.set_clock()
    bench.measure(70)
    assert bench.ring.overwritten == 20
    with running(settings(tmp_path, mosquitto.port)):
        assert bench.node.send() == 50
        until(lambda: count(tmp_path) == 50)
    assert stored(tmp_path) == bench.expected(bench.measured[20:])


# ---------------------------------------------------------------- security


@pytest.fixture
def guarded(tmp_path):
    """Return a TLS mosquitto with a password and a topic of its own for node o1, and its authority's certificate."""
    authority = trustme.CA()
    server = authority.issue_cert("localhost")
    server.private_key_pem.write_to_path(tmp_path / "server.key")
    server.cert_chain_pems[0].write_to_path(tmp_path / "server.crt")
    authority.cert_pem.write_to_path(tmp_path / "ca.crt")
    passwords = tmp_path / "passwd"
    passwords.touch(mode=0o600)
    for name in ("hivemon", "o1"):
        subprocess.run([binary("mosquitto_passwd", "mosquitto"), "-b", passwords, name, f"word-of-{name}"], check=True)
    (tmp_path / "acl").write_text("user hivemon\ntopic read hives/#\nuser o1\ntopic write hives/orchard/o1\n")
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    broker = Mosquitto(
        folder,
        f"certfile {tmp_path}/server.crt\nkeyfile {tmp_path}/server.key\nallow_anonymous false\n"
        f"password_file {passwords}\nacl_file {tmp_path}/acl\n",
    )
    broker.start()
    yield broker, tmp_path / "ca.crt"
    broker.stop()


def secure_client(broker, authority, password):
    """Return a client as the node's `connect` makes it."""
    import ssl  # noqa: PLC0415 - as on the node

    secure = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    secure.load_verify_locations(authority)
    client = MQTTClient("o1", "localhost", broker.port, user="o1", password=password, ssl=secure)
    client.connect()
    return client


def test_over_tls_a_node_with_its_own_password_reaches_its_own_topic_only(guarded, tmp_path):
    """mosquitto acknowledges what the access list drops (MQTT 3.1.1, 3.3.5), so a wrong topic loses readings."""
    broker, authority = guarded
    bench = Bench(tmp_path, broker.port, last_whole_hour() - 86400)
    bench.node.set_clock()
    bench.node._connect = lambda: secure_client(broker, authority, "word-of-o1")
    word = tmp_path / "word"
    word.write_text("word-of-hivemon")
    secured = {
        "host": "localhost",
        "user": "hivemon",
        "password_file": str(word),
        "ca_file": str(authority),
        "tls": True,
    }
    with running(settings(tmp_path, broker.port, **secured)):
        bench.measure(3)
        bench.node._topic = "hives/orchard/o2"
        assert bench.node.send() == 3, "acknowledged, and dropped"
        bench.measure(5)
        bench.node._topic = TOPIC
        assert bench.node.send() == 5
        until(lambda: count(tmp_path) == 5)
        with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
            assert {stream.hive for stream in store.series("orchard")} == {"o1"}


def test_a_wrong_password_is_refused_and_the_readings_stay(guarded, tmp_path):
    broker, authority = guarded
    bench = Bench(tmp_path, broker.port, last_whole_hour() - 86400)
    bench.node.set_clock()
    bench.measure(2)

    def connect():
        try:
            return secure_client(broker, authority, "guessed")
        except MQTTException as error:
            raise OSError("refused") from error

    bench.node._connect = connect
    assert bench.node.send() == 0
    assert len(bench.ring) == 2


def test_a_certificate_of_another_authority_is_refused(guarded, tmp_path):
    broker, _ = guarded
    other = tmp_path / "other.crt"
    trustme.CA().cert_pem.write_to_path(other)
    with pytest.raises(OSError, match="certificate"):
        secure_client(broker, other, "word-of-o1")


# ---------------------------------------------------------------- retained and last will


def test_a_retained_reading_without_a_time_is_refused_and_one_with_a_time_is_stored_once(mosquitto, tmp_path):
    publisher = Publisher(mosquitto.port)
    moment = last_whole_hour()
    publisher.publish_and_wait("hives/orchard/o1", b'[{"n":"weight","u":"kg","v":41}]', retain=True)
    publisher.publish_and_wait("hives/orchard/o2", b'[{"bt":%d,"n":"weight","u":"kg","v":42}]' % moment, retain=True)
    with running(settings(tmp_path, mosquitto.port)) as daemon:
        until(lambda: daemon.status.messages == 2)
        publisher.publish_and_wait("hives/orchard/o2", b'[{"bt":%d,"n":"weight","u":"kg","v":42}]' % moment)
        until(lambda: daemon.status.messages == 3)
    publisher.close()
    with Store.open(tmp_path / "hivemon.db", read_only=True) as store:
        found = store.series("orchard")
        assert {stream.hive: series.time.tolist() for stream, series in found.items()} == {"o2": [moment * 1000]}
        assert store.quarantine_count() > 0

"""The mosquitto settings of the README, word for word, do in a real mosquitto what the README says of them."""

import re
import subprocess
from pathlib import Path

import paho.mqtt.client as paho
import pytest
import trustme
from brokers import binary, free_port, until
from paho.mqtt.enums import CallbackAPIVersion

from hivemon.intake.senml import MOST_BYTES

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
TOPIC = "hives/orchard/o1"


@pytest.fixture
def broker(tmp_path):
    """Return the port and the certificate authority of a mosquitto set up as the README says."""
    settings, access = re.findall(r"^```conf\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    passwords = tmp_path / "passwd"
    passwords.touch(mode=0o600)
    for name in ("hivemon", "o1", "o2"):
        subprocess.run([binary("mosquitto_passwd", "mosquitto"), "-b", passwords, name, f"word-of-{name}"], check=True)
    (tmp_path / "acl").write_text(access)
    authority = trustme.CA()
    server = authority.issue_cert("localhost")
    server.private_key_pem.write_to_path(tmp_path / "server.key")
    server.cert_chain_pems[0].write_to_path(tmp_path / "server.crt")
    authority.cert_pem.write_to_path(tmp_path / "ca.crt")
    port = free_port()
    places = {
        "/etc/mosquitto/certs/": f"{tmp_path}/",
        "/etc/mosquitto/": f"{tmp_path}/",
        "/var/lib/mosquitto/": f"{tmp_path}/",
        "listener 8883": f"listener {port} 127.0.0.1",
    }
    for there, here in places.items():
        assert there in settings
        settings = settings.replace(there, here)
    conf = tmp_path / "mosquitto.conf"
    conf.write_text(f"user root\n{settings}")
    with subprocess.Popen([binary("mosquitto", "mosquitto"), "-c", conf], stderr=subprocess.PIPE) as running:
        try:
            until(lambda: running.poll() is not None or answers(port, tmp_path))
            assert running.poll() is None, running.stderr.read().decode()
            yield port, tmp_path / "ca.crt"
        finally:
            running.terminate()


def client(port: int, authority: Path, name: str | None, *, session: str = "") -> paho.Client:
    """Return a client that is linked, or has been refused."""
    linked = paho.Client(CallbackAPIVersion.VERSION2, session, clean_session=not session)
    linked.tls_set(str(authority))
    if name:
        linked.username_pw_set(name, f"word-of-{name}")
    refused = []
    linked.on_connect = lambda _c, _d, _f, reason, _p: refused.append(reason) if reason.is_failure else None
    linked.connect("localhost", port)
    linked.loop_start()
    until(lambda: linked.is_connected() or refused)
    return linked


def subscribe(linked: paho.Client, *topics: str) -> None:
    """Subscribe, and wait for the broker's answer: what is published before it may pass by."""
    answered: list[int] = []
    linked.on_subscribe = lambda _c, _d, number, *_: answered.append(number)
    linked.subscribe([(topic, 1) for topic in topics])
    until(lambda: answered)


def leave(linked: paho.Client) -> None:
    linked.disconnect()
    linked.loop_stop()


def answers(port: int, folder: Path) -> bool:
    try:
        probe = client(port, folder / "ca.crt", "hivemon")
    except OSError:
        return False
    leave(probe)
    return True


def test_nobody_gets_in_without_a_password(broker) -> None:
    stranger = client(*broker, None)
    assert not stranger.is_connected()
    leave(stranger)


def test_a_node_writes_to_its_own_topic_and_to_no_other(broker) -> None:
    heard: list[str] = []
    daemon = client(*broker, "hivemon")
    daemon.on_message = lambda _c, _d, message: heard.append(message.payload.decode())
    subscribe(daemon, "hives/#")
    node, other = client(*broker, "o1"), client(*broker, "o2")
    other.publish(TOPIC, b"not mine", 1).wait_for_publish(10)
    node.publish("hives/orchard/o2", b"not mine either", 1).wait_for_publish(10)
    node.publish(TOPIC, b"mine", 1).wait_for_publish(10)
    until(lambda: heard)
    assert heard == ["mine"]
    for linked in (daemon, node, other):
        leave(linked)


def test_a_node_hears_nothing_and_cannot_speak_for_hivemon(broker) -> None:
    """A stolen node's password gives neither the other hives' readings nor the notes, and forges none."""
    heard: list[str] = []
    node, daemon = client(*broker, "o1"), client(*broker, "hivemon")
    node.on_message = lambda _c, _d, message: heard.append(message.topic)
    subscribe(node, "#", "hivemon/#")
    node.publish("hivemon/orchard/note", b"forged", 1, retain=True).wait_for_publish(10)
    daemon.publish("hivemon/orchard/advice", b"true", 1, retain=True).wait_for_publish(10)
    notes = client(*broker, "hivemon", session="notes")
    notes.on_message = lambda _c, _d, message: heard.append(message.topic)
    subscribe(notes, "hives/#")
    node.publish(TOPIC, b"the last word", 1).wait_for_publish(10)
    until(lambda: TOPIC in heard)
    assert heard == [TOPIC]
    for linked in (node, daemon, notes):
        leave(linked)


def test_a_message_too_large_for_any_pack_goes_no_further_than_the_broker(broker) -> None:
    heard: list[int] = []
    daemon = client(*broker, "hivemon")
    daemon.on_message = lambda _c, _d, message: heard.append(len(message.payload))
    subscribe(daemon, "hives/#")
    node = client(*broker, "o1")
    for size in (MOST_BYTES, MOST_BYTES + 1, 9):
        node.publish(TOPIC, bytes(size), 1).wait_for_publish(10)
    until(lambda: 9 in heard)
    assert heard == [MOST_BYTES, 9]
    leave(node)
    leave(daemon)


def test_more_than_the_usual_thousand_messages_wait_for_an_absent_daemon(broker) -> None:
    """mosquitto.conf(5): max_queued_messages, 1000 unless set."""
    heard: list[bytes] = []
    daemon = client(*broker, "hivemon", session="hivemon")
    subscribe(daemon, "hives/#")
    leave(daemon)
    node = client(*broker, "o1")
    for number in range(3_000):
        message = node.publish(TOPIC, str(number).encode(), 1)
    message.wait_for_publish(20)
    back = paho.Client(CallbackAPIVersion.VERSION2, "hivemon", clean_session=False)
    back.tls_set(str(broker[1]))
    back.username_pw_set("hivemon", "word-of-hivemon")
    back.on_message = lambda _c, _d, message: heard.append(message.payload)
    back.connect("localhost", broker[0])
    back.loop_start()
    until(lambda: len(heard) >= 3_000, 20)
    assert [int(payload) for payload in heard] == list(range(3_000))
    leave(node)
    leave(back)

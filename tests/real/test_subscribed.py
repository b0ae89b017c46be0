"""A link is up when the broker has confirmed the subscription, not before: against mosquitto, its answers held up."""

import json
import logging
import socket
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from brokers import Mosquitto, binary, until

from hivemon.config import BrokerSettings
from hivemon.intake import mqtt
from hivemon.intake.link import LinkState
from hivemon.intake.mqtt import MqttLink

TOPICS = ["hives/+/+", "hives/+"]


class HeldUp:
    """Between a client and a broker: lets the broker's first answer (CONNACK) through, the others when `go` is set."""

    def __init__(self, port: int) -> None:
        self.go = threading.Event()
        self._broker = port
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._take, daemon=True).start()

    def _take(self) -> None:
        while True:
            try:
                client, _ = self._server.accept()
            except OSError:
                return
            broker = socket.create_connection(("127.0.0.1", self._broker))
            threading.Thread(target=self._pass_on, args=(client, broker), daemon=True).start()
            threading.Thread(target=self._pass_on, args=(broker, client, True), daemon=True).start()

    def _pass_on(self, one: socket.socket, other: socket.socket, held: bool = False) -> None:
        first = True
        try:
            while data := one.recv(65536):
                if held and not first:
                    self.go.wait(20)
                other.sendall(data)
                first = False
            other.shutdown(socket.SHUT_WR)
        except OSError:
            return  # one side has gone

    def close(self) -> None:
        self._server.close()
        self.go.set()


@contextmanager
def linked(port: int):
    link = MqttLink(BrokerSettings(host="127.0.0.1", port=port), TOPICS, lambda _: None)
    link.start()
    try:
        yield link
    finally:
        link.stop()


@pytest.fixture
def held_up(mosquitto):
    """Return a way to mosquitto that holds up all answers but the first."""
    relay = HeldUp(mosquitto.port)
    yield relay
    relay.close()


def test_it_is_up_when_the_subscription_is_confirmed_and_not_before(held_up):
    with linked(held_up.port) as link:
        until(lambda: link._answered)
        time.sleep(0.3)
        assert link.status.state is LinkState.STARTING
        held_up.go.set()
        until(lambda: link.status.state is LinkState.UP)
        assert link.status.refused == ()


def test_a_subscription_that_is_never_confirmed_is_said_and_tried_again(held_up, monkeypatch):
    monkeypatch.setattr(mqtt, "ANSWER_SECONDS", 0.5)
    monkeypatch.setattr(mqtt, "SUBSCRIBED_SECONDS", 0.1)
    with linked(held_up.port) as link:
        until(lambda: link.status.state is LinkState.DOWN)
        assert "does not say whether it will send it the readings" in link.status.reason
        held_up.go.set()
        until(lambda: link.status.state is LinkState.UP)


def choosy(folder: Path, allowed: list[str]) -> Mosquitto:
    """Return a mosquitto, not started, that lets anyone in and send, and subscribe to these topics alone."""
    binary("mosquitto", "mosquitto")
    # Comes with mosquitto. Its plain access file refuses no subscription, it only sends nothing.
    (plugin,) = Path("/usr/lib").glob("*/mosquitto_dynamic_security.so")
    rules = folder / "access.json"
    acls = [{"acltype": "subscribeLiteral", "topic": topic, "allow": True} for topic in allowed]
    access = {"publishClientSend": True, "publishClientReceive": True, "subscribe": False, "unsubscribe": True}
    group = {"groupname": "anyone", "roles": [{"rolename": "reader"}]}
    roles = [{"rolename": "reader", "acls": acls}]
    text = {"defaultACLAccess": access, "groups": [group], "anonymousGroup": "anyone", "roles": roles}
    rules.write_text(json.dumps(text))
    return Mosquitto(folder, f"allow_anonymous true\nplugin {plugin}\nplugin_opt_config_file {rules}\n")


def test_where_every_topic_is_refused_the_link_is_down_and_says_whose_rules_to_look_at(tmp_path, caplog):
    caplog.set_level(logging.INFO, "hivemon.link")
    server = choosy(tmp_path, [])
    server.start()
    try:
        with linked(server.port) as link:
            until(lambda: link.status.state is LinkState.DOWN)
            time.sleep(1.5)  # tried once more meanwhile, and refused again: said once
            assert "refuses to send hives/+/+, hives/+" in link.status.reason
            assert len(caplog.records) == 1
    finally:
        server.stop()


def test_where_some_topics_are_refused_it_is_up_for_the_others_and_names_them(tmp_path, caplog):
    server = choosy(tmp_path, ["hives/+/+"])
    server.start()
    try:
        with linked(server.port) as link:
            until(lambda: link.status.state is LinkState.UP)
            assert link.status.refused == ("hives/+",)
        assert "refuses to send hives/+: let" in caplog.text
    finally:
        server.stop()

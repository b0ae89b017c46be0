"""A real mosquitto for tests, from the system's binary on a free port, and a publisher that knows what was taken."""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties


def binary(name: str, package: str) -> str:
    """Find a server's binary; without it the test is skipped, or fails where HIVEMON_NO_SKIP is 1."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin")
    if found:
        return found
    reason = f"{name} is not installed (apt-get install {package})"
    if os.environ.get("HIVEMON_NO_SKIP") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def free_port() -> int:
    """Return a TCP port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def dead_port() -> Iterator[int]:
    """Keep a TCP port of this machine on which nothing listens, and nobody else may meanwhile."""
    with socket.socket() as kept:
        kept.bind(("127.0.0.1", 0))
        yield kept.getsockname()[1]


def until(condition: Callable[[], object], seconds: float = 10.0) -> None:
    """Wait until something holds; fail when it does not in time."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "did not come about in time"
        time.sleep(0.01)


class Mosquitto:
    """A mosquitto of its own: settings as configuration lines, restartable, keeping its sessions on disk."""

    def __init__(self, folder: Path, settings: str = "allow_anonymous true\n", host: str = "127.0.0.1") -> None:
        self.port = free_port()
        self.host = host
        self._binary = binary("mosquitto", "mosquitto")
        self._conf = folder / "mosquitto.conf"
        self._log = folder / "mosquitto.log"
        self._conf.write_text(
            f"listener {self.port} {host}\n"
            f"persistence true\npersistence_location {folder}/\n"
            "max_queued_messages 0\nuser root\n" + settings,
        )
        self._process: subprocess.Popen | None = None

    def start(self) -> None:
        """Start and wait until the port is open."""
        with self._log.open("a") as log:
            self._process = subprocess.Popen([self._binary, "-c", str(self._conf)], stdout=log, stderr=log)
        until(self._listens)

    def _listens(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self._log.read_text()
        with socket.socket() as probe:
            return probe.connect_ex((self.host, self.port)) == 0

    def stop(self) -> None:
        """Stop in order, so that sessions are kept."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(10)
            self._process = None


class Publisher:
    """Publishes at QoS 1 with a plain paho client and knows what the broker has acknowledged."""

    def __init__(self, port: int, *, version: int = paho.MQTTv311, name: str = "publisher", **tls) -> None:
        self.acknowledged: set[int] = set()
        self._client = paho.Client(CallbackAPIVersion.VERSION2, name, protocol=version)
        self._client.on_publish = lambda _client, _data, mid, *_: self.acknowledged.add(mid)
        if tls:
            self._client.tls_set(**tls)
        self._client.connect("localhost" if tls else "127.0.0.1", port)
        self._client.loop_start()
        until(self._client.is_connected)

    def publish(self, topic: str, payload: bytes, *, qos: int = 1, retain: bool = False) -> int:
        """Hand a message over and return its packet id."""
        return self._client.publish(topic, payload, qos, retain).mid

    def publish_and_wait(self, topic: str, payload: bytes, *, qos: int = 1, retain: bool = False) -> None:
        """Publish and wait for the broker's acknowledgement."""
        self._client.publish(topic, payload, qos, retain).wait_for_publish(10)

    def close(self) -> None:
        """Say goodbye."""
        self._client.disconnect()
        self._client.loop_stop()


def session_of_thirty_days() -> Properties:
    """Return MQTT 5 connect properties that keep a session."""
    wishes = Properties(PacketTypes.CONNECT)
    wishes.SessionExpiryInterval = 30 * 24 * 3600
    return wishes

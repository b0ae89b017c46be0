"""What systemd hears of the daemon, over a socket as systemd's own (sd_notify(3)): proof of work, and silence else."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from hivemon.config import load
from hivemon.daemon import Daemon, DaemonStatus
from hivemon.daemon.service import TROUBLE_LONGEST, ServiceManager
from hivemon.model import HOUR
from hivemon.store.daemon_state import WRITTEN_EVERY

CONFIG = """
[[yard]]
id = "orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[embedded]
port = {port}

[pages]
on = false
"""
STATUS = DaemonStatus(version="1", pid=1, started=0, written=0, messages=12_345, readings=37_035)


class Listener:
    """The other end of NOTIFY_SOCKET."""

    def __init__(self, address: str) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(address)

    def heard(self, seconds: float = 0.0) -> list[str]:
        """Return the lines that have arrived, after waiting for the first of them."""
        lines: list[str] = []
        self._socket.settimeout(seconds or 0.01)
        try:
            while True:
                lines += self._socket.recv(4096).decode().splitlines()
                self._socket.settimeout(0.05)
        except TimeoutError:
            return lines

    def until(self, wanted: str, seconds: float = 20.0) -> list[str]:
        """Return what is heard up to a line that begins so."""
        end, lines = time.monotonic() + seconds, []
        while not any(line.startswith(wanted) for line in lines):
            assert time.monotonic() < end, f"{wanted} not heard: {lines}"
            lines += self.heard(0.2)
        return lines


@pytest.fixture
def listener(tmp_path: Path) -> Listener:
    return Listener(str(tmp_path / "notify"))


@pytest.fixture
def manager(tmp_path: Path) -> ServiceManager:
    return ServiceManager({"NOTIFY_SOCKET": str(tmp_path / "notify")})


def test_a_commit_beats_and_says_how_it_stands(listener: Listener, manager: ServiceManager) -> None:
    manager.ready()
    manager.worked(STATUS)
    manager.stopping()
    said = "STATUS=link to the broker starting, 12,345 messages and 37,035 readings since the start"
    assert listener.heard() == ["READY=1", "WATCHDOG=1", said, "STOPPING=1"]


def test_trouble_that_is_said_beats_on_for_an_hour_and_no_longer(listener: Listener, manager: ServiceManager) -> None:
    """A full disk is not mended by a new start; a handle gone bad is."""
    for now, beats in ((0, True), (TROUBLE_LONGEST, True), (TROUBLE_LONGEST + 1, False)):
        manager.in_trouble("the disk is full", now)
        said = listener.heard()
        assert ("WATCHDOG=1" in said) is beats
        assert said[-1] == "STATUS=the store is in trouble, trying again: the disk is full"
    manager.worked(STATUS)
    listener.heard()
    manager.in_trouble("again", 3 * HOUR)
    assert "WATCHDOG=1" in listener.heard(), "a new trouble has its own hour"


def test_an_abstract_address_is_understood() -> None:
    listener = Listener(f"\0hivemon-test-{os.getpid()}")
    ServiceManager({"NOTIFY_SOCKET": f"@hivemon-test-{os.getpid()}"}).ready()
    assert listener.heard() == ["READY=1"]


def test_without_a_service_manager_nothing_happens() -> None:
    ServiceManager({}).worked(STATUS)


def test_a_manager_that_has_gone_does_not_take_the_daemon_along(tmp_path: Path, caplog) -> None:
    ServiceManager({"NOTIFY_SOCKET": str(tmp_path / "gone")}).worked(STATUS)
    assert "the service manager does not listen" in caplog.text


def configured(folder: Path) -> Path:
    """Write a configuration with a port of its own and return its path."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    path = folder / "hivemon.toml"
    path.write_text(CONFIG.format(port=port))
    return path


@pytest.fixture
def daemon(tmp_path: Path):
    """The daemon as systemd starts it."""
    command = [str(Path(sys.executable).with_name("hivemon")), "run", "--config", str(configured(tmp_path))]
    environment = os.environ | {"NOTIFY_SOCKET": str(tmp_path / "notify")}
    with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as process:
        yield process
        process.kill()


def test_the_daemon_says_ready_once_it_listens_is_silent_when_it_hangs_and_stops_in_order(listener, daemon) -> None:
    said = listener.until("READY=1", 60)
    assert said.index("WATCHDOG=1") < said.index("READY=1"), "a write reached the store before it called itself ready"
    daemon.send_signal(signal.SIGSTOP)  # alive by its process id, and at no work
    listener.heard()
    assert listener.heard(1.0) == []
    daemon.send_signal(signal.SIGCONT)
    daemon.send_signal(signal.SIGTERM)
    listener.until("STOPPING=1")
    assert daemon.wait(15) == 0


def test_a_store_that_cannot_be_written_is_said_and_recovers(tmp_path: Path, listener: Listener, monkeypatch) -> None:
    """Another program holds the database; the daemon says so instead of pretending, and goes on by itself."""
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    settings, now = load(configured(tmp_path)), time.time_ns() // 1_000_000
    with Daemon(settings) as daemon:
        listener.until("READY=1")
        daemon.store._db.run("PRAGMA busy_timeout = 100")  # 15 s otherwise
        holder = sqlite3.connect(tmp_path / "hivemon.db", isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        daemon.turn(now + WRITTEN_EVERY)
        assert "STATUS=the store is in trouble" in listener.heard()[-1]
        holder.execute("ROLLBACK")
        daemon.turn(now + 2 * WRITTEN_EVERY)
        beat, status = listener.heard()
    assert (beat, status[:11]) == ("WATCHDOG=1", "STATUS=link")

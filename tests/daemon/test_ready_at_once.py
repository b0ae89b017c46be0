"""A start with much to judge: ready before it is judged, readings kept and acknowledged between two yards."""

import json
import socket
import time
from pathlib import Path

import numpy as np
import paho.mqtt.client as paho
import pytest

from hivemon.config import Settings, load
from hivemon.daemon import Daemon
from hivemon.daemon.judge import YardJudge
from hivemon.model import HOUR, MINUTE, Quantity, Reading, Series, Stream
from hivemon.store import Store

YARD = """
[[yard]]
id = "{0}"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[[hive]]
id = "{0}1"
yard = "{0}"
"""
YARDS = ("north", "south")
NOW = time.time_ns() // 1_000_000
SECONDS = 10.0


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """Two yards whose readings of the last hours are in the store and have not been judged."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    path = tmp_path / "hivemon.toml"
    path.write_text(f"[embedded]\nport = {port}\n[pages]\non = false\n" + "".join(map(YARD.format, YARDS)))
    when = np.arange(NOW - 6 * HOUR, NOW - HOUR, 15 * MINUTE, dtype=np.int64)
    with Store.open(tmp_path / "hivemon.db") as store:
        for yard in YARDS:
            store.add_series(yard, {Stream(f"{yard}1", Quantity.WEIGHT): Series(when, np.full(len(when), 40.0))})
    return load(path)


def test_a_reading_is_acknowledged_while_yards_wait_to_be_judged(settings, tmp_path, monkeypatch) -> None:
    heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    heard.bind(str(tmp_path / "notify"))
    heard.settimeout(SECONDS)
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    node = paho.Client(paho.CallbackAPIVersion.VERSION2)
    sent: list[paho.MQTTMessageInfo] = []
    fold = YardJudge.fold

    def watched(judge: YardJudge) -> list:
        if not sent:  # the first yard
            while b"READY=1" not in heard.recv(4096):
                pass
            node.connect("127.0.0.1", settings.embedded.port)
            node.loop_start()
            pack = json.dumps([{"bt": NOW / 1000, "n": "weight", "v": 41.0}])
            sent.append(node.publish("hives/south/south1", pack, qos=1))
            end = time.monotonic() + SECONDS
            while daemon._arrived.empty() and time.monotonic() < end:
                time.sleep(0.01)
        elif judge.stale:  # the second, which has not been judged since the start
            sent[0].wait_for_publish(SECONDS)
            assert sent[0].is_published()
            assert daemon.store.latest("south")[Stream("south1", Quantity.WEIGHT)][1] == 41.0
        return fold(judge)

    monkeypatch.setattr(YardJudge, "fold", watched)
    daemon = Daemon(settings)
    with daemon:
        assert daemon.idle, "both yards are judged, with what came in meanwhile"
        assert not daemon._broken
        assert daemon._judges["south"]._state.time == NOW
    node.loop_stop()


def test_a_kept_state_is_read_only_for_a_reading_that_may_be_late(settings, monkeypatch) -> None:
    with Daemon(settings) as daemon:
        kept = daemon._judges["north"]._kept
    assert kept == NOW - HOUR - 15 * MINUTE
    read: list[str] = []
    last_kept = YardJudge._last_kept
    monkeypatch.setattr(YardJudge, "_last_kept", lambda judge: read.append("") or last_kept(judge))
    with Store.open(Path(settings.store.path)) as store:
        judge = YardJudge(settings, "north", store)
        assert judge.earliest_late([_weight(kept + 1)]) is None
        assert not read
        assert judge.earliest_late([_weight(kept + 1), _weight(kept - 1)]) == kept - 1
        assert read


def _weight(moment: int) -> Reading:
    return Reading(moment, "north", "north1", Quantity.WEIGHT, 40.0)

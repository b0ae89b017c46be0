"""Kill -9 at random moments under load: what was acknowledged, written, inferred or queued is there afterwards, once.

`tests/bench/bench_kill.py` does the same five hundred times.
"""

import pytest
from brokers import free_port
from killing import listening_port, run_under_kills


@pytest.fixture(autouse=True)
def nobody_answers(monkeypatch):
    monkeypatch.setenv("HIVEMON_CHANNEL_PHONE", f"json://127.0.0.1:{free_port()}/")
    monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", "any")


def test_nothing_is_lost_or_doubled_behind_mosquitto(mosquitto, tmp_path):
    broker = f'[broker]\nhost = "127.0.0.1"\nport = {mosquitto.port}'
    counts = run_under_kills(tmp_path, mosquitto.port, broker, "linked to the broker", kills=5, rate=800, days=2)
    counts.pop("of them the daemon's own")  # whether the swarm was told by now depends on the time of day
    assert min(counts.values()) > 0, counts


def test_nothing_is_lost_or_doubled_with_the_broker_inside(tmp_path):
    """The broker dies with the daemon: what it had acknowledged is there all the same."""
    port = listening_port()
    broker = f"[embedded]\nport = {port}"
    counts = run_under_kills(tmp_path, port, broker, "embedded broker listens", kills=5, rate=800, days=2)
    counts.pop("of them the daemon's own")  # whether the swarm was told by now depends on the time of day
    assert min(counts.values()) > 0, counts

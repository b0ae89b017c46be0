"""Kill -9 at 500 random moments under load, behind mosquitto and with the broker inside; prints what was checked.

    pytest tests/bench/bench_kill.py -s

HIVEMON_KILLS sets another number. Each run ends with everything acknowledged, written, inferred and queued in the
store exactly once, or it fails.
"""

import os
import sys
import time
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "real"))
from brokers import Mosquitto, free_port
from killing import listening_port, run_under_kills

KILLS = int(os.environ.get("HIVEMON_KILLS", "500"))
RATE = 12_000 / (KILLS * 1.2)
"""Messages a second, so that the recording's two weeks last about as long as the kills."""


@pytest.fixture(autouse=True)
def nobody_answers(monkeypatch):
    monkeypatch.setenv("HIVEMON_CHANNEL_PHONE", f"json://127.0.0.1:{free_port()}/")
    monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", "any")


def report(what: str, counts: dict[str, int], began: float) -> None:
    checked = ", ".join(f"{count:,} {name}" for name, count in counts.items())
    print(f"\n{what}: killed {KILLS} times in {time.monotonic() - began:.0f} s; each there once: {checked}")


@pytest.mark.timeout(7200)
def test_behind_mosquitto(tmp_path):
    server, began = Mosquitto(tmp_path), time.monotonic()
    server.start()
    try:
        broker = f'[broker]\nhost = "127.0.0.1"\nport = {server.port}'
        counts = run_under_kills(tmp_path, server.port, broker, "linked to the broker", KILLS, RATE, days=20)
    finally:
        server.stop()
    report("mosquitto", counts, began)


@pytest.mark.timeout(7200)
def test_with_the_broker_inside(tmp_path):
    port, began = listening_port(), time.monotonic()
    counts = run_under_kills(
        tmp_path, port, f"[embedded]\nport = {port}", "embedded broker listens", KILLS, RATE, days=20
    )
    report("broker inside", counts, began)

"""One device floods the daemon with 1,000 messages a second; prints what the others notice of it, and the memory.

    pytest tests/bench/bench_flood.py -s

Behind mosquitto and with the broker inside; readings, the same reading again and again, and rubbish. The other hives
publish once a second; their wait is from publishing to the stored reading.
"""

import os
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "real"))
from brokers import Mosquitto, free_port
from flooding import Flooded

SECONDS = float(os.environ.get("HIVEMON_FLOOD_SECONDS", "30"))


@pytest.mark.parametrize("kind", ["readings", "doubles", "rubbish"])
@pytest.mark.parametrize("inside", [False, True], ids=["mosquitto", "inside"])
def test_flood(tmp_path, kind, inside):
    server = None if inside else Mosquitto(tmp_path)
    if server:
        server.start()
    try:
        port = free_port() if inside else server.port
        found = Flooded(tmp_path, port, inside=inside).run(kind, SECONDS)
    finally:
        if server:
            server.stop()
    where = "broker inside" if inside else "mosquitto"
    print(f"\n{where}, {kind}: {found}")
    assert found.lost == 0

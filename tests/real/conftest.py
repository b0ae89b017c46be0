"""Real brokers as fixtures: started for one test and gone with it."""

import pytest
from brokers import Mosquitto, Publisher


@pytest.fixture
def mosquitto(tmp_path):
    """Return a running mosquitto that lets anyone in."""
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    server = Mosquitto(folder)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def publisher(mosquitto):
    """Return a publisher linked to mosquitto."""
    client = Publisher(mosquitto.port)
    yield client
    client.close()


@pytest.fixture
def address(monkeypatch):
    """Set the address of a channel in the environment."""
    return lambda name, text: monkeypatch.setenv(f"HIVEMON_CHANNEL_{name.upper()}", text)

"""`hivemon setup` finds a fake device over a real broker: mosquitto, the one inside hivemon, and one that refuses."""

import json
import threading

import pytest
import typer
from brokers import Mosquitto, Publisher, free_port

from hivemon.cli import main
from hivemon.cli.finding import sort_out
from hivemon.config import BrokerSettings, load
from hivemon.intake.broker import EmbeddedBroker
from hivemon.intake.hearing import Hearing
from hivemon.intake.link import Message
from hivemon.model import Quantity

YARD = ["--yard", "Orchard", "--latitude", "51.2", "--longitude", "3.4", "--timezone", "Europe/Brussels"]
SCALE = ("barn/o1/scale", json.dumps({"weight_lb": 106.4, "battery": 3.9, "rssi": -70}))
PROBE = ("barn/probe7", "34.6")
NODE = ("hives/orchard/o2", json.dumps([{"n": "weight", "u": "kg", "v": 31.2}]))


class FakeDevices:
    """Publishes a scale, a probe and a SenML node five times a second, as soon as there is a broker."""

    def __init__(self, port: int) -> None:
        self._port, self._stopping = port, threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._stopping.set()
        self._thread.join(10)

    def _run(self) -> None:
        client = None
        while not self._stopping.wait(0.2):
            try:
                client = client or Publisher(self._port, name="fake")
                for topic, payload in (SCALE, PROBE, NODE):
                    client.publish(topic, payload.encode())
            except OSError:
                client = None
        if client is not None:
            client.close()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "hivemon.toml"


def test_a_script_finds_the_sure_ones_and_says_how_to_take_the_rest(mosquitto, path, capsys) -> None:
    broker = ["--broker", "127.0.0.1", "--broker-port", str(mosquitto.port), "--listen", "2"]
    with FakeDevices(mosquitto.port):
        assert main(["setup", *YARD, "--hives", "o1,o2", *broker, "-o", str(path)]) == 0
        said = capsys.readouterr().out
        assert "o1's weight in lb (sure)" in said
        assert "left out; to take it: --map 'barn/probe7'=HIVE,QUANTITY,UNIT" in said
        assert "o1: 48.26 kg" in said  # 106.4 lb x 0.45359237
        assert "o2: 31.20 kg" in said
        settings = load(path)
        assert [(d.topic, d.pointer, d.unit) for d in settings.device] == [("barn/o1/scale", "/weight_lb", "lb")]

        more = ["--map", "barn/probe7=o1,temperature,Cel", "--take", "likely", "--listen", "2"]
        assert main(["setup", "--sensors", "-o", str(path), *more]) == 0
    taken = {(d.topic, d.pointer, d.hive, d.quantity) for d in load(path).device}
    assert taken == {
        ("barn/o1/scale", "/weight_lb", "o1", Quantity.WEIGHT),
        ("barn/o1/scale", "/battery", "o1", Quantity.BATTERY),
        ("barn/probe7", "", "o1", Quantity.TEMPERATURE),
    }


def test_hivemons_own_broker_runs_meanwhile_and_a_person_is_asked(path, capsys, monkeypatch) -> None:
    port = free_port()
    path.write_text(
        '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
        f'[[hive]]\nid = "o1"\nyard = "orchard"\n[[hive]]\nid = "o2"\nyard = "orchard"\n[embedded]\nport = {port}\n',
    )
    answers = iter(["y", "n", "o1,temperatur", "o1,temperature"])  # weight, battery, probe; of rssi nothing is asked
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(typer, "prompt", lambda _, **__: next(answers))
    with FakeDevices(port):
        assert main(["setup", "--sensors", "-o", str(path), "--listen", "4"]) == 0
    said = capsys.readouterr().out
    assert f"hivemon's own broker runs meanwhile on 127.0.0.1, port {port}" in said
    assert "'temperatur' is no quantity" in said
    assert "34.6 °C" in said
    assert len(load(path).device) == 2


def test_a_broker_that_runs_already_is_listened_to_beside_its_daemon(path, capsys) -> None:
    with EmbeddedBroker(port=0) as broker, FakeDevices(broker.port):
        path.write_text(
            '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
            f"[embedded]\nport = {broker.port}\n",
        )
        assert main(["setup", "--sensors", "-o", str(path), "--listen", "3", "--take", "none"]) == 0
    said = capsys.readouterr().out
    assert "is taken already" in said
    assert "o2: 31.20 kg" in said
    assert "taken in all the same" in said


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (None, "nothing listens there: is the broker running"),
        ("allow_anonymous false\n", "it does not"),
    ],
)
def test_a_broker_that_is_not_there_or_refuses_is_said_and_the_file_stays(
    tmp_path, path, capsys, settings, said
) -> None:
    port = free_port()
    server = None
    if settings is not None:
        server = Mosquitto(tmp_path, settings)
        server.start()
        port = server.port
    broker = ["--broker", "127.0.0.1", "--broker-port", str(port), "--listen", "1"]
    try:
        assert main(["setup", *YARD, "--hives", "o1", *broker, "-o", str(path)]) == 6
    finally:
        if server is not None:
            server.stop()
    err = capsys.readouterr().err
    assert said in err
    assert "look at [broker]" in err
    assert load(path).broker is not None


def test_silence_says_what_it_may_be(mosquitto, path, capsys) -> None:
    broker = ["--broker", "127.0.0.1", "--broker-port", str(mosquitto.port), "--listen", "0.5"]
    assert main(["setup", *YARD, "--hives", "o1", *broker, "-o", str(path)]) == 0
    assert "listen longer with --listen 900" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("choice", "said"),
    [
        ("barn/probe7", "no = in it"),
        ("barn/other=o1,weight", "nothing was heard there"),
        ("barn/probe7=o1", "is not understood"),
        ("barn/probe7=yard,weight", "weight is a hive's"),
        ("barn/probe7=o1,rain", "rain is the yard's"),
        ("barn/probe7=o1,weight,stone", "weight in 'stone' is not understood"),
    ],
)
def test_a_wrong_map_is_named(mosquitto, path, capsys, choice, said) -> None:
    broker = ["--broker", "127.0.0.1", "--broker-port", str(mosquitto.port), "--listen", "0.6"]
    with FakeDevices(mosquitto.port), Hearing(load_broker(mosquitto.port)) as hearing:
        while not hearing.messages:
            hearing.listen(0.1)
        assert main(["setup", *YARD, "--hives", "o1", *broker, "--map", choice, "-o", str(path)]) == 2
    assert said in capsys.readouterr().err


def load_broker(port: int):
    return BrokerSettings(host="127.0.0.1", port=port)


def test_a_topic_of_an_unknown_yard_is_explained_not_mapped(path) -> None:
    path.write_text('[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n')
    message = Message("hives/orchrd/o1", NODE[1].encode(), 1_781_265_600_000, False, (0, 0))
    found = sort_out(load(path), [message])
    assert "there is no yard 'orchrd'" in found.refused["hives/orchrd/o1"]
    assert found.others == []


def test_bare_counts_become_kilograms_by_setup_and_calibrate(mosquitto, path, capsys) -> None:
    """A converter's counts: said to be a weight, set aside until calibrated, then kg."""
    broker = ["--broker", "127.0.0.1", "--broker-port", str(mosquitto.port), "--listen", "1.5"]
    client = Publisher(mosquitto.port, name="raw")
    client.publish_and_wait("barn/o1/scale", b"946000", retain=True)
    client.close()
    assert main(["setup", *YARD, "--hives", "o1", *broker, "--map", "barn/o1/scale=o1,weight", "-o", str(path)]) == 0
    assert "bare counts" in capsys.readouterr().out
    masses = ["--point", "0=84000", "--point", "20=516000", "--check", "40=946700"]
    assert main(["calibrate", "-c", str(path), "--device", "barn/o1/scale", *masses, "--write"]) == 0
    message = Message("barn/o1/scale", b"946000", 1_781_265_600_000, False, (0, 0))
    (reading,) = sort_out(load(path), [message]).readings
    assert reading.value == pytest.approx(39.9, abs=0.05)

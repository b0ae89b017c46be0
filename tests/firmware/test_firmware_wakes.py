"""`main.py` whole, wake by wake as the chip runs it, with chips behind the shim's pins and a real broker over TLS."""

import json
import time
from contextlib import chdir
from pathlib import Path

import ds18x20
import hardware
import machine
import main
import network
import pytest
import trustme
from brokers import Mosquitto, until
from chips import Converter, fresh_machine, humidity_answer
from clock import Clock
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from daemon_beside import running, settings, stored

COUNTS = 1_000_000


@pytest.fixture
def board(tmp_path, monkeypatch):
    """Return a flash folder with settings and certificate, chips behind the pins, and a TLS broker that is not up."""
    authority = trustme.CA()
    server = authority.issue_cert("localhost")
    server.private_key_pem.write_to_path(tmp_path / "server.key")
    server.cert_chain_pems[0].write_to_path(tmp_path / "server.crt")
    authority.cert_pem.write_to_path(tmp_path / "ca.crt")
    flash = tmp_path / "flash"
    flash.mkdir()
    der = x509.load_pem_x509_certificate(authority.cert_pem.bytes()).public_bytes(Encoding.DER)
    (flash / "ca.der").write_bytes(der)
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    broker = Mosquitto(folder, f"certfile {tmp_path}/server.crt\nkeyfile {tmp_path}/server.key\nallow_anonymous true\n")
    own = json.loads((Path(main.__file__).parent / "settings-example.json").read_text())
    own["broker"] |= {"host": "localhost", "port": broker.port}
    (flash / "settings.json").write_text(json.dumps(own))
    fresh_machine()
    chip = Converter(COUNTS)
    machine.pins |= {own["pins"]["clock"]: chip, own["pins"]["data"]: chip.data}
    machine.i2c_answers.append(humidity_answer(hardware.crc8, 33.0, 61.0))
    monkeypatch.setattr(time, "ticks_ms", lambda: int(time.monotonic() * 1000), raising=False)
    monkeypatch.setattr(time, "ticks_add", lambda a, b: a + b, raising=False)
    monkeypatch.setattr(time, "ticks_diff", lambda a, b: a - b, raising=False)
    monkeypatch.setattr(time, "sleep_ms", lambda _: None, raising=False)
    now = [int(time.time()) - 86_400]
    monkeypatch.setattr(main, "Clock", lambda fetch: Clock(local=lambda: now[0], fetch=fetch, epoch=0))
    with chdir(flash):
        yield broker, own, now, tmp_path
    broker.stop()


def wakes(now, times):
    for _ in range(times):
        main.forever()
        now[0] += 300


def test_wakes_reach_the_store_over_tls_with_the_broker_away_for_half_of_them(board, capsys):
    broker, own, now, folder = board
    begin = now[0]
    wakes(now, 10)
    assert "kept for later" in capsys.readouterr().out
    broker.start()
    tls = {"host": "localhost", "ca_file": str(folder / "ca.crt"), "tls": True}
    with running(settings(folder, broker.port, **tls)):
        wakes(now, 10)
        until(lambda: len(stored(folder).get("weight", [])) == 20)
    found = stored(folder)
    kg = COUNTS * own["scale"]["scale"] + own["scale"]["offset"]
    moments = [begin + 300 * n for n in range(20)]
    expected = {"weight": kg, "temperature": 34.5625, "humidity": 61.0, "battery": 3.92}
    assert found == {
        name: [(at, pytest.approx(value, abs=0.006)) for at in moments] for name, value in expected.items()
    }
    assert machine.slept == [300_000] * 20
    assert set(machine.fed) == {120_000}
    assert machine.kept["rtc"] == b"1"
    chip = machine.pins[own["pins"]["clock"]]
    assert (chip.sleeps, chip.level) == (19, 1), "woken from sleep for every burst but the first, and asleep now"


def test_sensors_that_are_silent_are_left_out_and_said(board, capsys, monkeypatch):
    broker, _, now, folder = board
    machine.i2c_answers.clear()
    monkeypatch.setattr(ds18x20, "celsius", [])
    broker.start()
    tls = {"host": "localhost", "ca_file": str(folder / "ca.crt"), "tls": True}
    with running(settings(folder, broker.port, **tls)):
        wakes(now, 3)
        until(lambda: len(stored(folder).get("weight", [])) == 3)
    assert sorted(stored(folder)) == ["battery", "weight"]
    assert "no thermometer answers" in capsys.readouterr().out


def test_without_wireless_or_with_a_strange_certificate_everything_is_kept(board, capsys, monkeypatch):
    broker, _, now, folder = board
    broker.start()
    with monkeypatch.context() as patch:
        patch.setitem(network.there, "apiary", False)
        wakes(now, 3)
    assert "no wireless network" in capsys.readouterr().out
    other = x509.load_pem_x509_certificate(trustme.CA().cert_pem.bytes()).public_bytes(Encoding.DER)
    (folder / "flash" / "ca.der").write_bytes(other)
    wakes(now, 1)
    assert "certificate" in capsys.readouterr().out
    assert len(main.Ring("readings.ring")) == 4


def test_a_broken_settings_file_still_ends_in_sleep(board, capsys):
    _, _, now, folder = board
    (folder / "flash" / "settings.json").write_text("{")
    wakes(now, 1)
    assert machine.slept == [300_000]
    assert "this wake failed" in capsys.readouterr().out

"""`hivemon calibrate --live` takes its numbers from a device over a real broker."""

import threading

import pytest
import typer
from brokers import Publisher

from hivemon.cli import main


def test_masses_are_weighed_by_the_device_itself(mosquitto, tmp_path, capsys, monkeypatch) -> None:
    path = tmp_path / "hivemon.toml"
    path.write_text(
        '[[yard]]\nid = "orchard"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'
        '[[device]]\ntopic = "barn/scale1"\nyard = "orchard"\nhive = "o1"\nquantity = "weight"\n'
        f'[broker]\nhost = "127.0.0.1"\nport = {mosquitto.port}\n',
    )
    on_it, stopping = [0.0], threading.Event()
    client = Publisher(mosquitto.port)

    def weigh() -> None:
        while not stopping.wait(0.1):
            client.publish("barn/scale1", str(84_000 + on_it[0] * 21_600).encode())

    def prompt(question: str, **_: object) -> str:
        if question.startswith("Put"):
            on_it[0] = float(question.split()[1])
            return ""
        return next(masses)

    masses = iter(["0", "20", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(typer, "prompt", prompt)
    thread = threading.Thread(target=weigh)
    thread.start()
    try:
        assert main(["calibrate", "-c", str(path), "--device", "barn/scale1", "--live", "1"]) == 0
    finally:
        stopping.set()
        thread.join()
        client.close()
    said = capsys.readouterr().out
    (scale,) = [line for line in said.splitlines() if line.startswith("  scale = ")]
    assert float(scale.removeprefix("  scale = ")) == pytest.approx(1 / 21_600, rel=0.02)

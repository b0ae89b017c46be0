"""Two daemons divide the yards of one mosquitto: each keeps its own, nothing twice, and gaps are heard."""

import json
import threading
import time

from brokers import Publisher, until

from hivemon.cli import main
from hivemon.config import load
from hivemon.daemon import Daemon
from hivemon.intake.link import LinkState
from hivemon.store import Store

YARD = '[[yard]]\nid = "{}"\nlatitude = 51.2\nlongitude = 3.4\ntimezone = "Europe/Brussels"\n'


def configured(folder, port: int, share: str, *yards: str):
    folder.mkdir(exist_ok=True)
    broker = f'[broker]\nhost = "127.0.0.1"\nport = {port}\nshare = "{share}"\n'
    path = folder / "hivemon.toml"
    path.write_text(broker + "".join(map(YARD.format, yards)))
    return path


class Running:
    """A daemon in a thread of its own while the block lasts."""

    def __init__(self, path) -> None:
        self.daemon = Daemon(load(path))
        self._thread = threading.Thread(target=self.daemon.run_forever, daemon=True)

    def __enter__(self) -> Daemon:
        self._thread.start()
        until(lambda: getattr(self.daemon, "link", None) and self.daemon.link.status.state is LinkState.UP, 30)
        time.sleep(1.0)  # up is said when the broker has answered; it subscribes right after
        return self.daemon

    def __exit__(self, *_) -> None:
        self.daemon.stop()
        self._thread.join(20)
        assert not self._thread.is_alive()


def publish(publisher: Publisher, number: int, *yards: str) -> None:
    for yard in yards:
        pack = [{"bt": int(time.time()) - 600 + number, "n": "weight", "u": "kg", "v": 40.0}]
        publisher.publish_and_wait(f"hives/{yard}/h1", json.dumps(pack).encode())


def kept(folder) -> dict[str, int]:
    with Store.open(folder / "hivemon.db", read_only=True) as store:
        assert store.quarantine_count() == 0, "nothing of another's yards has come here"
        return {yard: sum(len(s.time) for s in store.series(yard).values()) for yard in store.yards()}


def test_each_daemon_keeps_its_own_yards_and_a_yard_may_move(tmp_path, mosquitto, publisher) -> None:
    north = configured(tmp_path / "north", mosquitto.port, "north", "a", "b")
    south = configured(tmp_path / "south", mosquitto.port, "south", "c")
    with Running(north) as one, Running(south) as other:
        for number in range(5):
            publish(publisher, number, "a", "b", "c", "d")
        until(lambda: one.status.readings == 10 and other.status.readings == 5, 20)
    assert (kept(north.parent), kept(south.parent)) == ({"a": 5, "b": 5}, {"c": 5})

    # The yard b moves south. The broker remembers north's session with it, and north says that it is wanted no more.
    configured(north.parent, mosquitto.port, "north", "a")
    configured(south.parent, mosquitto.port, "south", "c", "b")
    with Running(north) as one, Running(south) as other:
        for number in range(5, 8):
            publish(publisher, number, "a", "b", "c")
        until(lambda: one.status.readings == 3 and other.status.readings == 6, 20)
    assert (kept(north.parent)["b"], kept(south.parent)) == (5, {"b": 3, "c": 8})


def test_a_yard_in_no_share_is_heard_and_named(tmp_path, mosquitto, publisher, capsys) -> None:
    north = configured(tmp_path / "north", mosquitto.port, "north", "a")
    stopping = threading.Event()

    def nodes() -> None:
        number = 0
        while not stopping.wait(0.2):
            publish(publisher, number := number + 1, "a", "forgotten")

    speaking = threading.Thread(target=nodes, daemon=True)
    speaking.start()
    try:
        assert main(["shares", str(north), "--listen", "2"]) == 7
    finally:
        stopping.set()
        speaking.join(10)
    assert "gap: the yard forgotten publishes and is in no share" in capsys.readouterr().out

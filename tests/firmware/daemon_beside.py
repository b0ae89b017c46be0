"""A real hivemon daemon in a thread, a clock that tests move, and a link that swallows acknowledgements."""

import socket
import threading
import time
from contextlib import contextmanager, suppress

from brokers import until
from clock import Clock

from hivemon.config import BrokerSettings, EmbeddedSettings, Settings, StoreSettings, YardSettings
from hivemon.daemon import Daemon
from hivemon.intake.link import LinkState
from hivemon.store import Store

YARD = YardSettings(id="orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
TOPIC = "hives/orchard/o1"
NAMES = ("weight", "temperature", "humidity", "battery")


def settings(folder, port, *, embedded=False, **broker):
    """Return the configuration of a daemon beside a broker on a port, or with its own on it."""
    link = (
        {"embedded": EmbeddedSettings(port=port)}
        if embedded
        else {"broker": BrokerSettings(**{"host": "127.0.0.1", "port": port} | broker)}
    )
    return Settings(yard=[YARD], store=StoreSettings(path=str(folder / "hivemon.db")), **link)


@contextmanager
def running(configured):
    """Run a daemon until the end of the block."""
    daemon = Daemon(configured)
    thread = threading.Thread(target=daemon.run_forever)
    thread.start()
    try:
        until(lambda: hasattr(daemon, "link") and daemon.link.status.state is LinkState.UP)
        yield daemon
    finally:
        daemon.stop()
        thread.join(10)
        assert not thread.is_alive()


def stored(folder):
    """Return what the store holds of hive o1: quantity to [(Unix seconds, value)]."""
    with Store.open(folder / "hivemon.db", read_only=True) as store:
        return {
            stream.quantity.value: list(zip((series.time // 1000).tolist(), series.value.tolist(), strict=True))
            for stream, series in store.series("orchard").items()
            if stream.hive == "o1"
        }


class Turning:
    """A clock chip: counts from 2000 when power comes, until it is set; its time goes by as the test says."""

    START = 0

    def __init__(self, really):
        self.really = really
        self._ahead = really - self.START
        self.reachable = True
        self.clock = Clock(local=lambda: self.really - self._ahead, fetch=self._fetch, epoch=946_684_800)

    def _fetch(self):
        if not self.reachable:
            raise OSError("no time server")
        self._ahead = 946_684_800

    def power_cut(self):
        """Begin again at the year 2000."""
        self._ahead = self.really - self.START


class Deaf:
    """A link to a broker that hands everything over and, once deaf, brings nothing back."""

    def __init__(self, port):
        self._port = port
        self.deaf = False
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        self._threads = [threading.Thread(target=self._serve)]
        self._sockets = [self._server]
        self._threads[0].start()

    def _serve(self):
        with suppress(OSError):
            while True:
                here, _ = self._server.accept()
                there = socket.create_connection(("127.0.0.1", self._port))
                self._sockets += [here, there]
                for source, sink, back in ((here, there, False), (there, here, True)):
                    thread = threading.Thread(target=self._carry, args=(source, sink, back))
                    self._threads.append(thread)
                    thread.start()

    def _carry(self, source, sink, back):
        with suppress(OSError):
            while data := source.recv(65536):
                if not (back and self.deaf):
                    sink.sendall(data)

    def close(self):
        """End all links."""
        for one in self._sockets:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        for thread in self._threads:
            thread.join(5)


def last_whole_hour():
    """Return Unix seconds of an hour that has passed."""
    return int(time.time()) // 3600 * 3600 - 3600

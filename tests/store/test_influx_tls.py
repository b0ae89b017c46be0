"""The copy to a server over TLS: what is encrypted arrives, and what is wrong with a certificate is said in words."""

import ssl
import threading
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
import trustme

from hivemon.config import InfluxSettings
from hivemon.errors import ConfigError
from hivemon.store.server import Answer, InfluxServer

LINE = "reading,yard=orchard weight=41.5 1781265600000"


class Taker(BaseHTTPRequestHandler):
    """Answers a write as InfluxDB does: 204, nothing to say."""

    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["content-length"]))
        self.server.taken.append(self.headers["authorization"])
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture
def server(authority: trustme.CA):
    """Return a function that starts a server with a certificate for a name, and gives its port."""
    running = []

    def start(name: str, **fields: object) -> ThreadingHTTPServer:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        authority.issue_cert(name, **fields).configure_cert(context)
        found = ThreadingHTTPServer(("127.0.0.1", 0), Taker)
        found.taken = []
        found.handle_error = lambda *_: None  # a client that hangs up is the point
        found.socket = context.wrap_socket(found.socket, server_side=True)
        threading.Thread(target=found.serve_forever, daemon=True).start()
        running.append(found)
        return found

    yield start
    for found in running:
        found.shutdown()
        found.server_close()


@pytest.fixture
def ca_file(authority: trustme.CA, tmp_path: Path) -> str:
    authority.cert_pem.write_to_path(tmp_path / "ca.pem")
    return str(tmp_path / "ca.pem")


def write(port: int, ca_file: str | None, host: str = "localhost"):
    sender = InfluxServer(InfluxSettings(url=f"https://{host}:{port}", ca_file=ca_file))
    try:
        return sender.write([LINE])
    finally:
        sender.close()


def test_an_authority_of_ones_own_is_trusted_when_named(server, ca_file: str, monkeypatch) -> None:
    monkeypatch.setenv("HIVEMON_INFLUX_TOKEN", "hush")
    there = server("localhost")
    assert write(there.server_port, ca_file).answer is Answer.ACCEPTED
    assert there.taken == ["Token hush"]


@pytest.mark.parametrize(
    ("name", "host", "with_ca", "words"),
    [
        (
            "localhost",
            "localhost",
            False,
            "unknown here: name that authority's certificate as influx.ca_file",
        ),
        ("series.example", "localhost", True, "another host name: write the name the certificate has as the host in"),
        ("localhost", "127.0.0.1", True, "another address"),
    ],
)
def test_certificate_troubles_of_the_copy_are_said(server, ca_file: str, name, host, with_ca, words) -> None:
    there = server(name)
    reply = write(there.server_port, ca_file if with_ca else None, host)
    assert (reply.answer, words in reply.detail) == (Answer.AWAY, True), reply
    assert there.taken == [], "nothing, and no token, went to a server that is not known"


def test_an_expired_certificate_of_the_copy_is_said(server, ca_file: str) -> None:
    old = datetime(2020, 1, 1, tzinfo=UTC)
    there = server("localhost", not_before=old, not_after=old + timedelta(days=1))
    assert "expired" in write(there.server_port, ca_file).detail


def test_a_ca_file_that_is_none_is_an_error_of_the_configuration(tmp_path: Path) -> None:
    (tmp_path / "empty").write_text("")
    for name in ("empty", "nowhere"):
        with pytest.raises(ConfigError, match=r"influx\.ca_file"):
            InfluxServer(InfluxSettings(url="https://localhost", ca_file=str(tmp_path / name)))

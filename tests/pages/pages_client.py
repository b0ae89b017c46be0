"""A client for the pages' server, and small helpers of their tests."""

import http.client
import json
import socket
import ssl
import time
from typing import Any, NamedTuple

import msgspec

from hivemon.config import Settings

NOW = 1_748_413_500_000
"""2025-05-28T06:25:00Z: the morning after the last reading of the recording."""


def with_pages(settings: Settings, **named: object) -> Settings:
    """Return settings with other [pages]."""
    return msgspec.structs.replace(settings, pages=msgspec.structs.replace(settings.pages, **named))


class Answer(NamedTuple):
    """What the server said; header names are in lower case."""

    status: int
    headers: dict[str, str]
    content: bytes
    cookies: list[str]

    def json(self) -> Any:
        return json.loads(self.content)


class Client:
    """Asks a real server over a real socket, as a browser would, but without a browser's care; keeps a cookie."""

    def __init__(self, port: int, *, tls: bool = False, host: str = "") -> None:
        self.port = port
        self.host = host or f"127.0.0.1:{port}"
        self.cookie = ""
        self._tls = tls

    def request(self, method: str, path: str, *, json: Any = None, headers: Any = None, body: Any = None) -> Answer:
        """Ask; `json` becomes the body."""
        given = {"Host": self.host, **({"Cookie": self.cookie} if self.cookie else {}), **(headers or {})}
        if json is not None:
            body = msgspec.json.encode(json)
        if self._tls:
            careless = ssl._create_unverified_context()
            link = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=20, context=careless)
        else:
            link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        try:
            link.request(method, path, body, given)
            found = link.getresponse()
            cookies = found.headers.get_all("set-cookie") or []
            if cookies:
                self.cookie = cookies[0].partition(";")[0]
            return Answer(found.status, {n.lower(): v for n, v in found.getheaders()}, found.read(), cookies)
        finally:
            link.close()

    def get(self, path: str, **given: Any) -> Answer:
        return self.request("GET", path, **given)

    def post(self, path: str, **given: Any) -> Answer:
        return self.request("POST", path, **given)

    def delete(self, path: str, **given: Any) -> Answer:
        return self.request("DELETE", path, **given)


def free_port() -> int:
    """Return a port of this machine that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def csrf(client: Client) -> dict[str, str]:
    """Return the header that changes must carry."""
    return {"x-hivemon-csrf": client.get("/api/v1/session").json()["csrf"]}


def eventually(condition, seconds: float = 10.0):
    """Return what a condition gives as soon as it holds."""
    end = time.monotonic() + seconds
    while not (found := condition()):
        assert time.monotonic() < end, "did not come about in time"
        time.sleep(0.02)
    return found

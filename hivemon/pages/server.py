"""The web server beside the daemon: a thread of its own, which can fail without taking the daemon along."""

from __future__ import annotations

import asyncio
import logging
import socket
import threading
import time
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Self

import uvicorn

from hivemon.errors import ConfigError, LinkError
from hivemon.pages.app import make_app
from hivemon.pages.reader import Reader

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import TracebackType

    from hivemon.config import Settings
    from hivemon.model import Millis

START_SECONDS = 10.0
STOP_SECONDS = 3

log = logging.getLogger("hivemon.pages")


class PagesServer:
    """Serves the pages while the block lasts.

    Args:
        settings: The configuration.
        clock: Milliseconds UTC now; None: this machine's.

    Raises:
        LinkError: The port is taken or must not be used.
        ConfigError: The password, certificate or key file cannot be read, or the pages' own files are missing.
    """

    def __init__(self, settings: Settings, *, clock: Callable[[], Millis] | None = None) -> None:
        self._settings = settings
        self._reader = Reader(Path(settings.store.path))
        self._app = make_app(settings, self._reader, clock=clock)
        pages = settings.pages
        config = uvicorn.Config(
            self._app,
            log_config=None,
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            http="h11",
            ws="none",
            limit_concurrency=200,
            timeout_keep_alive=20,
            timeout_graceful_shutdown=1,
            ssl_certfile=pages.certificate,
            ssl_keyfile=pages.key,
        )
        self._server = uvicorn.Server(config)
        self._socket: socket.socket | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread = threading.Thread(target=self._run, name="pages", daemon=True)

    @property
    def url(self) -> str:
        """The address to open in a browser on this machine."""
        pages = self._settings.pages
        scheme = "https" if pages.certificate else "http"
        host = {"0.0.0.0": "127.0.0.1", "::": "[::1]", "::1": "[::1]"}.get(pages.bind, pages.bind)  # noqa: S104 - only compared
        return f"{scheme}://{host}:{self.port}/"

    @property
    def port(self) -> int:
        """The port it listens on; before it does, the one it is going to try."""
        return int(self._socket.getsockname()[1]) if self._socket is not None else self._settings.pages.port

    def __enter__(self) -> Self:
        """Listen."""
        self._check_certificate()
        self._socket = _listen(self._settings.pages.bind, self._settings.pages.port)
        self._thread.start()
        give_up = time.monotonic() + START_SECONDS
        while not self._server.started and self._thread.is_alive() and time.monotonic() < give_up:
            time.sleep(0.01)
        if not self._server.started:
            self._close()
            raise LinkError("the pages cannot be served", hint="look at the log for the reason")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop; requests under way get a second."""
        self._close()

    def _check_certificate(self) -> None:
        try:
            self._server.config.load()
        except OSError as error:
            hint = "look at certificate and key under [pages]"
            raise ConfigError(f"the pages' certificate or key cannot be used: {error}", hint=hint) from error

    async def _serve(self) -> None:
        self._loop = asyncio.get_running_loop()
        await self._server.serve(sockets=[self._socket] if self._socket else None)

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except Exception:
            log.exception("the pages have stopped for an error of the program's own; the daemon goes on")

    def _close(self) -> None:
        if self._loop is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._app.state.changes.close)
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(STOP_SECONDS)
        self._reader.close()
        if self._socket is not None:
            self._socket.close()


def _listen(bind: str, port: int) -> socket.socket:
    """Return a listening socket; raises LinkError saying why not."""
    try:
        family = socket.getaddrinfo(bind, port, type=socket.SOCK_STREAM)[0]
        found = socket.socket(family[0], socket.SOCK_STREAM)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind(family[4])
        except BaseException:
            found.close()
            raise
    except OSError as error:
        hint = "another program uses it, perhaps another hivemon: set port under [pages]"
        raise LinkError(f"the pages cannot listen on {bind} port {port}: {error.strerror}", hint=hint) from error
    return found


@contextmanager
def serving(settings: Settings, *, clock: Callable[[], Millis] | None = None) -> Iterator[PagesServer | None]:
    """Serve the pages beside a daemon while the block lasts; yields None when they are off or cannot listen.

    A port that is taken is said in the log and no more: the daemon matters more than its pages. Raises ConfigError for
    a mistake in the configuration, which is better mended at once.
    """
    if not settings.pages.on:
        yield None
        return
    with ExitStack() as stack:
        server = PagesServer(settings, clock=clock)
        try:
            stack.enter_context(server)
        except LinkError as error:
            log.warning("no pages: %s; %s", error, error.hint)
            yield None
            return
        log.info("the pages are at %s", server.url)
        yield server

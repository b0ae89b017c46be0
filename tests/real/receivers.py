"""Real servers that messages are sent to: a mail server and a web server of this machine, on free ports."""

import contextlib
import json
import socket
import threading
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult
from brokers import free_port


class Mailbox:
    """A mail server (SMTP, RFC 5321) that keeps every mail; with a `password` it wants one."""

    def __init__(self, password: str | None = None, port: int | None = None) -> None:
        self.mails = []
        self.port = port or free_port()
        options = {}
        if password is not None:
            options = {"auth_required": True, "auth_require_tls": False, "authenticator": self._judge}
        self._password = password
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port, **options)

    def _judge(self, _server, _session, _envelope, _mechanism, data) -> AuthResult:
        # handled=False: the server itself answers 535 to a wrong one (RFC 4954 section 6)
        return AuthResult(success=data.password.decode() == self._password, handled=False)

    async def handle_DATA(self, _server, _session, envelope) -> str:  # noqa: N802 - the library's name
        self.mails.append(message_from_bytes(envelope.content, policy=policy.default))
        return "250 OK"

    @property
    def subjects(self) -> list[str]:
        return [mail["Subject"] for mail in self.mails]

    def text(self, number: int = 0) -> str:
        """Return a mail's plain text."""
        return self.mails[number].get_body(("plain",)).get_content()

    def __enter__(self):
        self._controller.start()
        return self

    def __exit__(self, *_) -> None:
        self._controller.stop()


class Silent:
    """A server that takes every connection and never says a word; at the end it hangs up."""

    def __init__(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._taken: list[socket.socket] = []
        self._thread = threading.Thread(target=self._take)
        self.port = self._listening.getsockname()[1]

    @property
    def callers(self) -> int:
        return len(self._taken)

    def _take(self) -> None:
        with contextlib.suppress(OSError):  # it is over
            while True:
                self._taken.append(self._listening.accept()[0])

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_) -> None:
        self._listening.shutdown(socket.SHUT_RDWR)
        self._thread.join()
        for one in (self._listening, *self._taken):
            one.close()


class Hook:
    """A web server that keeps every JSON body posted to it, and answers with `status`."""

    def __init__(self, port: int | None = None) -> None:
        self.status = 200
        self.bodies: list[dict] = []
        hook = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
                if hook.status == 200:
                    hook.bodies.append(body)
                self.send_response(hook.status)
                self.end_headers()

            def log_message(self, *_) -> None:
                """Say nothing."""

        self._server = ThreadingHTTPServer(("127.0.0.1", port or 0), Handler)
        self.port = self._server.server_port
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.01})

    @property
    def titles(self) -> list[str]:
        return [body["title"] for body in self.bodies]

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

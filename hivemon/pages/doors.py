"""Logging in and out, and the guest link."""

from __future__ import annotations

import asyncio
import secrets
import time
from typing import TYPE_CHECKING, Annotated

import msgspec
from msgspec import Meta
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

import hivemon
from hivemon.errors import StoreError
from hivemon.pages import passwords, static
from hivemon.pages.guard import COOKIE, refuse, token_of
from hivemon.pages.language import language
from hivemon.pages.limits import Bucket
from hivemon.pages.sessions import LASTS, Role, Session

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request

    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.pages.reader import Reader
    from hivemon.pages.sessions import Sessions

TRIES, EVERY_SECONDS = 5.0, 30.0
"""Five tries at a password at once from one address, then one every half minute."""
RECALL_SECONDS = 0.5
"""Between looks whether the store can be read."""
ALL_TRIES = 30.0
"""Tries from everywhere at once; then one a second."""


class Login(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a browser sends to log in."""

    password: Annotated[str, Meta(max_length=passwords.LONGEST)]


class Doors:
    """The session addresses. `everyone` is the session of all where no password is set."""

    def __init__(
        self,
        settings: Settings,
        sessions: Sessions,
        reader: Reader,
        kept: str | None,
        clock: Callable[[], Millis],
    ) -> None:
        self._settings = settings
        self._sessions = sessions
        self._reader = reader
        self._kept = kept
        self._clock = clock
        self._tries = Bucket(1 / EVERY_SECONDS, TRIES)
        self._all_tries = Bucket(1.0, ALL_TRIES)
        self.everyone = Session(role=Role.OWNER, csrf=secrets.token_urlsafe(24), began=0)

    async def recall(self) -> None:
        """Take over the sessions of the last run, as soon as the daemon has made or mended the store."""
        while self._kept is not None:
            try:
                await self._reader.read(self._sessions.recall)
            except StoreError:
                await asyncio.sleep(RECALL_SECONDS)
            else:
                return

    def routes(self) -> list[Route]:
        """Return the addresses."""
        return [
            Route("/api/v1/session", self.show, methods=["GET"]),
            Route("/api/v1/session", self.log_in, methods=["POST"]),
            Route("/api/v1/session", self.log_out, methods=["DELETE"]),
            Route("/api/v1/guest-link", self.make_link, methods=["POST"]),
            Route("/api/v1/guest-link", self.drop_link, methods=["DELETE"]),
            Route("/guest/{token}", self.enter_as_guest),
        ]

    async def show(self, request: Request) -> Response:
        """Say who asks, and with which token changes must come."""
        return self._reply(request.scope["session"])

    async def log_in(self, request: Request) -> Response:
        """Begin an owner's session for the right password."""
        if self._kept is None:
            return self._reply(self.everyone)
        given = msgspec.json.decode(await request.body(), type=Login)
        client, now = request.client.host if request.client else "-", time.monotonic()
        if not (self._tries.allow(client, now) and self._all_tries.allow("all", now)):
            return refuse(429, "too many tries", "wait a minute", code="too-many-tries", **{"retry-after": "60"})
        if not await asyncio.to_thread(passwords.matches, self._kept, given.password):
            return refuse(403, "that is not the password", "`hivemon password` sets a new one", code="wrong-password")
        token = self._sessions.begin(Role.OWNER, _now())
        await self._reader.write(self._sessions.keep)
        response = self._reply(self._sessions.find(token, _now()))
        self._set_cookie(response, token)
        return response

    async def log_out(self, request: Request) -> Response:
        """End the session."""
        self._sessions.end(token_of(request.headers))
        await self._reader.write(self._sessions.keep)
        response = self._reply(None)
        response.delete_cookie(COOKIE, path="/")
        response.headers["clear-site-data"] = '"cache", "storage"'
        return response

    async def make_link(self, _request: Request) -> Response:
        """Make a link that lets anyone look and nobody change; the one before ends."""
        if self._kept is None:
            hint = "`hivemon password` sets one"
            return refuse(400, "there is no password, so nobody needs a link", hint, code="no-password")
        token = self._sessions.new_guest_link()
        await self._reader.write(self._sessions.keep)
        return Response(msgspec.json.encode({"path": f"/guest/{token}"}), 201, media_type="application/json")

    async def drop_link(self, _request: Request) -> Response:
        """End the guest link and shut its guests out."""
        self._sessions.end_guest_link()
        await self._reader.write(self._sessions.keep)
        return Response(b"{}", media_type="application/json")

    async def enter_as_guest(self, request: Request) -> Response:
        """Begin a guest's session for the right link."""
        client = request.client.host if request.client else "-"
        if not self._tries.allow(client, time.monotonic()):
            return refuse(429, "too many tries", "wait a minute", code="too-many-tries", **{"retry-after": "60"})
        if not self._sessions.is_guest(request.path_params["token"]):
            if "text/html" in request.headers.get("accept", ""):
                return FileResponse(static.folder() / "index.html", 404, {"cache-control": "no-store"})
            return refuse(404, "this link has ended", "ask for a new one", code="link-over")
        token = self._sessions.begin(Role.GUEST, _now())
        await self._reader.write(self._sessions.keep)
        response = RedirectResponse("/", 303, {"cache-control": "no-store"})
        self._set_cookie(response, token)
        return response

    def _reply(self, session: Session | None) -> Response:
        content = {
            "role": session.role.value if session else None,
            "csrf": session.csrf if session else None,
            "password": self._kept is not None,
            "version": hivemon.__version__,
            "language": language(self._settings),
            "clock": self._clock(),
        }
        return Response(msgspec.json.encode(content), media_type="application/json")

    def _set_cookie(self, response: Response, token: str) -> None:
        response.set_cookie(
            COOKIE,
            token,
            max_age=LASTS // 1000,
            path="/",
            httponly=True,
            samesite="strict",
            secure=self._settings.pages.certificate is not None,
        )


def _now() -> Millis:
    return time.time_ns() // 1_000_000

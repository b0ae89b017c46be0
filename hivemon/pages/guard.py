"""The door: every request passes here before anything else, and every answer on its way out.

In order: the name it was asked under (against DNS rebinding), its rate, who asks, and for what changes something the
origin and the session's CSRF token. What comes from elsewhere is refused in words.
"""

from __future__ import annotations

import secrets
import time
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse

from hivemon.pages.limits import Bucket
from hivemon.pages.sessions import Role, Session

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from hivemon.config import PagesSettings
    from hivemon.pages.sessions import Sessions

API = "/api/v1/"
METRICS = "/metrics"
"""Asked by scrapers, who show a token of their own where the pages have a password."""
COOKIE = "hivemon-session"
CSRF_HEADER = "x-hivemon-csrf"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
OPEN_PATHS = frozenset({"/api/v1/session", "/api/v1/openapi.json"})
"""Asked by browsers that have no session yet."""
LONGEST_BODY = 16_384
EACH_SECOND, BURST = 20.0, 200.0
"""Questions to the API from one address; a page asks about six when it opens."""
FILE_COST = 0.1
"""What a file counts for: there are thirty, and each costs next to nothing."""

_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types hivemon-worker"
)
HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class Guard:
    """ASGI middleware. Puts the `Session` (or None) into the scope under "session".

    Args:
        app: What is guarded.
        settings: Where the pages listen and under which names.
        sessions: Who is logged in.
        protected: Whether a password is set; without one, only this machine can ask, and everyone on it is the owner.
        owner: The session of everyone where there is no password.
    """

    def __init__(
        self, app: ASGIApp, *, settings: PagesSettings, sessions: Sessions, protected: bool, owner: Session
    ) -> None:
        self._app = app
        self._sessions = sessions
        self._protected = protected
        self._owner = owner
        self._names = {"localhost", "127.0.0.1", "::1", settings.bind.lower(), *(n.lower() for n in settings.names)}
        self._any_name = not settings.is_local and protected and not settings.names
        self._scrape_token = settings.scrape_token()
        self._rate = Bucket(EACH_SECOND, BURST)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        session = self._session(headers)
        scope["session"] = session
        refusal = self._refusal(scope, headers, session)

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
                if _is_asked(scope["path"]):
                    out.setdefault("cache-control", "no-store")
            await send(message)

        await (refusal or self._app)(scope, receive, send_guarded)

    def _session(self, headers: Headers) -> Session | None:
        if not self._protected:
            return self._owner
        return self._sessions.find(token_of(headers), int(time.time() * 1000))

    def _refusal(self, scope: Scope, headers: Headers, session: Session | None) -> JSONResponse | None:
        """Return why a request is refused, or None."""
        if not self._any_name and _name(headers.get("host", "")) not in self._names:
            hint = "add the name to names under [pages] in hivemon.toml"
            return refuse(421, "the pages are not served under this name", hint, code="wrong-name")
        client = scope["client"][0] if scope.get("client") else "-"
        cost = 1.0 if _is_asked(scope["path"]) else FILE_COST
        if not self._rate.allow(client, time.monotonic(), cost):
            return refuse(429, "too many requests", "wait a few seconds", code="too-many")
        if not _is_asked(scope["path"]):
            return None
        if scope["method"] not in SAFE:
            return self._refusal_of_change(scope, headers, session)
        if session is None and scope["path"] not in OPEN_PATHS and not self._may_scrape(scope["path"], headers):
            return _no_session()
        return None

    def _may_scrape(self, path: str, headers: Headers) -> bool:
        """Whether a scraper shows its token (RFC 6750, 2.1), which opens nothing but the metrics."""
        if path != METRICS or self._scrape_token is None:
            return False
        shown = headers.get("authorization", "").encode(errors="replace")
        return secrets.compare_digest(shown, b"Bearer " + self._scrape_token.encode())

    def _refusal_of_change(self, scope: Scope, headers: Headers, session: Session | None) -> JSONResponse | None:
        """Refuse a change from another site, without the session's token, by a guest, or too large."""
        if not _same_origin(headers):
            return refuse(403, "this came from another site", "use hivemon's own pages", code="other-site")
        length = headers.get("content-length", "" if "transfer-encoding" in headers else "0")
        if not length.isdigit() or int(length) > LONGEST_BODY:
            hint = f"at most {LONGEST_BODY} bytes, with a Content-Length"
            return refuse(413, "that is too much", hint, code="too-large")
        if scope["path"] == "/api/v1/session" and scope["method"] == "POST":
            return None
        if session is None:
            return _no_session()
        return self._refusal_by_session(scope, headers, session)

    def _refusal_by_session(self, scope: Scope, headers: Headers, session: Session) -> JSONResponse | None:
        if headers.get(CSRF_HEADER) != session.csrf:
            return refuse(403, "the page is out of date", "open it again", code="stale-page")
        if session.role is not Role.OWNER and scope["path"] != "/api/v1/session":
            return refuse(403, "a guest may look, not change", "log in with the password", code="guest")
        return None


def _is_asked(path: str) -> bool:
    """Whether an address answers from the store; the others are files that anyone may have."""
    return path.startswith(API) or path == METRICS


def _no_session() -> JSONResponse:
    return refuse(401, "log in first", "open the first page", code="no-session")


def refuse(status: int, error: str, hint: str = "", *, code: str = "", **headers: str) -> JSONResponse:
    """Return a refusal in words, in the form every error of the API has; by its `code` the pages know it."""
    content: dict[str, Any] = {"error": error, "hint": hint, "code": code}
    return JSONResponse(content, status_code=status, headers=headers or None)


def token_of(headers: Headers) -> str | None:
    """Return the session token of a request's cookie, or None."""
    for part in headers.get("cookie", "").split(";"):
        name, _, value = part.strip().partition("=")
        if name == COOKIE:
            return value
    return None


def _name(host: str) -> str:
    """Return the name in a Host header without its port, IPv6 brackets off; empty when it is none."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _same_origin(headers: Headers) -> bool:
    """Tell whether a request comes from our own pages (or from no browser: those send neither header)."""
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host", "")

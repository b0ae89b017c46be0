"""The HTTP application: which address answers what. The door is `guard`, the answers are made in the other modules."""

from __future__ import annotations

import asyncio
import hashlib
import time
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import msgspec
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.routing import Mount, Route

from hivemon.errors import HivemonError, StoreError, UsageError
from hivemon.pages import advised, logbook, many, metrics, passwords, sensors, static, story, today, yard
from hivemon.pages.changes import Changes
from hivemon.pages.doors import Doors
from hivemon.pages.files import Files, together
from hivemon.pages.guard import API, METRICS, Guard, refuse
from hivemon.pages.language import language
from hivemon.pages.sessions import Sessions

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable

    from starlette.requests import Request

    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.pages.reader import Reader
    from hivemon.store import Store

PAGES = ("/", "/hive/{yard}/{hive}", "/yards", "/yard/{yard}", "/logbook", "/sensors", "/login")
"""The addresses of the pages: one file, which finds out itself what to show."""
OPENAPI = Path(__file__).parent / "openapi.json"


def make_app(settings: Settings, reader: Reader, *, clock: Callable[[], Millis] | None = None) -> Starlette:
    """Return the application over a store; raises ConfigError when its password file or its own files are missing.

    Its `state.changes` holds open connections: whoever stops the server closes it first, in the server's own loop.
    """
    kept = passwords.read(settings.pages)
    sessions = Sessions()
    now = clock or (lambda: time.time_ns() // 1_000_000)
    doors = Doors(settings, sessions, reader, kept, now)
    api = Api(settings, reader, now)

    @asynccontextmanager
    async def life(_app: Starlette) -> AsyncIterator[None]:
        recalling = asyncio.create_task(doors.recall())
        yield
        recalling.cancel()

    guard = Middleware(
        Guard, settings=settings.pages, sessions=sessions, protected=kept is not None, owner=doors.everyone
    )
    app = Starlette(
        routes=[*api.routes(), *doors.routes(), *_pages()],
        middleware=[guard, Middleware(GZipMiddleware, minimum_size=800, compresslevel=5)],
        exception_handlers={
            404: _missing,
            HivemonError: _explain,
            msgspec.ValidationError: _invalid,
            msgspec.DecodeError: _invalid,
        },
        lifespan=life,
    )
    app.state.changes = api.changes
    return app


def _pages() -> list[Route | Mount]:
    place = static.folder()
    files = Files(place, together(place))

    async def page(request: Request) -> Response:
        response = files.response("/index.html", request.headers, fresh=True)
        response.headers["link"] = ", ".join(
            f"<{path}>; rel=preload; as=fetch; crossorigin" for path in _first(request)
        )
        return response

    return [*(Route(path, page) for path in PAGES), Mount("/", files)]


def _first(request: Request) -> list[str]:
    """Return what a page asks first: its browser fetches that while it still reads the page's modules."""
    where = {name: quote(value, "") for name, value in request.path_params.items()}
    found = [f"{API}session"]
    if "hive" in where:
        found.append(f"{API}yards/{where['yard']}/hives/{where['hive']}")
    elif not request.url.query:
        shown = {"/": "today?page=0", "/yards": "yards", "/logbook": "logbook", "/sensors": "sensors?page=0"}.get(
            request.url.path
        )
        found += [f"{API}{shown}"] if shown else [f"{API}yards/{where['yard']}?page=0"] if where else []
    return found


class Api:
    """The JSON answers. Times are ms UTC, weights kg, temperatures °C; `openapi.json` describes them all."""

    def __init__(self, settings: Settings, reader: Reader, clock: Callable[[], Millis]) -> None:
        self._settings = settings
        self._reader = reader
        self._clock = clock
        self.changes = Changes(reader)
        self._sent = logbook.Sent()
        self._adding = asyncio.Lock()
        places = settings.yard
        # The pages name the only yard where they lead to it; of more they lead to the page of all yards.
        self._only_yard = {"id": places[0].id, "name": places[0].title} if len(places) == 1 else None

    def routes(self) -> list[Route]:
        """Return the addresses under /api/v1, and the scrapers'."""
        hive = "/api/v1/yards/{yard}/hives/{hive}"
        return [
            Route("/api/v1/today", self.today),
            Route("/api/v1/yards", self.yards),
            Route("/api/v1/yards/{yard}", self.yard),
            Route(hive, self.hive),
            Route(f"{hive}/curves/{{quantity}}", self.curve),
            Route("/api/v1/sensors", self.sensors),
            Route("/api/v1/logbook", self.entries, methods=["GET"]),
            Route("/api/v1/logbook", self.add_entry, methods=["POST"]),
            Route("/api/v1/logbook/{number:int}", self.entry, methods=["GET"]),
            Route("/api/v1/logbook/{number:int}", self.correct, methods=["PUT"]),
            Route("/api/v1/logbook/{number:int}", self.strike, methods=["DELETE"]),
            Route("/api/v1/answers", self.answer, methods=["POST"]),
            Route("/api/v1/advice-answers", self.answer_advice, methods=["POST"]),
            Route("/api/v1/changes", self.listen),
            Route("/api/v1/openapi.json", self.openapi),
            Route(METRICS, self.metrics),
        ]

    async def today(self, request: Request) -> Response:
        """Return what needs doing, and a page of hives in order of need."""
        page, clock = number(request, "page", 0), self._clock()
        return await self._answer(request, lambda store: today.today(self._settings, store, page=page, clock=clock))

    async def yards(self, request: Request) -> Response:
        """Return all yards, each with how many of its hives need the beekeeper."""
        clock = self._clock()
        return await self._answer(request, lambda store: many.yards(self._settings, store, clock=clock))

    async def yard(self, request: Request) -> Response:
        """Return a yard's hives side by side."""
        name, page, clock = request.path_params["yard"], number(request, "page", 0), self._clock()
        return await self._answer(
            request, lambda store: yard.comparison(self._settings, store, name, page=page, clock=clock), name
        )

    async def hive(self, request: Request) -> Response:
        """Return a hive's story."""
        place, name, clock = request.path_params["yard"], request.path_params["hive"], self._clock()
        return await self._answer(
            request, lambda store: story.story(self._settings, store, place, name, clock=clock), place
        )

    async def curve(self, request: Request) -> Response:
        """Return one quantity between two moments, thinned, and for the weight the nights."""
        where = (request.path_params["yard"], request.path_params["hive"])
        quantity = request.path_params["quantity"]
        span = (number(request, "since"), number(request, "until"))
        width = number(request, "width", 800)

        def look(store: Store) -> dict[str, Any]:
            found = story.curve(self._settings, store, where, quantity, span, width)
            return {**found, "nights": story.nights(self._settings, where[0], *span)}

        return await self._answer(request, look, where[0])

    async def sensors(self, request: Request) -> Response:
        """Return what every sensor last said."""
        page, clock = number(request, "page", 0), self._clock()
        return await self._answer(request, lambda store: sensors.sensors(self._settings, store, page=page, clock=clock))

    async def entries(self, request: Request) -> Response:
        """Return the logbook, the newest first."""
        place, hive, clock = request.query_params.get("yard"), request.query_params.get("hive"), self._clock()
        return await self._answer(
            request, lambda store: logbook.entries(self._settings, store, hive, place, clock=clock)
        )

    async def add_entry(self, request: Request) -> Response:
        """Keep a logbook entry, once however often it is sent."""
        new, clock = msgspec.json.decode(await request.body(), type=logbook.NewEntry), self._clock()
        async with self._adding:
            kept = self._sent.find(new.key)
            if kept is None:
                kept = await self._reader.write(lambda store: logbook.add(self._settings, store, new, clock=clock))
                self._sent.remember(new.key, kept)
        return reply(kept, 201)

    async def entry(self, request: Request) -> Response:
        """Return an entry with everything that was done to it."""
        which, clock = request.path_params["number"], self._clock()
        return await self._answer(request, lambda store: logbook.history(store, which, clock=clock))

    async def correct(self, request: Request) -> Response:
        """Put an entry in the place of another, which stays in its history."""
        new = msgspec.json.decode(await request.body(), type=logbook.NewEntry)
        which, clock = request.path_params["number"], self._clock()
        return reply(
            await self._reader.write(lambda store: logbook.correct(self._settings, store, which, new, clock=clock))
        )

    async def strike(self, request: Request) -> Response:
        """Strike a logbook entry."""
        which = request.path_params["number"]
        return reply(await self._reader.write(lambda store: logbook.strike(store, which)))

    async def answer(self, request: Request) -> Response:
        """Keep the answer to an event in the logbook."""
        new = msgspec.json.decode(await request.body(), type=logbook.NewAnswer)
        return reply(await self._reader.write(lambda store: logbook.reply(self._settings, store, new)), 201)

    async def answer_advice(self, request: Request) -> Response:
        """Keep the answer to an advisory: seen, done or wrong."""
        new = msgspec.json.decode(await request.body(), type=advised.NewAdviceAnswer)
        clock = self._clock()
        return reply(await self._reader.write(lambda store: advised.answer(store, new, clock=clock)), 201)

    async def listen(self, _request: Request) -> Response:
        """Tell of changes for as long as the browser listens."""
        if self.changes.full:
            return refuse(503, "too many pages are open", "close some", code="too-many-pages")
        return StreamingResponse(
            self.changes.stream(), media_type="text/event-stream", headers={"cache-control": "no-store"}
        )

    async def metrics(self, _request: Request) -> Response:
        """Return the daemon's work and every hive's newest values for a scraper."""
        found = await self._reader.read(lambda store: metrics.metrics(self._settings, store))
        return Response(found, media_type=metrics.MEDIA_TYPE)

    async def openapi(self, _request: Request) -> Response:
        """Return the description of this API (OpenAPI 3.1)."""
        return FileResponse(OPENAPI, media_type="application/json")

    async def _answer(
        self, request: Request, look: Callable[[Store], dict[str, Any]], place: str | None = None
    ) -> Response:
        """Return what `look` finds; only a note that nothing changed where the browser has it already.

        `place`: the yard it is about, whose language the page speaks; None where it is about all of them.
        """
        found = await self._reader.read(look)
        found["language"] = language(self._settings, place)
        found["only_yard"] = self._only_yard
        found["units"] = msgspec.to_builtins(self._settings.units)
        clock = found.pop("clock", None)
        tag = f'"{hashlib.sha256(msgspec.json.encode(found)).hexdigest()[:24]}"'
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers={"etag": tag, "cache-control": "no-cache"})
        return reply({**found, "clock": clock}, etag=tag)


def reply(content: Any, status: int = 200, *, etag: str | None = None) -> Response:
    """Return JSON; with an `etag` the browser may keep it and ask whether it still holds."""
    headers = {"etag": etag, "cache-control": "no-cache"} if etag else None
    return Response(msgspec.json.encode(content), status, headers, media_type="application/json")


def number(request: Request, name: str, default: int | None = None) -> int:
    """Return a whole number from the query; raises UsageError when it is none, or missing without a default."""
    text = request.query_params.get(name)
    if text is None and default is not None:
        return default
    try:
        found = int(text or "")
    except ValueError as error:
        raise UsageError(f"{name} is {text!r}, no whole number", hint="times are ms since 1970, UTC") from error
    if abs(found) > 253_402_300_799_999:  # noqa: PLR2004 - the end of the year 9999, ms
        raise UsageError(f"{name} is out of range", hint="times are ms since 1970, UTC")
    return found


async def _missing(request: Request, _error: Exception) -> Response:
    """Say that there is no such address: to a program in JSON, to a person on a page."""
    if "text/html" in request.headers.get("accept", ""):
        return FileResponse(static.folder() / "index.html", 404, {"cache-control": "no-cache"})
    return refuse(404, "there is no such address", "see /api/v1/openapi.json")


async def _explain(_request: Request, error: Exception) -> Response:
    """Turn an error a person can mend into words."""
    status = 503 if isinstance(error, StoreError) else 404 if str(error).startswith("there is no ") else 400
    code = "store" if isinstance(error, StoreError) else getattr(error, "code", "")
    return refuse(status, str(error), getattr(error, "hint", ""), code=code)


async def _invalid(_request: Request, error: Exception) -> Response:
    return refuse(400, f"that cannot be read: {error}", "see /api/v1/openapi.json")

"""The pages' own files, read, put together and compressed once.

Browsers ask each time whether a file has changed, so that an update is seen at once; if not, it is not sent again.
"""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
from typing import TYPE_CHECKING, NamedTuple

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import Response

from hivemon.pages.bundle import STYLES, bundle, style

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from starlette.types import Receive, Scope, Send

_WORTH = 500
"""Bytes from which compressing pays."""


class _File(NamedTuple):
    """A file as it is sent: `stamp` tells whether it is still what is on the disk."""

    stamp: tuple[int, ...]
    plain: bytes
    packed: bytes | None
    headers: dict[str, str]


class Source(NamedTuple):
    """What an address is made of: the files whose change changes it, and how their bytes become its own."""

    paths: Sequence[Path]
    make: Callable[[], bytes]


class Files:
    """ASGI application for the files of a folder that were there when it was made, and for no others.

    `more` are addresses whose answer is made of several of them.
    """

    def __init__(self, folder: Path, more: Mapping[str, Source] | None = None) -> None:
        found = [path for path in sorted(folder.rglob("*")) if path.is_file()]
        alone = {f"/{path.relative_to(folder).as_posix()}": Source([path], path.read_bytes) for path in found}
        self._sources = {**alone, **(more or {})}
        self._kept: dict[str, _File] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer GET and HEAD; raises HTTPException 404 or 405."""
        if scope["method"] not in ("GET", "HEAD"):
            raise HTTPException(405)
        await self.response(scope["path"], Headers(scope=scope))(scope, receive, send)

    def response(self, name: str, asked: Headers, *, fresh: bool = False) -> Response:
        """Return a file, or unless a `fresh` one is wanted that it has not changed; raises HTTPException 404."""
        file = self._file(name)
        headers = dict(file.headers)
        if not fresh and headers["etag"] in asked.get("if-none-match", ""):
            return Response(status_code=304, headers=headers)
        if file.packed is not None and "gzip" in asked.get("accept-encoding", ""):
            return Response(file.packed, 200, {**headers, "content-encoding": "gzip", "vary": "Accept-Encoding"})
        return Response(file.plain, 200, headers)

    def _file(self, name: str) -> _File:
        source = self._sources.get(name)
        if source is None:
            raise HTTPException(404)
        try:
            stamp = tuple(path.stat().st_mtime_ns for path in source.paths)
            kept = self._kept.get(name)
            if kept is None or kept.stamp != stamp:
                kept = self._kept[name] = _file(name, stamp, source.make())
        except FileNotFoundError:
            raise HTTPException(404) from None
        return kept


def together(folder: Path) -> dict[str, Source]:
    """Return the addresses of the pages' modules as one script and of their style sheets as one."""
    script, sheets = folder / "js", [folder / "style" / f"{name}.css" for name in STYLES]
    return {
        "/app.js": Source(sorted(script.glob("*.js")), lambda: bundle(script, "app").encode()),
        "/look.css": Source(sheets, lambda: style(folder).encode()),
    }


def _file(name: str, stamp: tuple[int, ...], plain: bytes) -> _File:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    text = kind.startswith("text/") or kind.endswith(("+json", "+xml", "javascript"))
    headers = {
        "content-type": f"{kind}; charset=utf-8" if text else kind,
        "etag": f'"{hashlib.sha256(plain).hexdigest()[:24]}"',
        "cache-control": "no-cache",
    }
    return _File(stamp, plain, gzip.compress(plain, 9) if text and len(plain) >= _WORTH else None, headers)

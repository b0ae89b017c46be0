"""One hive's season as a single file: the story page with its data inside, for an adviser or an association.

The file asks nothing of any machine. Its scripts and styles are named in its own policy by their hashes, and everything
that came from a device or a person stands in it as data, never as markup.
"""

from __future__ import annotations

import base64
import hashlib
import html
from typing import TYPE_CHECKING, Any

import msgspec

from hivemon.model import DAY, Quantity
from hivemon.pages import static, story
from hivemon.pages.bundle import bundle, style
from hivemon.pages.language import language

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.model import Millis
    from hivemon.store import Store

_FINEST = story.WIDEST

_PAGE = """<!doctype html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{title}</title>
<style>{style}</style>
<style media="print">{print}</style>
</head>
<body>
<main id="main" tabindex="-1"></main>
<div id="said" role="status" aria-live="polite"></div>
<noscript><p>This page needs JavaScript. <span lang="nl">Deze pagina heeft JavaScript nodig.</span></p></noscript>
<script type="application/json" id="kept-season">{data}</script>
<script>{plot}</script>
<script>{script}</script>
</body>
</html>
"""


def season(settings: Settings, store: Store, yard: str, hive: str, *, clock: Millis) -> str:
    """Return the page of a hive's season; raises UsageError when there is no such hive."""
    files = static.folder()
    data = _data(settings, store, yard, hive, clock)
    parts = {
        "style": style(files),
        "print": (files / "style" / "print.css").read_text(encoding="utf-8"),
        "plot": (files / "vendor" / "uplot" / "uPlot.iife.min.js").read_text(encoding="utf-8"),
        "script": bundle(files / "js", "season"),
    }
    styles = " ".join(_hash(parts[name]) for name in ("style", "print"))
    scripts = " ".join(_hash(parts[name]) for name in ("plot", "script"))
    policy = f"default-src 'none'; script-src {scripts}; style-src {styles}; base-uri 'none'; form-action 'none'"
    title = html.escape(f"{data['story']['name']}, {data['story']['yard_name']} - hivemon")
    return _PAGE.format(policy=policy, title=title, language=data["story"]["language"], data=_embedded(data), **parts)


def _data(settings: Settings, store: Store, yard: str, hive: str, clock: Millis) -> dict[str, Any]:
    """Return the answers the page would have asked for."""
    told = story.story(settings, store, yard, hive, clock=clock)
    told |= {"units": msgspec.to_builtins(settings.units), "language": language(settings, yard)}
    span = (told["first"] - DAY // 24, told["newest"] + 1)
    wanted = [quantity.value for quantity in Quantity if quantity.value in told["latest"]]
    curves = {name: story.curve(settings, store, (yard, hive), name, span, _FINEST) for name in wanted}
    return {"story": told, "curves": curves, "nights": story.nights(settings, yard, *span, most_days=400)}


def _embedded(data: dict[str, Any]) -> str:
    """Return data as JSON that cannot end its script element, whatever names and notes it holds."""
    text = msgspec.json.encode(data).decode()
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _hash(text: str) -> str:
    """Return the source expression for an inline script or style (CSP level 3, hash-source)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

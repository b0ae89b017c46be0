"""A real browser for the tests: Debian's chromium, driven by Playwright, asking nobody but the pages under test."""

import os
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

BINARY = shutil.which("chromium")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
SIZES = {"phone": PHONE, "desk": DESK}
AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text()
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def need_browser() -> None:
    """Skip without chromium, or fail where HIVEMON_NO_SKIP is 1."""
    if BINARY:
        return
    reason = "chromium is not installed (apt-get install chromium)"
    if os.environ.get("HIVEMON_NO_SKIP") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def violations(page) -> list[str]:
    """Return what axe-core finds against WCAG 2.2 AA on the page as it stands, one line for each element."""
    found = page.evaluate(
        "async ([source, tags]) => { new Function(source)(); return (await window.axe.run(document,"
        " {runOnly: {type: 'tag', values: tags}})).violations; }",
        [AXE, WCAG],
    )
    return [f"{rule['id']}: {node['html'][:160]} {node['failureSummary']}" for rule in found for node in rule["nodes"]]


class Seen:
    """Opens pages and remembers everything that went wrong on them."""

    def __init__(self, browser: Browser, base: str) -> None:
        self._browser = browser
        self._base = base
        self._contexts = []
        self.wrong: list[str] = []
        self.elsewhere: list[str] = []
        self.received = 0

    def open(self, path: str, size: str = "desk", **given) -> Page:
        """Open a page and wait until it shows something; `given` goes to the browser's context."""
        given.setdefault("bypass_csp", False)
        context = self._browser.new_context(viewport=SIZES[size], base_url=self._base, **given)
        context.set_default_timeout(8000)
        self._contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: self.wrong.append(str(error)))
        page.on("console", lambda message: message.type == "error" and self.wrong.append(message.text))
        page.on("request", lambda asked: asked.url.startswith(self._base) or self.elsewhere.append(asked.url))
        page.goto(path)
        expect(page.locator("main h1")).to_be_attached()
        return page

    def close(self) -> None:
        for context in self._contexts:
            context.close()

"""A real browser for the tests: Debian's chromium, driven by Playwright, asking nobody but the pages under test."""

import os
import shutil
from pathlib import Path

import pytest

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

"""Makes the pictures of the README anew, from a bundled recording in a real browser.

Whoever changes the pages runs it, in the folder of the repository, so that the pictures stay true:
`python tests/pages/make_pictures.py`
"""

import shutil
import sys
import tempfile
from pathlib import Path

from browsing import BINARY, QUIET
from pages_client import NOW, free_port, with_pages
from playwright.sync_api import Page, sync_playwright

from hivemon.cli import main
from hivemon.config import load
from hivemon.pages import PagesServer
from hivemon.recordings import find

TARGET = Path(__file__).parents[2] / "grafana-free-dashboards" / "pictures"
LARGEST = 150_000
"""Bytes of one picture; a README must open on a slow line."""


def judged(place: Path) -> Path:
    """Import the recording into a new store; return its configuration."""
    found = find("orchard-swarm")
    config = place / "hivemon.toml"
    shutil.copy(found.config, config)
    code = main(["import", "--config", str(config), "--readings", str(found.readings), "--logbook", str(found.logbook)])
    if code:
        sys.exit(code)
    return config


def shoot(page: Page, name: str, height: int) -> None:
    """Write one picture of the page's top."""
    size = page.viewport_size
    path = TARGET / f"{name}.png"
    page.wait_for_timeout(1500)
    page.screenshot(path=path, clip={"x": 0, "y": 0, "width": size["width"], "height": height}, full_page=True)
    print(f"{path}: {path.stat().st_size / 1000:.0f} kB")
    if path.stat().st_size > LARGEST:
        sys.exit("that is too large: take less of the page")


def run() -> None:
    """Make them all."""
    TARGET.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        settings = load(judged(Path(place)))
        browser = playwright.chromium.launch(executable_path=BINARY, args=QUIET)
        with PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW - 6 * 3_600_000 + 900_000) as server:
            phone = browser.new_page(viewport={"width": 390, "height": 780}, device_scale_factor=1.5)
            phone.goto(server.url)
            shoot(phone, "today-phone", 780)
            desk = browser.new_page(viewport={"width": 1000, "height": 900})
            desk.goto(f"{server.url}hive/orchard/o1")
            desk.get_by_role("button", name="Season").click()
            shoot(desk, "story-desk", 1150)
            dark = browser.new_page(
                viewport={"width": 390, "height": 780}, device_scale_factor=1.5, color_scheme="dark"
            )
            dark.goto(f"{server.url}yard/orchard")
            shoot(dark, "yard-phone-dark", 780)
        browser.close()


if __name__ == "__main__":
    run()

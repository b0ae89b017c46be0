"""An invented yard with a month of readings judged, in a store that each test may write to, and the pages over it."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import BINARY, QUIET, Seen, need_browser
from pages_client import NOW, Client, free_port, with_pages
from playwright.sync_api import Browser, sync_playwright

from hivemon.cli import main
from hivemon.config import Settings, load
from hivemon.pages import PagesServer
from hivemon.recordings import find


@pytest.fixture(scope="session")
def judged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the configuration and the judged store of the recording orchard-swarm."""
    folder = tmp_path_factory.mktemp("judged")
    found = find("orchard-swarm")
    shutil.copy(found.config, folder / "hivemon.toml")
    arguments = ["--readings", str(found.readings), "--logbook", str(found.logbook)]
    assert main(["import", "--config", str(folder / "hivemon.toml"), *arguments]) == 0
    return folder


@pytest.fixture
def folder(judged: Path, tmp_path: Path) -> Path:
    """A copy of it for one test."""
    for path in judged.iterdir():
        shutil.copy(path, tmp_path / path.name)
    return tmp_path


@pytest.fixture
def settings(folder: Path) -> Settings:
    return load(folder / "hivemon.toml")


@pytest.fixture
def client(settings: Settings) -> Iterator[Client]:
    """The pages without a password, asked from this machine; the clock stands in the recording's last morning."""
    with PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW) as server:
        yield Client(server.port)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for a file of tests (longer would leave its event loop to others); each opens contexts of its own."""
    need_browser()
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=BINARY, args=QUIET)
        yield opened
        opened.close()


@pytest.fixture
def server(settings: Settings) -> Iterator[PagesServer]:
    """The pages without a password, for a browser."""
    with PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW) as found:
        yield found


@pytest.fixture
def seen(browser: Browser, server: PagesServer) -> Iterator[Seen]:
    """Opens the server's pages; whatever goes wrong on one of them fails the test."""
    found = Seen(browser, server.url.rstrip("/"))
    yield found
    found.close()
    assert found.wrong == [], "no error may stand in the browser's console"
    assert found.elsewhere == [], "nothing may be asked of another machine"

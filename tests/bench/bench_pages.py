"""What the pages cost: a season of one-minute readings opened and zoomed, and the first page of 4,000 hives.

Run with `pytest tests/bench/bench_pages.py -s`; made stores, a real server, figures printed.
"""

import gzip
import statistics
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import sync_playwright

from hivemon.config import HiveSettings, Settings, YardSettings
from hivemon.model import DAY, HOUR, MINUTE, Advisory, HiveDay, Quantity, Reading, Series, Stream, Urgency
from hivemon.pages import PagesServer
from hivemon.store import Store

sys.path.insert(0, str(Path(__file__).parent.parent / "pages"))
from browsing import BINARY, PHONE, QUIET, need_browser
from pages_client import Client, free_port, with_pages

NOW = 1_757_980_800_000  # 2025-09-16
DAYS = 180
YARD = YardSettings(id="y", name="Yard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")


def made(path: Path, hives: int) -> Settings:
    """Return settings of a yard with so many hives, its store at `path`."""
    known = [HiveSettings(id=f"h{number}", yard="y") for number in range(hives)]
    settings = Settings(yard=[YARD], hive=known)
    from msgspec.structs import replace  # noqa: PLC0415

    return with_pages(replace(settings, store=replace(settings.store, path=str(path))), port=free_port())


def asked(client: Client, path: str, times: int = 5) -> tuple[float, int]:
    """Return the median seconds of asking, and the bytes over the wire."""
    spent, size = [], 0
    for _ in range(times):
        began = time.perf_counter()
        answer = client.get(path, headers={"accept-encoding": "gzip"})
        spent.append(time.perf_counter() - began)
        assert answer.status == 200, answer.content
        size = len(answer.content)
        assert gzip.decompress(answer.content)
    return statistics.median(spent), size


def days(hive: str, count: int) -> list[HiveDay]:
    return [
        HiveDay(
            yard="y", hive=hive, date=time.strftime("%Y-%m-%d", time.gmtime((NOW - back * DAY) / 1000)),
            start=NOW - back * DAY, dusk=NOW - back * DAY + 15 * HOUR, end=NOW - (back - 1) * DAY,
            dawn_weight=40.0, dusk_weight=41.0, end_weight=40.5, net_gain=0.5, foraging_gain=1.0,
            overnight_change=-0.5, temperature_mean=34.5, temperature_swing=0.6, coverage=1.0,
        )
        for back in range(count, 0, -1)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """One hive, 180 days, one reading a minute of three quantities, and the yard's temperature every five."""
    path = tmp_path_factory.mktemp("season") / "hivemon.db"
    settings = made(path, 1)
    rng = np.random.default_rng(5)
    minutes = np.arange(NOW - DAYS * DAY, NOW, MINUTE, dtype=np.int64)
    batch = {
        Stream("h0", Quantity.WEIGHT): Series(minutes, 40 + np.cumsum(rng.normal(0, 0.01, len(minutes)))),
        Stream("h0", Quantity.TEMPERATURE): Series(minutes, rng.normal(34.6, 0.2, len(minutes))),
        Stream("h0", Quantity.HUMIDITY): Series(minutes, rng.normal(60, 3, len(minutes))),
        Stream(None, Quantity.OUTSIDE_TEMPERATURE): Series(minutes[::5], rng.normal(15, 3, len(minutes[::5]))),
    }
    with Store.open(path) as store:
        store.add_series("y", batch)
        store.put_hive_days(days("h0", DAYS))
    with PagesServer(settings, clock=lambda: NOW) as server:
        yield Client(server.port)


@pytest.mark.parametrize("span", [3, 14, 60, DAYS])
def test_a_season_of_minutes_opens_and_zooms(season, span):
    """Each curve of a span, thinned to 1,000 columns; all four of a view one after the other."""
    since = NOW - span * DAY
    total, wire = 0.0, 0
    for quantity in ("weight", "temperature", "humidity", "outside-temperature"):
        path = f"/api/v1/yards/y/hives/h0/curves/{quantity}?since={since}&until={NOW}&width=1000"
        spent, size = asked(season, path)
        total, wire = total + spent, wire + size
    print(f"\n{span:>4} days: four curves in {total * 1000:.0f} ms, {wire / 1000:.0f} kB over the wire")
    assert total < 2.0


def test_a_story_of_a_season_opens(season):
    spent, size = asked(season, "/api/v1/yards/y/hives/h0")
    print(f"\nstory of {DAYS} days: {spent * 1000:.0f} ms, {size / 1000:.0f} kB over the wire")


FIRST_VIEW = """() => {
  const all = ['resource', 'navigation'].flatMap((kind) => performance.getEntriesByType(kind));
  const size = all.reduce((sum, entry) => sum + entry.encodedBodySize, 0);
  return [size, Math.max(...all.map((entry) => entry.responseEnd)),
    performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0, all.length];
}"""


@pytest.mark.parametrize(("name", "path", "seen"), [
    ("today", "", ".hive .number"),
    ("a hive's story", "hive/y/h0", ".plot.humidity canvas"),
])  # fmt: skip
def test_the_first_view_in_a_real_browser(season, name, path, seen):
    """From the address to the last byte of what is shown, nothing kept from before; the best of seven."""
    need_browser()
    found = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=BINARY, args=QUIET)
        for _ in range(7):
            context = browser.new_context(viewport=PHONE, service_workers="block")
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{season.port}/{path}")
            page.locator(seen).first.wait_for()
            found.append(page.evaluate(FIRST_VIEW))
            context.close()
        browser.close()
    size, last, paint, count = min(found, key=lambda each: each[1])
    middle = statistics.median(each[1] for each in found)
    print(
        f"\n{name}: {size / 1000:.0f} kB in {count} files, first words after {paint:.0f} ms, all there after"
        f" {last:.0f} ms (median of seven {middle:.0f})"
    )
    assert size < 200_000


HIVES = 4000


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """4,000 hives in one yard: a day of readings, sixty hive days each, an advisory for every tenth."""
    path = tmp_path_factory.mktemp("many") / "hivemon.db"
    settings = made(path, HIVES)
    with Store.open(path) as store, store.transaction():
        quarters = np.arange(NOW - DAY, NOW, 15 * MINUTE, dtype=np.int64)
        for number in range(HIVES):
            hive = f"h{number}"
            values = np.full(len(quarters), 40.0 + number % 30)
            kinds = (Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.HUMIDITY)
            store.add_series("y", {Stream(hive, kind): Series(quarters, values) for kind in kinds})
            store.put_hive_days(days(hive, 60))
            if number % 10 == 9:
                store.put_advisories([wanted(hive, number)])
        store.add_readings([Reading(NOW - MINUTE, "y", None, Quantity.OUTSIDE_TEMPERATURE, 15.0)])
    with PagesServer(settings, clock=lambda: NOW) as server:
        yield Client(server.port)


def wanted(hive: str, number: int) -> Advisory:
    return Advisory(
        id=f"y/{hive}/super@1", yard="y", hive=hive, raised=NOW - HOUR, updated=NOW - HOUR,
        urgency=list(Urgency)[number % 4], title=f"Hive {hive} needs its next super", saw="s", means="m",
    )  # fmt: skip


@pytest.mark.parametrize("path", ["today", "today?page=100", "yards/y", "sensors", "yards/y/hives/h3999"])
def test_four_thousand_hives(many, path):
    """The first page, one far down, the yard, the sensors, one hive: each under a second."""
    spent, size = asked(many, f"/api/v1/{path}")
    print(f"\n{HIVES:,} hives, {path}: {spent * 1000:.0f} ms, {size / 1000:.1f} kB over the wire")
    assert spent < 1.0

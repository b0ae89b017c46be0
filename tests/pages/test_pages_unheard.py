"""Hives that are not heard: no page says that they need nothing, and each says what to do."""

from pathlib import Path

import pytest
from browsing import Seen
from msgspec import structs
from pages_client import NOW, Client, free_port, with_pages
from playwright.sync_api import expect

from hivemon.config import HiveSettings, Settings, StoreSettings
from hivemon.model import DAY, Quantity, Reading, Stream
from hivemon.pages import PagesServer
from hivemon.store import Store


@pytest.fixture
def opened(browser):
    """Open the pages of some settings in a browser."""
    made = []

    def start(settings: Settings) -> Seen:
        server = PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW)
        made.append((server, Seen(browser, server.__enter__().url.rstrip("/"))))
        return made[-1][1]

    yield start
    for server, seen in made:
        seen.close()
        server.__exit__(None, None, None)
        assert seen.wrong == []


def test_a_store_without_readings_says_where_they_should_come_from(settings, tmp_path, opened) -> None:
    empty = structs.replace(settings, store=StoreSettings(path=str(tmp_path / "new.db")))
    Store.open(tmp_path / "new.db").close()
    seen = opened(empty)
    page = seen.open("/", "phone")
    expect(page.locator(".lead")).to_contain_text("No readings yet")
    expect(page.locator(".hive").first).to_contain_text("no reading yet")
    page.get_by_text("Sensors shows what comes in").click()
    expect(page.locator(".sensors")).to_contain_text("It should publish to hives/orchard/o1")
    expect(page.locator("main")).to_contain_text("No message has come yet.")
    page = seen.open("/hive/orchard/o1", "phone")
    expect(page.locator(".needs")).to_contain_text("nothing was ever heard of it")
    expect(page.locator(".facts")).to_contain_text("no reading yet")


def test_a_hive_that_fell_silent_is_not_said_to_need_nothing(settings, opened) -> None:
    """Its yard still speaks: that says nothing about the hive."""
    with Store.open(Path(settings.store.path)) as store:
        last = NOW - 4 * DAY
        store._db.run(
            "DELETE FROM reading WHERE time > ? AND series IN (SELECT id FROM series WHERE hive = 'o1')", (last,)
        )
        store.put_advisories(structs.replace(a, closed=NOW) for a in store.advisories("orchard", "o1", open_only=True))
        assert store.latest("orchard")
    seen = opened(settings)
    page = seen.open("/", "phone")
    expect(page.locator(".note")).to_contain_text("No readings from o1 since Sat 24 May")
    expect(page.locator(".note")).to_contain_text("Look at battery and network")
    page = seen.open("/hive/orchard/o1", "phone")
    expect(page.locator(".needs")).not_to_contain_text("Leave it alone")
    expect(page.locator(".needs")).to_contain_text("there are no readings since Sat 24 May")
    expect(page.locator(".facts")).to_contain_text("read Sat 24 May")


def test_a_hive_never_heard_of_among_others_is_named(settings, client) -> None:
    extra = structs.replace(settings, hive=[*settings.hive, HiveSettings(id="new", yard="orchard")])
    with PagesServer(with_pages(extra, port=free_port()), clock=lambda: NOW) as server:
        heard = {line["hive"]: line["heard"] for line in Client(server.port).get("/api/v1/today").json()["hives"]}
    assert heard["new"] is None
    with Store.open(Path(settings.store.path), read_only=True) as store:
        assert heard["o1"] == max(t for s, (t, _) in store.latest("orchard").items() if s.hive == "o1")
        assert heard["o1"] < NOW
        assert Quantity.WEIGHT in {stream.quantity for stream in store.streams("orchard")}
    assert client.get("/api/v1/yards/orchard/hives/o1").json()["heard"] == heard["o1"]


def test_a_yard_silent_for_days_promises_nothing(settings, browser) -> None:
    with Store.open(Path(settings.store.path)) as store:
        store.put_advisories(structs.replace(a, closed=NOW) for a in store.advisories(open_only=True))
    with PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW + 6 * DAY) as server:
        seen = Seen(browser, server.url.rstrip("/"))
        page = seen.open("/", "phone")
        expect(page.locator(".lead")).to_have_text("No readings since 28 May 2025: I cannot tell how the hives are.")
        seen.close()


def test_one_value_that_cannot_be_true_does_not_press_a_curve_flat(settings, opened) -> None:
    """85 °C is what a common sensor says when just switched on; without one outside no legend speaks of it."""
    with Store.open(Path(settings.store.path)) as store:
        nest = store.series("orchard", NOW - 3 * DAY, NOW, [Stream("o1", Quantity.TEMPERATURE)])
        (series,) = nest.values()
        store.add_readings(
            [
                Reading(int(time) + 1000, "orchard", "o1", Quantity.TEMPERATURE, 85.0)
                for time in series.time[10::200].tolist()
            ]
        )
        store._db.run("DELETE FROM reading WHERE series IN (SELECT id FROM series WHERE hive = '')")
    page = opened(settings).open("/hive/orchard/o1")
    expect(page.locator(".plot.temperature canvas")).to_be_visible()
    expect(page.locator("figure.temperature figcaption")).to_contain_text("Brood nest")
    expect(page.locator(".key.outside")).to_have_count(0)
    drawn = page.evaluate(
        "async () => { const { lines } = await import('/js/plots.js'); const { time, value } = await (await"
        " fetch('/api/v1/yards/orchard/hives/o1/curves/temperature?since=SINCE&until=UNTIL&width=400')).json();"
        " const place = document.body.appendChild(document.createElement('div'));"
        " const owner = { since: SINCE, until: UNTIL, nights: [], body: document.body, drawn: () => {}, read: () => {},"
        " story: { timezone: 'UTC' },"
        " curves: { temperature: { time, value, quantity: 'temperature' } } };"
        " const { plot } = lines(place, owner, { temperature: 'nest' }, { height: 170 });"
        " await new Promise((done) => setTimeout(done, 100));"
        " return [Math.max(...value), plot.scales.y.min, plot.scales.y.max]; }"
        .replace("SINCE", str(NOW - 3 * DAY)).replace("UNTIL", str(NOW))
    )  # fmt: skip
    assert drawn[0] == 85.0
    assert 25 < drawn[1] < drawn[2] < 45


def test_what_the_whole_yard_wants_stands_on_a_hives_page(settings, opened) -> None:
    """Whoever has one hive reads that page: "leave it alone" beside mites to be counted would be half the truth."""
    with Store.open(Path(settings.store.path)) as store:
        own = store.advisories("orchard", "o1", open_only=True)
        store.put_advisories(structs.replace(advisory, closed=NOW) for advisory in own)
    page = opened(settings).open("/hive/orchard/o1", "phone")
    expect(page.locator(".needs")).to_contain_text("Nothing of its own.")
    page.locator(".needs a", has_text="count the mites").click()
    expect(page.locator("h1")).to_have_text("Orchard, side by side")

"""Many hives and yards: grouped as a yard manager reads them, every yard within reach, the silent ones first."""

import re
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from browsing import SIZES, Seen
from msgspec.structs import replace
from pages_client import NOW, Client, free_port, with_pages
from playwright.sync_api import expect

import hivemon.advice
from hivemon.advice.words import day
from hivemon.config import HiveSettings, Settings, StoreSettings, YardSettings
from hivemon.model import DAY, HOUR, Advisory, Quantity, Reading, Urgency
from hivemon.pages import PagesServer
from hivemon.store import Store

ZONE = ZoneInfo("Europe/Brussels")
YARDS = ["Clover Bottom", "Railway", "A Very Long Name Of A Yard By The River", "Mill", "Quarry", "Top Field"]
TITLE = "Hive {} needs its next super by {}"


@pytest.fixture
def many(tmp_path) -> Settings:
    """Six yards of twelve hives: in the first seven supers overdue and two today, two hives silent in the last."""
    places = [
        YardSettings(id=f"y{n}", name=name, latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
        for n, name in enumerate(YARDS)
    ]
    hives = [HiveSettings(id=f"{place.id}-{n:02}", yard=place.id) for place in places for n in range(12)]
    path = tmp_path / "many.db"
    with Store.open(path) as store:
        store.put_advisories(_super(f"y0-{n:02}", NOW - DAY if n < 7 else NOW + HOUR) for n in range(9))
        mites = replace(_super("", NOW + DAY), hive=None, id="count-mites:y1:@1", yard="y1")
        store.put_advisories([replace(mites, title="Railway: count the mites")])
        silent = {"y5-03": NOW - 3 * DAY, "y5-07": NOW - 2 * DAY}
        store.add_readings([Reading(silent.get(h.id, NOW - HOUR), h.yard, h.id, Quantity.WEIGHT, 40.0) for h in hives])
    settings = Settings(yard=places, hive=hives, store=StoreSettings(path=str(path)))
    return with_pages(settings, port=free_port())


def _super(hive: str, do_by: int) -> Advisory:
    return Advisory(
        id=f"super:y0:{hive}:f:0@1", yard="y0", hive=hive, raised=NOW - 3 * DAY, updated=NOW - DAY,
        urgency=Urgency.THIS_WEEK, title=TITLE.format(hive, day(do_by, ZONE)), saw="s", means="m",
        do=["Put it on."], do_by=do_by,
    )  # fmt: skip


def test_work_is_told_by_yard_and_kind_and_the_silent_are_all_named(many):
    with PagesServer(many, clock=lambda: NOW) as server:
        client = Client(server.port)
        view = client.get("/api/v1/today").json()
        sensors = client.get("/api/v1/sensors").json()
    (task,) = view["tasks"]
    assert (task["yard"], task["kind"]) == ("y0", "super")
    assert [(part["when"], part["total"]) for part in task["parts"]] == [("late", 7), ("today", 2)]
    assert [hive["hive"] for hive in view["silent"]] == ["y5-03", "y5-07"]
    assert view["wanted"] == 9
    assert [place["hive"] for place in sensors["places"][:2]] == ["y5-03", "y5-07"]
    assert sensors["troubled"] == 2


@pytest.mark.parametrize("size", SIZES)
def test_every_yard_is_two_taps_from_every_page(many, browser, size):
    with PagesServer(many, clock=lambda: NOW) as server:
        seen = Seen(browser, server.url.rstrip("/"))
        for path in ("/", "/hive/y0/y0-01", "/yard/y2", "/logbook", "/sensors"):
            page = seen.open(path, size)
            for name in ("Today", "Yards", "Logbook", "Sensors"):
                expect(page.locator("nav").get_by_role("link", name=name, exact=True)).to_be_in_viewport(ratio=1)
        page.locator("nav").get_by_role("link", name="Yards").click()
        assert page.locator("ul.places a").all_inner_texts() == YARDS
        page.get_by_role("link", name="Top Field").click()
        expect(page.locator("h1")).to_have_text("Top Field, side by side")
        seen.close()
        assert seen.wrong == []


def test_the_first_page_says_each_yards_work_once(many, browser):
    with PagesServer(many, clock=lambda: NOW) as server:
        seen = Seen(browser, server.url.rstrip("/"))
        page = seen.open("/", "phone")
        expect(page.locator(".lead")).to_have_text("Nine hives need you.")
        first = page.locator(".task").first
        expect(first).to_contain_text("Clover Bottom")
        expect(first).to_contain_text("Next super: 7 hives overdue (y0-00, y0-01")
        expect(first).to_contain_text("and 1 more); 2 hives today (y0-07, y0-08).")
        expect(page.locator(".task", has_text="Railway")).to_contain_text("Count the mites.")
        expect(page.locator(".note")).to_contain_text("No readings from y5-03 since")
        expect(page.locator(".note")).to_contain_text("No readings from y5-07 since")
        seen.close()


def test_a_date_that_has_passed_is_called_overdue_on_every_page(many, browser):
    with PagesServer(many, clock=lambda: NOW) as server:
        seen = Seen(browser, server.url.rstrip("/"))
        expect(seen.open("/").locator(".hive").first.locator(".urgency")).to_have_text("overdue")
        page = seen.open("/hive/y0/y0-00")
        expect(page.locator(".advice .urgency")).to_have_text("overdue")
        expect(page.locator(".advice .says")).to_contain_text("as soon as you can (it was due on Tuesday 27 May)")
        page.locator(".advice summary").click()
        expect(page.locator(".advice")).to_contain_text("What to do, overdue since")
        seen.close()


def test_after_a_long_silence_the_silence_is_told_first_and_years_are_written(many, browser):
    """Half a year later, in another year: nothing becomes overdue that nobody looked at."""
    with PagesServer(many, clock=lambda: NOW + 300 * DAY) as server:
        view = Client(server.port).get("/api/v1/today").json()
        assert [part["when"] for part in view["tasks"][0]["parts"]] == ["late", "today"], "as it was then"
        seen = Seen(browser, server.url.rstrip("/"))
        page = seen.open("/", "phone")
        expect(page.locator(".lead")).to_have_text("No readings since 28 May 2025; what follows is of then.")
        expect(page.locator(".note")).to_contain_text("Nine hives needed you.")
        page = seen.open("/hive/y0/y0-00", "phone")
        expect(page.locator(".facts")).to_contain_text("28 May 2025")
        expect(page.locator(".needs")).to_contain_text("No readings since 28 May 2025")
        expect(seen.open("/yard/y0").locator("main")).to_contain_text("No readings since 28 May 2025")
        seen.close()


def test_every_kind_of_advice_for_a_hive_has_its_words():
    """A topic that the advice gives a hive is a heading of the first page in both languages."""
    code = "".join(path.read_text() for path in Path(hivemon.advice.__file__).parent.glob("*.py"))
    topics = set(re.findall(r'condition\(\s*"([a-z-]+)", scene\.yard\.id, (?!None)', code))
    topics |= set(re.findall(r'FeedVerdict\.\w+: "([a-z-]+)"', code))
    assert {"super", "swarm", "feed", "sensor"} <= topics
    for language in ("en", "nl"):
        words = (Path(hivemon.__file__).parents[1] / f"grafana-free-dashboards/js/words_{language}.js").read_text()
        block = re.search(r"kindsOfAdvice: \{(.*?)\}", words, re.DOTALL)
        assert block is not None
        assert set(re.findall(r'^ +"?([a-z-]+)"?:', block[1], re.MULTILINE)) == topics

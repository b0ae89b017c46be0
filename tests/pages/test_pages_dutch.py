"""The pages of a Dutch-speaking beekeeper: every word of theirs, days and numbers as Dutch writes them."""

import re
from pathlib import Path

import pytest
from babel.dates import format_datetime, get_timezone
from babel.numbers import format_decimal
from browsing import Seen, violations
from pages_client import NOW, free_port, with_pages
from playwright.sync_api import expect

from hivemon.config import load
from hivemon.pages import PagesServer
from hivemon.pages.language import language
from hivemon.pages.single import season
from hivemon.store import Store

PAGES = ["/", "/hive/orchard/o1", "/yard/orchard", "/logbook", "/sensors", "/nergens"]


@pytest.fixture
def dutch(folder):
    config = folder / "hivemon.toml"
    config.write_text('language = "nl"\n' + config.read_text())
    return load(config)


@pytest.fixture
def seen_in_dutch(dutch, browser):
    with PagesServer(with_pages(dutch, port=free_port()), clock=lambda: NOW) as server:
        found = Seen(browser, server.url.rstrip("/"))
        yield found
        found.close()
        assert [line for line in found.wrong if "404" not in line] == []


def english_words(page):
    """Return every text of the English words that has no blanks and is longer than 'en' or 'no'."""
    words = page.evaluate(
        "async () => { const { english } = await import('/js/words_en.js'); const { dutch } = await"
        " import('/js/words_nl.js'); const all = (node) => Object.values(node).flatMap((value) => typeof value ==="
        " 'string' ? [value] : typeof value === 'object' ? all(value) : []); const same = new Set(all(dutch));"
        " return all(english).filter((text) => !same.has(text) && text.length > 3); }"
    )
    assert len(words) > 150
    return words


@pytest.mark.parametrize("path", PAGES)
def test_no_page_keeps_an_english_word_of_its_own(seen_in_dutch, path):
    """Visible text and what only a screen reader hears; advice judged before is as it was said, so it is left out."""
    page = seen_in_dutch.open(path, "phone")
    expect(page.locator("html")).to_have_attribute("lang", "nl")
    if "/hive/" in path:
        expect(page.locator(".plot.humidity canvas")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach((node) => { node.open = true; })")
    page.evaluate("document.querySelectorAll('.advice, .note a, .hive .says').forEach((node) => node.remove())")
    heard = page.evaluate("[...document.querySelectorAll('[aria-label]')].map((n) => n.getAttribute('aria-label'))")
    told = " ".join([page.locator("body").inner_text(), page.title(), *heard])
    found = [word for word in english_words(page) if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", told)]
    assert found == []


def test_days_and_numbers_are_those_of_the_unicode_locale_data(seen_in_dutch):
    """As Babel writes them from the Unicode CLDR, an independent library."""
    page = seen_in_dutch.open("/", "phone")
    zone = get_timezone("Europe/Brussels")
    wanted = format_datetime(_moment(), "EEEE d MMMM y", tzinfo=zone, locale="nl")
    expect(page.locator(".dateline")).to_have_text(wanted)
    page.goto("/hive/orchard/o1")
    latest = page.evaluate("fetch('/api/v1/yards/orchard/hives/o1').then((a) => a.json())")["latest"]
    kilograms = format_decimal(latest["weight"]["value"], "0.0", locale="nl")
    expect(page.locator(".facts")).to_contain_text(f"{kilograms} kg")
    swarm = page.locator(".happenings .event", has=page.locator(".what", has_text="bijen"))
    expect(swarm).to_contain_text(
        re.compile(r"Er vertrok \d,\d kg binnen \d+ minuten: ongeveer \d\d\.000 tot \d\d\.000")
    )


def _moment():
    from datetime import UTC, datetime  # noqa: PLC0415

    return datetime.fromtimestamp(NOW / 1000, UTC)


def test_a_mark_is_asked_and_answered_in_dutch(seen_in_dutch):
    page = seen_in_dutch.open("/hive/orchard/o1", "desk")
    swarm = page.locator(".happenings .event", has=page.locator(".what", has_text="bijen"))
    swarm.get_by_text("Waarom?").click()
    expect(swarm.locator(".why")).to_contain_text("Zoveel vertrok binnen enkele minuten")
    expect(swarm.locator(".evidence")).to_contain_text("gewicht ervoor")
    swarm.get_by_role("button", name="Ik nam bijen weg").click()
    expect(page.locator("#said")).to_contain_text("In het logboek geschreven")
    page.goto("/logbook")
    expect(page.locator("ol.entries li", has_text="Gesplitst").first).to_contain_text("Zwerm: Ik nam bijen weg")


def test_refusals_are_said_in_dutch(seen_in_dutch):
    """What hivemon refuses comes with a code, and the pages know its words."""
    page = seen_in_dutch.open("/hive/orchard/o77")
    expect(page.locator("h1")).to_have_text("Er is geen volk met die naam.")


def test_amounts_are_typed_with_a_comma(seen_in_dutch):
    page = seen_in_dutch.open("/logbook", "phone")
    page.get_by_text("Een andere tijd").click()
    page.get_by_label("Wat", exact=True).select_option("feed")
    page.get_by_label("Hoeveel").fill("2,5")
    page.get_by_role("button", name="Schrijf het op").click()
    entry = page.locator("ol.entries li").first
    expect(entry).to_contain_text("Gevoerd, 2,5 kg")
    entry.get_by_role("button", name="Verbeter").click()
    expect(page.get_by_role("dialog").get_by_label("Hoeveel")).to_have_value("2,5")


def test_nothing_bars_the_way_in_dutch(seen_in_dutch):
    """axe-core on the longest words: the pages in Dutch at a phone's width, nothing wider than the screen."""
    for path in PAGES[:5]:
        page = seen_in_dutch.open(path, "phone", bypass_csp=True)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        assert violations(page) == [], path


def test_each_yard_speaks_its_own_language_and_what_is_about_all_the_files(folder, browser):
    """A Dutch yard among English ones: its own pages in Dutch, the common ones in the file's language."""
    config = folder / "hivemon.toml"
    text = config.read_text().replace('id = "orchard"\n', 'id = "orchard"\nlanguage = "nl"\n', 1)
    more = '\n[[yard]]\nid = "hill"\nlatitude = 51.0\nlongitude = 3.0\ntimezone = "Europe/Brussels"\n'
    config.write_text(text + more)
    settings = load(config)
    assert [language(settings, yard) for yard in ("orchard", "hill", None, "none")] == ["nl", "en", "en", "en"]
    with PagesServer(with_pages(settings, port=free_port()), clock=lambda: NOW) as server:
        found = Seen(browser, server.url.rstrip("/"))
        page = found.open("/", "desk")
        expect(page.locator("nav")).to_contain_text("Logbook")
        page.get_by_role("link", name="Yards", exact=True).click()
        page.locator("main").get_by_role("link", name="Orchard", exact=True).click()
        expect(page.locator("h1")).to_have_text("Orchard, naast elkaar")
        expect(page.locator("nav")).to_contain_text("Logboek")
        page.goto("/yard/hill")
        expect(page.locator("h1")).to_have_text("hill, side by side")
        found.close()
        assert found.wrong == []


def test_the_file_of_a_season_speaks_the_yards_language(dutch, browser, tmp_path):
    path = tmp_path / "o1.html"
    with Store.open(Path(dutch.store.path), read_only=True) as store:
        path.write_text(season(dutch, store, "orchard", "o1", clock=NOW))
    page = browser.new_page()
    page.goto(path.as_uri())
    expect(page.locator("html")).to_have_attribute("lang", "nl")
    expect(page.locator("h1")).to_have_text("Volk o1")
    expect(page.locator(".happenings")).to_contain_text("Er vertrok")
    page.close()

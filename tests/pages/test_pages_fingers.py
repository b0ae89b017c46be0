"""Fingers on the curves, as a touch screen sends them: DevTools' touch events in a real browser."""

import re

import pytest
from playwright.sync_api import expect

DAY = 86_400_000


class Hand:
    """Fingers on the screen of a page; places are pixels of the window."""

    def __init__(self, page) -> None:
        self._page = page
        self._link = page.context.new_cdp_session(page)

    def _send(self, kind, places) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        self._link.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        self._page.wait_for_timeout(20)

    def move(self, begin, end, steps=6) -> None:
        """Put fingers down at their places, move each in a straight line, lift them."""
        for number in range(len(begin)):
            self._send("touchStart", begin[: number + 1])
        for step in range(1, steps + 1):
            part = step / steps
            self._send(
                "touchMove",
                [(a + (c - a) * part, b + (d - b) * part) for (a, b), (c, d) in zip(begin, end, strict=True)],
            )
        self._send("touchEnd", [])


@pytest.fixture
def page(seen):
    """A hive's story on a telephone with two weeks shown."""
    opened = seen.open("/", "phone", has_touch=True, is_mobile=True)
    opened.asked = []

    def note(request):
        found = re.search(r"/curves/weight\?since=(\d+)&until=(\d+)", request.url)
        if found:
            opened.asked.append((int(found[1]), int(found[2])))

    opened.on("request", note)
    opened.goto("/hive/orchard/o1")
    expect(opened.locator(".plot.weight canvas")).to_be_visible()
    opened.locator(".strips").scroll_into_view_if_needed()
    return opened


def plane(page):
    return page.locator(".plot.weight .u-over").bounding_box()


def span(page):
    """Return the moments that the newest question about the weight begins and ends with."""
    return page.asked[-1]


def comes_about(page, holds):
    """Wait until something holds for the newest question; the last look is the verdict."""
    for _ in range(80):
        if holds(*span(page)):
            return
        page.wait_for_timeout(50)
    assert holds(*span(page)), page.asked


def near(value, wanted, slack):
    return abs(value - wanted) <= slack * abs(wanted)


def test_two_fingers_spread_show_less_time_and_what_is_under_them_stays_there(page):
    since, until = span(page)
    whole, middle_time = until - since, (since + until) / 2
    box = plane(page)
    middle, y = box["x"] + box["width"] / 2, box["y"] + 60
    Hand(page).move([(middle - 40, y), (middle + 40, y)], [(middle - 120, y), (middle + 120, y)])
    comes_about(page, lambda a, b: near(b - a, whole / 3, 0.05) and abs((a + b) / 2 - middle_time) < 0.05 * whole)
    expect(page.get_by_role("button", name="2 weeks")).to_have_attribute("aria-pressed", "false")
    Hand(page).move([(middle - 120, y), (middle + 120, y)], [(middle - 40, y), (middle + 40, y)])
    comes_about(page, lambda a, b: near(b - a, whole, 0.05))


def test_one_finger_drags_along_when_there_is_more_to_see(page):
    page.get_by_role("button", name="3 days").click()
    comes_about(page, lambda a, b: b - a == 3 * DAY)
    _, until = span(page)
    box = plane(page)
    y = box["y"] + 60
    Hand(page).move([(box["x"] + 60, y)], [(box["x"] + 60 + box["width"] / 2, y)])
    comes_about(page, lambda a, b: abs(b - a - 3 * DAY) < 10 and near(until - b, 1.5 * DAY, 0.08))
    for _ in range(3):
        Hand(page).move([(box["x"] + 250, y)], [(box["x"] + 20, y)])
    comes_about(page, lambda _a, b: b == until)


def test_the_page_still_scrolls_under_a_finger_on_the_curves(page):
    before = page.evaluate("scrollY")
    shown = page.locator(".shows").inner_text()
    box = plane(page)
    x = box["x"] + box["width"] / 2
    Hand(page).move([(x, box["y"] + 150)], [(x, box["y"] - 150)], steps=12)
    for _ in range(40):
        if page.evaluate("scrollY") > before + 50:
            break
        page.wait_for_timeout(50)
    assert page.evaluate("scrollY") > before + 50
    expect(page.locator(".shows")).to_have_text(shown)


def test_a_tap_reads_the_curve(page):
    box = plane(page)
    page.touchscreen.tap(box["x"] + 100, box["y"] + 60)
    expect(page.locator(".readout")).to_contain_text("kg")


def test_fingers_show_no_less_than_two_hours(page):
    box = plane(page)
    middle, y = box["x"] + box["width"] / 2, box["y"] + 60
    for _ in range(4):
        Hand(page).move([(middle - 15, y), (middle + 15, y)], [(middle - 140, y), (middle + 140, y)])
    comes_about(page, lambda a, b: b - a == DAY / 12)

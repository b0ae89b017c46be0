"""Every kind of event on the curves, and the looks that a person asks the system for: contrast, stillness, paper."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

from hivemon.model import DAY, HOUR, Event, Kind
from hivemon.store import Store

STEP = {"old_kg": 42.0, "new_kg": 40.1, "minutes": 10.0, "others": 2.0, "others_kg": 0.1, "noise_kg": 0.02}
TOLD = {
    Kind.FLOW_ONSET: ("mean-gain-reached", 1.4, "kg/d", {"rate": 1.4, "rate_sd": 0.1}, "gains 1.4 kg a day"),
    Kind.FLOW_END: ("mean-gain-fallen", 0.1, "kg/d", {"rate": 0.1}, "hardly gains any more"),
    Kind.DEARTH_ONSET: ("mean-loss-reached", -0.25, "kg/d", {"rate": -0.25}, "loses 0.25 kg a day"),
    Kind.DEARTH_END: ("no-flying-weather", None, "", {}, "the dearth is taken as over"),
    Kind.SWARM: (
        "loss-within-minutes-in-flying-weather", 1.9, "kg", {**STEP, "bees_low": 12100.0, "bees_high": 14900.0},
        "1.9 kg left within 10 minutes: about 12,000 to 15,000 bees",
    ),
    Kind.BROOD_COLD: ("below-limit-for-hours", 29.1, "Cel", {"hours": 7.0, "degree_hours": 12.0}, "down to 29.1 °C"),
    Kind.BROOD_HOT: ("above-limit-for-hours", 38.4, "Cel", {"hours": 5.0, "outside_celsius": 37.0}, "up to 38.4 °C"),
    Kind.BROOD_UNSTABLE: (
        "swing-without-reason", 4.2, "Cel", {"swing_celsius": 4.2, "usual_celsius": 34.7},
        "swings by 4.2 °C within a day; it was steady at 34.7 °C",
    ),
    Kind.BROOD_RECOVERED: ("steady-for-a-day", 34.6, "Cel", {"steady": 1.0}, "near 34.6 °C"),
    Kind.ROBBING: (
        "loses-alone-for-hours", 0.3, "kg/h", {"rate": 0.3, "today": 1.1, "usual": 0.2, "others": 0.1},
        "lost 1.1 kg today and still loses; usual by now is 0.2 kg, its neighbours have lost 0.1 kg",
    ),
    Kind.SENSOR_FAULT: ("temperature-stuck", None, "", {"readings": 90.0}, "temperature sensor repeats one value"),
    Kind.UNLOGGED_STEP: ("too-much-for-bees", -9.0, "kg", STEP, "9.0 kg went within 10 minutes"),
    Kind.OFF_SCALE: ("hive-gone", 0.2, "kg", {**STEP, "new_kg": 0.2}, "shows 0.2 kg where 42.0 kg stood"),
}  # fmt: skip


@pytest.fixture
def everything(settings):
    """A hive to which everything happened in one week."""
    last = 1_748_413_500_000 - 7 * HOUR
    with Store.open(Path(settings.store.path)) as store:
        store.put_events([
            Event(
                id=f"orchard/o3/{kind.value}/made", kind=kind, yard="orchard", hive="o3", onset=last - place * DAY // 3,
                onset_first=last - place * DAY // 3, raised=last, size=size, unit=unit, confidence=0.8, reason=reason,
                summary="not these words", evidence=evidence,
            )
            for place, (kind, (reason, size, unit, evidence, _)) in enumerate(TOLD.items())
        ])  # fmt: skip


def test_no_kind_is_left_out():
    assert set(TOLD) == set(Kind)


@pytest.mark.usefixtures("everything")
def test_every_kind_stands_on_the_curve_says_why_and_can_be_answered(seen):
    """The sentence in the page's words, the reason, the numbers behind it, and the buttons to answer with."""
    page = seen.open("/", "phone")
    with page.expect_response(lambda answer: answer.url.endswith("/changes"), timeout=30_000):
        page.goto("/hive/orchard/o3")
    with page.expect_response(lambda answer: "/curves/humidity" in answer.url, timeout=30_000):
        page.wait_for_timeout(500)
    page.wait_for_timeout(300)
    for kind, (_, _, _, evidence, words) in TOLD.items():
        told = page.locator(f'.happenings li[data-key="orchard/o3/{kind.value}/made"]')
        expect(told.locator(".what"), kind.value).to_contain_text(words)
        page.locator(f'.mark[data-key="mark-orchard/o3/{kind.value}/made"]').press("Enter")
        expect(told.locator("details.why"), kind.value).to_have_attribute("open", "")
        expect(told.locator(".why")).to_contain_text("How sure: very likely (80 %).")
        expect(told.locator(".evidence tr")).to_have_count(len(evidence))
        expect(told.locator(".answers button"), kind.value).not_to_have_count(0)
    assert "not these words" not in page.locator("main").inner_text()


@pytest.mark.parametrize("path", ["/", "/hive/orchard/o1"])
def test_colours_that_the_system_forces_leave_everything_readable(seen, path):
    """CSS Color Adjustment 1, forced colours: shapes keep an outline where backgrounds are taken away."""
    page = seen.open(path, "phone", forced_colors="active", color_scheme="dark")
    assert page.evaluate("matchMedia('(forced-colors: active)').matches")
    if path != "/":
        expect(page.locator(".plot.weight canvas")).to_be_visible()
        drawn = page.evaluate(
            "() => { const c = document.querySelector('.plot.weight canvas');"
            " const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
            " const ground = getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number);"
            " let far = 0; for (let i = 0; i < d.length; i += 4) { const apart = [0, 1, 2].map((n) =>"
            " Math.abs(d[i + n] - ground[n])); if (d[i + 3] > 200 && apart[0] + apart[1] + apart[2] > 380) far += 1; }"
            " return far; }"
        )
        assert drawn > 500, "the curve stands out from the ground that the system forces"
        assert page.locator(".mark").first.evaluate("(node) => getComputedStyle(node).borderStyle") != "none"
    else:
        assert page.locator(".urgency svg").first.evaluate(
            "(node) => getComputedStyle(node).fill !== getComputedStyle(document.body).backgroundColor"
        )


def test_nothing_moves_by_itself_for_those_who_want_it_still(seen):
    """WCAG 2.3.3: a letter leads to its reason at once, and no part has a transition."""
    page = seen.open("/hive/orchard/o1", "phone", reduced_motion="reduce")
    expect(page.locator(".mark").first).to_be_visible()
    page.locator(".mark").first.click()
    expect(page.locator(".happenings li:focus")).to_be_in_viewport()
    lasting = page.evaluate(
        "[...document.querySelectorAll('*')].filter((node) =>"
        " !/^0s(, 0s)*$/.test(getComputedStyle(node).transitionDuration)"
        " || getComputedStyle(node).animationName !== 'none').length"
    )
    assert lasting == 0


def test_on_paper_all_is_open_and_nothing_to_press(seen):
    page = seen.open("/hive/orchard/o1", "desk")
    expect(page.locator(".plot.humidity canvas")).to_be_visible()
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    expect(page.locator(".days tbody tr").first).to_be_visible()
    for part in ("#top", ".ranges", ".moves", "button.log", ".answers", "button.plain"):
        assert page.locator(part).evaluate_all("(all) => all.every((node) => !node.offsetParent)"), part
    assert page.locator("details:not([open])").count() == 0
    assert page.pdf().startswith(b"%PDF")

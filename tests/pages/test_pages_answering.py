"""Seen, done, wrong on the pages: with the logbook's guards, and everywhere the same afterwards."""

from pathlib import Path

import pytest
from pages_client import csrf
from playwright.sync_api import expect

from hivemon.store import Answer, Store


@pytest.fixture
def asked(settings):
    """The super that hive o2 needs."""
    with Store.open(Path(settings.store.path), read_only=True) as store:
        return next(a for a in store.advisories("orchard", "o2", open_only=True) if a.id.startswith("super:"))


def say(client, advisory, answer, **given):
    given = {"headers": csrf(client)} | given
    return client.post("/api/v1/advice-answers", json={"advisory": advisory.id, "answer": answer}, **given)


def test_what_was_answered_is_not_counted_and_comes_last_marked(client, settings, asked):
    before = client.get("/api/v1/today").json()
    said = say(client, asked, "done")
    assert (said.status, said.json()["log"]) == (201, "super-on")
    after = client.get("/api/v1/today").json()
    assert after["wanted"] == before["wanted"] - 1
    assert sum(part["total"] for task in after["tasks"] for part in task["parts"]) == after["wanted"]
    line = next(hive for hive in after["hives"] if hive["hive"] == "o2")
    assert (line["wanted"], line["title"], line["late"]) == (False, None, False)
    story = client.get("/api/v1/yards/orchard/hives/o2").json()
    assert [(a["id"], a["answer"]) for a in story["advisories"]][-1] == (asked.id, "done")
    assert client.get("/api/v1/yards").json()["yards"][0]["wanted"] == after["wanted"]
    with Store.open(Path(settings.store.path), read_only=True) as store:
        assert store.answers()[asked.id].answer is Answer.DONE


def test_what_was_only_seen_stays_on_the_first_page_with_its_mark(client, asked):
    say(client, asked, "seen")
    view = client.get("/api/v1/today").json()
    line = next(hive for hive in view["hives"] if hive["hive"] == "o2")
    assert (line["wanted"], line["title"], line["answer"]) == (False, asked.title, "seen")
    assert view["seen"] == 1


def test_an_answer_needs_what_the_logbook_needs(client, settings, asked):
    assert say(client, asked, "done", headers={}).json()["code"] == "stale-page"
    elsewhere = {**csrf(client), "origin": "https://elsewhere.example"}
    assert say(client, asked, "done", headers=elsewhere).json()["code"] == "other-site"
    assert say(client, asked, "perhaps").status == 400
    with Store.open(Path(settings.store.path)) as store:
        assert store.answers() == {}
    body = {"advisory": "none", "answer": "done"}
    assert client.post("/api/v1/advice-answers", json=body, headers=csrf(client)).json()["code"] == "no-advisory"


def test_two_taps_answer_and_a_third_writes_what_was_done(seen, asked):
    page = seen.open("/hive/orchard/o2", "phone")
    advice = page.locator(".advice", has_text=asked.title)
    advice.locator("summary").click()
    advice.get_by_role("button", name="Done").click()
    expect(page.locator("#said")).to_contain_text("It still belongs in the logbook: Super on.")
    page.locator("#said").get_by_role("button", name="Write it down").click()
    expect(page.locator("#said")).to_contain_text("Written down: Super on, hive o2")
    expect(page.locator(".advice.answered .urgency")).to_have_text("done")
    page.goto("/")
    expect(page.locator(".lead")).to_have_text("One hive needs you.")


def test_a_mite_wash_is_asked_for_its_numbers(seen):
    page = seen.open("/", "phone")
    page.locator(".hive", has_text="o3").get_by_role("button", name="logbook for hive o3").click()
    dialog = page.get_by_role("dialog")
    dialog.get_by_role("button", name="Mite wash").click()
    dialog.get_by_role("button", name="Write it down").click()
    expect(dialog.get_by_role("alert")).to_contain_text("How many mites?")
    dialog.get_by_label("Mites counted").fill("6")
    dialog.get_by_label("Bees washed").fill("280")
    dialog.get_by_role("button", name="Write it down").click()
    expect(page.locator("#said")).to_contain_text("Written down: Mite wash, hive o3")
    page.goto("/logbook")
    entry = page.locator("ol.entries li").first
    expect(entry).to_contain_text("Mite wash, 6")
    expect(entry).to_contain_text("bees=280")
    entry.get_by_role("button", name="Correct").click()
    expect(page.get_by_role("dialog").get_by_label("Bees washed")).to_have_value("280")

"""Correcting an entry of the logbook in its place: over the API, and by hand in a real browser; history is kept."""

import re
from pathlib import Path

import pytest
from pages_client import NOW, csrf
from playwright.sync_api import expect

from hivemon.model import DAY, HOUR, Entry, LogEntry
from hivemon.store import Store

WRITTEN = {"yard": "orchard", "hive": "o2", "entry": "super-on", "amount": 7.5, "note": "two combs drawn"}


@pytest.fixture
def kept(client):
    """An entry of this morning."""
    return client.post("/api/v1/logbook", json=WRITTEN, headers=csrf(client)).json()


def test_a_correction_takes_the_place_and_the_old_one_stays_in_the_history(client, kept):
    where = f"/api/v1/logbook/{kept['id']}"
    corrected = {**WRITTEN, "hive": "o3", "amount": 8.25}
    answer = client.request("PUT", where, json=corrected, headers=csrf(client))
    assert answer.status == 200
    assert answer.json() == {**kept, "hive": "o3", "amount": 8.25}, "without a time it keeps the one it had"
    found = client.get(where).json()
    assert [version["change"] for version in found["versions"]] == ["added", "corrected"]
    assert [version["entry"]["hive"] for version in found["versions"]] == ["o2", "o3"]
    assert found["entry"] == answer.json()
    assert not found["struck"]
    listed = [entry for entry in client.get("/api/v1/logbook").json()["entries"] if entry["id"] == kept["id"]]
    assert listed == [answer.json()]


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"amount": 900}, "amount"),
        ({"entry": "mite-wash", "amount": 400, "note": "bees=300"}, "amount"),
        ({"entry": "inspect"}, "no-amount"),
        ({"time": NOW + DAY}, "moment"),
        ({"hive": "o9"}, "no-hive"),
        ({"yard": "meadow"}, "other-yard"),
    ],
)
def test_a_correction_that_cannot_be_changes_nothing(client, kept, wrong, code):
    answer = client.request("PUT", f"/api/v1/logbook/{kept['id']}", json={**WRITTEN, **wrong}, headers=csrf(client))
    assert answer.status in (400, 404)
    assert answer.json()["code"] == code
    assert len(client.get(f"/api/v1/logbook/{kept['id']}").json()["versions"]) == 1


def test_what_is_struck_out_or_was_never_there_cannot_be_corrected(client, kept):
    where = f"/api/v1/logbook/{kept['id']}"
    client.delete(where, headers=csrf(client))
    assert client.request("PUT", where, json=WRITTEN, headers=csrf(client)).json()["code"] == "struck"
    assert client.get(where).json()["struck"]
    for method, given in (("PUT", {"json": WRITTEN, "headers": csrf(client)}), ("GET", {})):
        answer = client.request(method, "/api/v1/logbook/9999", **given)
        assert (answer.status, answer.json()["code"]) == (404, "no-entry")
    assert client.request("PUT", where, json=WRITTEN).json()["code"] == "stale-page", "never without the token"


@pytest.fixture
def fed(settings):
    """An entry with seconds and grams, made elsewhere, linked to an event."""
    entry = LogEntry(
        time=NOW - 30 * HOUR + 17_000,
        hive="o2",
        entry=Entry.FEED,
        amount=2.2731,
        note="thin syrup [orchard/o2/swarm/x]",
    )
    with Store.open(Path(settings.store.path)) as store:
        return store.add_entry("orchard", entry)


def versions(settings, number):
    with Store.open(Path(settings.store.path), read_only=True) as store:
        return store.entry_history(number)


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_by_hand_in_the_logbook(seen, settings, fed, size):
    """The form holds what stands; what is not touched stays as it was, to the second and the gram."""
    page = seen.open("/logbook", size)
    line = page.locator("ol.entries li", has_text="thin syrup")
    line.get_by_role("button", name=re.compile("^Correct Fed, 2.3 kg, o2")).click()
    dialog = page.get_by_role("dialog", name="Correct the entry")
    expect(dialog.get_by_label("How much")).to_have_value("2.273")
    expect(dialog.get_by_label("Note")).to_have_value("thin syrup")
    expect(dialog.get_by_label("When")).to_have_value("2025-05-27T02:25")
    dialog.get_by_label("Hive", exact=True).select_option("o3")
    dialog.get_by_role("button", name="Keep it so").click()
    expect(page.locator("#said")).to_contain_text("Corrected: Fed, hive o3")
    expect(line).to_contain_text("o3: Fed, 2.3 kg")
    before, after = versions(settings, fed.id)
    assert before.entry == fed
    assert (after.entry.hive, after.entry.time, after.entry.amount, after.entry.note) == (
        "o3", fed.time, 2.2731, fed.note,
    )  # fmt: skip
    line.get_by_role("button", name="Correct").click()
    expect(dialog).to_contain_text("What stood here before")
    expect(dialog.locator("li").last).to_contain_text("written down: Fed, 2.3 kg, o2")
    dialog.get_by_label("How much").fill("two")
    dialog.get_by_role("button", name="Keep it so").click()
    expect(dialog.get_by_role("alert")).to_have_text("That amount is no number.")
    dialog.get_by_label("How much").fill("900")
    dialog.get_by_role("button", name="Keep it so").click()
    expect(dialog.get_by_role("alert")).to_contain_text("That amount cannot be.")
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    assert len(versions(settings, fed.id)) == 2
    seen.wrong[:] = [line for line in seen.wrong if "400" not in line]


def test_from_a_letter_on_the_curve(seen, settings, fed):
    """Where an entry stands on the curve, there it is corrected: another time, and its letter moves."""
    page = seen.open("/hive/orchard/o2", "phone")
    entry = page.locator(".happenings .entry", has_text="thin syrup")
    entry.get_by_role("button", name="Correct").click()
    page.get_by_label("When").fill("2025-05-26T18:00")
    page.get_by_role("button", name="Keep it so").click()
    expect(entry.locator(".when")).to_contain_text("Mon 26 May, 18:00")
    assert versions(settings, fed.id)[-1].entry.note == fed.note, "an answer stays linked to its event"

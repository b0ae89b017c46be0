"""The pages beside a real daemon: readings over MQTT, entries judged again, connections that go, strangers' text."""

import json
import re
import threading
import time
from pathlib import Path

import msgspec
import paho.mqtt.client as paho
import pytest
from browsing import PHONE
from pages_client import NOW, Client, csrf, eventually, free_port, with_pages
from paho.mqtt.enums import CallbackAPIVersion
from playwright.sync_api import expect

from hivemon.config import load
from hivemon.daemon import Daemon
from hivemon.model import HOUR, MINUTE, Entry, LogEntry
from hivemon.pages import PagesServer
from hivemon.pages.single import season
from hivemon.store import Store

EVIL = "<img src=x onerror=\"window.hurt='yes'\"><script>window.hurt='yes'</script>"


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport=PHONE)
    context.set_default_timeout(15_000)
    opened = context.new_page()
    opened.wrong = []
    opened.on("pageerror", lambda error: opened.wrong.append(str(error)))
    yield opened
    context.close()
    assert opened.wrong == []


@pytest.fixture
def running(settings):
    """A daemon with its own broker on the judged store, and the pages beside it; the clock runs on from NOW."""
    began = time.time_ns() // 1_000_000

    def clock():
        return NOW + time.time_ns() // 1_000_000 - began

    embedded = msgspec.structs.replace(settings.embedded, port=free_port())
    both = msgspec.structs.replace(with_pages(settings, port=free_port()), embedded=embedded)
    daemon = Daemon(both, clock=clock)
    thread = threading.Thread(target=daemon.run_forever)
    thread.start()
    try:
        eventually(lambda: getattr(daemon, "link", None) and daemon.link.status.state.value == "up", 20)
        with PagesServer(both, clock=clock) as server:
            yield server, both
    finally:
        daemon.stop()
        thread.join(20)


def publish(port, topic, records):
    """Publish a SenML pack at QoS 1 and wait for the acknowledgement."""
    client = paho.Client(CallbackAPIVersion.VERSION2, "node", protocol=paho.MQTTv311)
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.publish(topic, json.dumps(records), 1).wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def test_a_reading_over_mqtt_shows_without_a_touch(running, page):
    """From the node through broker, daemon and store to an open page, in seconds."""
    server, settings = running
    page.goto(f"{server.url}hive/orchard/o1")
    expect(page.locator(".facts")).to_contain_text("kg")
    expect(page.locator(".facts")).not_to_contain_text("77.7 kg")
    time.sleep(0.5)
    pack = [{"bt": NOW / 1000 - 60, "n": "weight", "u": "kg", "v": 77.7}]
    publish(settings.embedded.port, "hives/orchard/o1", pack)
    began = time.monotonic()
    expect(page.locator(".facts")).to_contain_text("77.7 kg")
    assert time.monotonic() - began < 5
    expect(page.locator(".facts")).to_contain_text("read just now")


def test_an_answer_to_a_mark_is_judged_again(running, page):
    """ "I took bees" at the swarm: the daemon finds the entry, takes the swarm back and says so on the open page."""
    server, settings = running
    page.goto(f"{server.url}hive/orchard/o1")
    swarm = page.locator(".happenings .event", has=page.locator(".what", has_text="bees"))
    swarm.get_by_text("Why?").click()
    swarm.get_by_role("button", name="I took bees").click()
    expect(page.locator("#said")).to_contain_text("judged again")
    expect(page.locator(".happenings .entry", has_text=re.compile(r"Split, \d"))).to_be_visible()
    gone = page.locator(".happenings .gone", has=page.locator(".what", has_text="bees"))
    expect(gone).to_be_visible(timeout=30_000)
    with Store.open(Path(settings.store.path), read_only=True) as store:
        (event,) = [event for event in store.events("orchard", "o1") if event.kind.value == "swarm"]
    assert event.withdrawn is not None


def test_without_a_connection_the_last_view_stays_and_says_how_old_it_is(settings, page):
    """The server is really gone; what was looked at can be opened again, and an entry waits for it to come back."""
    port = free_port()
    with PagesServer(with_pages(settings, port=port), clock=lambda: NOW) as server:
        page.goto(server.url)
        page.evaluate("navigator.serviceWorker.ready")
        eventually(
            lambda: page.evaluate("caches.open('hivemon-shell-2').then((c) => c.keys()).then((k) => k.length)") >= 7
        )
        page.reload()
        expect(page.locator(".note")).to_be_visible()
        page.goto(f"{server.url}hive/orchard/o1")
        expect(page.locator(".plot.weight canvas")).to_be_visible()
        page.wait_for_timeout(1500)
        facts = page.locator(".facts").inner_text()
    expect(page.locator(".offline")).to_contain_text("No connection. This is what it was")
    page.goto(f"http://127.0.0.1:{port}/hive/orchard/o1")
    expect(page.locator(".facts")).to_contain_text(facts.split(" · ")[0])
    expect(page.locator(".plot.weight canvas")).to_be_visible()
    expect(page.locator(".offline")).to_contain_text("No connection. This is what it was")
    page.get_by_role("link", name="Today").click()
    expect(page.locator(".note .lead")).to_be_visible()
    page.locator(".hive", has_text="o2").locator("button.log").click()
    page.get_by_role("button", name="Super on").click()
    expect(page.locator("#said")).to_contain_text("kept on this device")
    with PagesServer(with_pages(settings, port=port), clock=lambda: NOW + HOUR) as server:
        page.goto(f"{server.url}logbook")
        expect(page.locator("ol.entries li").first).to_contain_text("o2: Super on", timeout=25_000)
        expect(page.locator(".offline")).to_have_count(0)
        entry = Client(port).get("/api/v1/logbook").json()["entries"][0]
    assert NOW <= entry["time"] <= NOW + HOUR
    assert entry["time"] - NOW > HOUR - 5 * MINUTE, "it happened just before it was sent, by the daemon's clock"


def test_without_a_worker_an_open_page_stays_readable(settings, browser):
    """Over plain HTTP to another machine a browser allows no service worker (W3C Service Workers, secure contexts).

    The open page stays as it was, says how old it is, can be scrolled and zoomed with the curves at hand, and another
    page that was never opened says in words that hivemon cannot be reached; a tap is kept and sent later.
    """
    context = browser.new_context(viewport=PHONE, service_workers="block")
    page = context.new_page()
    port = free_port()
    with PagesServer(with_pages(settings, port=port), clock=lambda: NOW) as server:
        page.goto(f"{server.url}hive/orchard/o1")
        expect(page.locator(".plot.humidity canvas")).to_be_visible()
    expect(page.locator(".offline")).to_contain_text("No connection. This is what it was", timeout=25_000)
    expect(page.locator(".facts")).to_contain_text("kg")
    before = page.locator(".shows").inner_text()
    page.get_by_role("button", name="3 days").click()
    expect(page.locator(".shows")).not_to_have_text(before)
    expect(page.locator(".plot.weight canvas")).to_be_visible()
    page.get_by_role("button", name="logbook for hive o1").click()
    page.get_by_role("button", name="Inspected").click()
    expect(page.locator("#said")).to_contain_text("kept on this device")
    page.get_by_role("link", name="Logbook").click()
    expect(page.locator("h1")).to_have_text("hivemon cannot be reached.")
    page.go_back()
    with PagesServer(with_pages(settings, port=port), clock=lambda: NOW + HOUR):
        expect(page.locator(".plot.humidity canvas")).to_be_visible(timeout=25_000)
        expect(page.locator(".offline")).to_have_count(0)
        eventually(lambda: Client(port).get("/api/v1/logbook").json()["entries"][0]["entry"] == "inspect")
    context.close()


@pytest.fixture
def hostile(folder):
    """The judged yard with a hive and a yard whose names are markup, and notes that are."""
    config = folder / "hivemon.toml"
    text = config.read_text().replace('name = "Orchard"', f"name = '''{EVIL}'''")
    config.write_text(text.replace('id = "o1"\n', f"id = \"o1\"\nname = '''{EVIL}'''\n"))
    settings = load(config)
    with Store.open(Path(settings.store.path)) as store:
        store.add_entry("orchard", LogEntry(time=NOW - HOUR, hive="o1", entry=Entry.NOTE, note=EVIL))
        (event,) = [event for event in store.events("orchard", "o1") if event.kind.value == "swarm"]
        odd = msgspec.structs.replace(event, summary=EVIL, reason=EVIL, evidence={EVIL: 1.0})
        store.put_events([odd])
        store.put_advisories(
            [msgspec.structs.replace(a, title=EVIL, do=[EVIL], saw=EVIL) for a in store.advisories("orchard")]
        )
        store.quarantine(EVIL, EVIL, EVIL.encode(), NOW)
    return settings


@pytest.mark.parametrize("path", ["", "hive/orchard/o1", "yard/orchard", "logbook", "sensors"])
def test_text_from_elsewhere_stays_text(hostile, page, path):
    """Names, notes, summaries, reasons: shown as they are, letter by letter, and none of them runs."""
    with PagesServer(with_pages(hostile, port=free_port()), clock=lambda: NOW) as server:
        page.goto(f"{server.url}{path}")
        expect(page.locator("main")).to_contain_text("<img src=x onerror")
        page.evaluate("document.querySelectorAll('details').forEach((node) => { node.open = true; })")
        assert page.locator("main img, main script").count() == 0
        assert page.evaluate("window.hurt") is None


def test_the_file_of_a_season_works_from_the_disk_alone_and_holds_no_markup_of_others(hostile, page, tmp_path):
    """No server, no network, hostile text inside: the curves are drawn, zoomed, and nothing runs that is not ours."""
    path = tmp_path / "o1.html"
    with Store.open(Path(hostile.store.path), read_only=True) as store:
        path.write_text(season(hostile, store, "orchard", "o1", clock=NOW))
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    expect(page.locator(".plot.humidity canvas")).to_be_visible()
    page.get_by_role("button", name="Season").click()
    expect(page.locator(".happenings li", has_text="<img src=x onerror")).not_to_have_count(0)
    expect(page.locator(".mark")).to_have_count(page.locator(".happenings li").count())
    page.get_by_role("button", name="3 days").click()
    expect(page.locator("h1")).to_contain_text("<img src=x onerror")
    assert page.locator("button.log, .answers").count() == 0, "there is nobody to write to"
    assert page.evaluate("window.hurt") is None
    assert asked == [path.as_uri()]


def test_live_changes_stream_to_whoever_listens(client):
    """Server-sent events (WHATWG HTML 9.2), read with a plain socket: one at once, another after a write."""
    import http.client  # noqa: PLC0415

    link = http.client.HTTPConnection("127.0.0.1", client.port, timeout=10)
    link.request("GET", "/api/v1/changes")
    answer = link.getresponse()
    assert answer.headers["content-type"].startswith("text/event-stream")

    def event():
        lines = []
        while (line := answer.readline().strip()) or not lines:
            lines.append(line)
        return lines

    assert b"event: changed" in event()
    event()  # the first look at the store
    body = {"yard": "orchard", "hive": "o1", "entry": "inspect"}
    assert client.post("/api/v1/logbook", json=body, headers=csrf(client)).status == 201
    assert b"event: changed" in event()
    link.close()

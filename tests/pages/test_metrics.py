"""What a scraper reads at /metrics: OpenMetrics text, judged by the parser of the format's reference client library."""

from pathlib import Path

import msgspec
import pytest
from pages_client import NOW, Client, free_port, with_pages
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from hivemon.config import Settings
from hivemon.intake.link import LinkState
from hivemon.model import Quantity, Reading, Stream
from hivemon.pages import PagesServer, passwords
from hivemon.pages.metrics import MEDIA_TYPE, QUANTITIES
from hivemon.store import Store
from hivemon.store.daemon_state import DaemonStatus, write_status

STATUS = DaemonStatus(
    version="1", pid=1, started=NOW - 60_000, written=NOW, link=LinkState.UP, messages=7, readings=21, refused=1
)


@pytest.fixture
def store(settings: Settings):
    with Store.open(Path(settings.store.path)) as opened:
        yield opened


def scraped(client: Client, **headers: str) -> dict[str, list]:
    """Return the samples by family, as the reference parser reads them; it refuses what the standard does."""
    answer = client.get("/metrics", headers=headers)
    assert (answer.status, answer.headers["content-type"]) == (200, MEDIA_TYPE)
    return {family.name: family.samples for family in text_string_to_metric_families(answer.content.decode())}


def test_every_hives_newest_values_are_there_in_base_units(client: Client, settings: Settings, store: Store) -> None:
    found = scraped(client)
    yard = settings.yard[0].id
    latest = store.latest(yard)
    for quantity, told in QUANTITIES.items():
        samples = {sample.labels.get("hive"): sample.value for sample in found[f"hivemon_{told.name}_{told.unit}"]}
        expected = {stream.hive: value for stream, (_, value) in latest.items() if stream.quantity is quantity}
        assert samples.keys() == expected.keys()
        assert samples == pytest.approx({hive: value * told.scale for hive, value in expected.items()})
    hive = settings.hive[0].id
    newest = max(time for stream, (time, _) in latest.items() if stream.hive == hive)
    assert {s.labels.get("hive"): s.value for s in found["hivemon_reading_seconds"]}[hive] == newest / 1000


def test_the_daemons_work_is_there(client: Client, store: Store) -> None:
    write_status(store, STATUS)
    found = scraped(client)
    values = {sample.name: sample.value for samples in found.values() for sample in samples if not sample.labels}
    assert values["hivemon_messages_total"] == 7
    assert values["hivemon_readings_total"] == 21
    assert values["hivemon_refused_total"] == 1
    assert values["hivemon_committed_seconds"] == NOW / 1000
    assert (values["hivemon_working"], values["hivemon_link_up"]) == (1, 1)
    write_status(store, msgspec.structs.replace(STATUS, trouble="the disk is full", link=LinkState.DOWN))
    found = scraped(client)
    assert (found["hivemon_working"][0].value, found["hivemon_link_up"][0].value) == (0, 0)


def test_open_advisories_are_counted_by_urgency(client: Client, settings: Settings, store: Store) -> None:
    found = {s.labels["urgency"]: s.value for s in scraped(client)["hivemon_advisories"]}
    assert sum(found.values()) == len(store.advisories(settings.yard[0].id, open_only=True)) > 0


def test_a_hive_with_an_odd_name_breaks_nothing(client: Client, settings: Settings, store: Store) -> None:
    """Adopted hives are named by whoever publishes; label values are escaped (OpenMetrics 1.0, section 3)."""
    odd = 'a"b\\c\nd'
    store.add_readings([Reading(NOW, settings.yard[0].id, odd, Quantity.WEIGHT, 31.5)])
    weights = {s.labels["hive"]: s.value for s in scraped(client)["hivemon_weight_kilograms"]}
    assert weights[odd] == store.latest(settings.yard[0].id)[Stream(odd, Quantity.WEIGHT)][1]


def test_behind_a_password_a_scraper_needs_its_token_and_it_opens_nothing_else(settings: Settings, tmp_path) -> None:
    passwords.keep(tmp_path / "password", "a long enough password")
    (tmp_path / "token").write_text("scrape-0123456789\n")
    guarded = with_pages(
        settings,
        port=free_port(),
        password_file=str(tmp_path / "password"),
        scrape_token_file=str(tmp_path / "token"),
    )
    with PagesServer(guarded, clock=lambda: NOW) as server:
        client = Client(server.port)
        assert client.get("/metrics").status == 401
        for wrong in ("Bearer scrape-0123456788", "Bearer ", "Basic scrape-0123456789", "Bearer scrape-é"):
            assert client.get("/metrics", headers={"Authorization": wrong.encode()}).status == 401
        right = {"Authorization": "Bearer scrape-0123456789"}
        assert scraped(client, **right)
        assert client.get("/api/v1/today", headers=right).status == 401


def test_without_a_token_file_nobody_gets_in_without_a_session(settings: Settings, tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("HIVEMON_SCRAPE_TOKEN", "")
    passwords.keep(tmp_path / "password", "a long enough password")
    guarded = with_pages(settings, port=free_port(), password_file=str(tmp_path / "password"))
    with PagesServer(guarded, clock=lambda: NOW) as server:
        for shown in ("Bearer ", "Bearer None"):
            assert Client(server.port).get("/metrics", headers={"Authorization": shown}).status == 401


def test_it_is_not_served_under_a_strange_name(client: Client) -> None:
    """DNS rebinding, as for the pages."""
    client.host = "evil.example"
    assert client.get("/metrics").status == 421

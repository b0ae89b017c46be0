"""The JSON API against its own description (OpenAPI 3.1, JSON Schema 2020-12), and what its answers say."""

import json
from pathlib import Path

import jsonschema
import pytest
from openapi_spec_validator import validate
from pages_client import NOW, csrf

import hivemon.pages.app
from hivemon.model import DAY, Entry, Event, Kind, LogEntry
from hivemon.pages.app import make_app
from hivemon.pages.reader import Reader
from hivemon.store import Store

DESCRIPTION = json.loads((Path(hivemon.pages.app.__file__).parent / "openapi.json").read_text())
SPAN = f"since={NOW - 20 * DAY}&until={NOW}&width=300"


def check(client, method, path, template=None, status=200, **given):
    """Ask, and hold the answer against the description; return it."""
    answer = client.request(method, f"/api/v1{path}", **given)
    assert answer.status == status, answer.content
    operation = DESCRIPTION["paths"][(template or path).split("?")[0]][method.lower()]
    response = operation["responses"].get(str(status), operation["responses"]["default"])
    schema = {"components": DESCRIPTION["components"], **response["content"]["application/json"]["schema"]}
    jsonschema.Draft202012Validator(schema).validate(answer.json())
    return answer.json()


def test_the_description_is_a_valid_openapi_document(client):
    """Against the OpenAPI Initiative's own schema."""
    validate(client.get("/api/v1/openapi.json").json())


@pytest.mark.parametrize(
    ("path", "template"),
    [
        ("/session", None),
        ("/today", None),
        ("/today?page=7", None),
        ("/yards/orchard", "/yards/{yard}"),
        ("/yards/orchard/hives/o1", "/yards/{yard}/hives/{hive}"),
        (f"/yards/orchard/hives/o1/curves/weight?{SPAN}", "/yards/{yard}/hives/{hive}/curves/{quantity}"),
        (f"/yards/orchard/hives/o2/curves/outside-temperature?{SPAN}", "/yards/{yard}/hives/{hive}/curves/{quantity}"),
        ("/sensors", None),
        ("/logbook", None),
        ("/logbook?hive=o1&yard=orchard", None),
    ],
)
def test_every_answer_is_as_described(client, path, template):
    check(client, "GET", path, template)


def test_every_address_of_the_api_is_described_and_every_described_one_is_there(settings):
    """Neither has more than the other."""
    reader = Reader(Path(settings.store.path))
    app = make_app(settings, reader)
    reader.close()
    found = set()
    for route in app.routes:
        path = route.path.removeprefix("/api/v1").replace("{number:int}", "{number}")
        if path != route.path:
            found |= {(path, method.lower()) for method in route.methods - {"HEAD"}}
    described = {(path, method) for path, item in DESCRIPTION["paths"].items() for method in item}
    assert found == described


def test_hives_come_in_order_of_need(client):
    """What must be done first stands first; those in no need come last."""
    order = ["now", "today", "this-week", "for-information", None]
    ranks = [order.index(hive["urgency"]) for hive in check(client, "GET", "/today")["hives"]]
    assert len(ranks) == 3
    assert ranks == sorted(ranks)


def test_a_story_tells_the_swarm_with_its_reasons_and_answers(client):
    story = check(client, "GET", "/yards/orchard/hives/o1", "/yards/{yard}/hives/{hive}")
    (swarm,) = [event for event in story["events"] if event["kind"] == "swarm"]
    assert {"old_kg", "new_kg", "bees_low"} <= set(swarm["evidence"])
    assert {"swarm-seen", "took-bees", "no"} <= set(swarm["choices"])
    assert any(event["hive"] is None for event in story["events"]), "what the yard went through belongs to the story"


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/yards/nowhere", 404, "no yard"),
        ("/yards/orchard/hives/o9", 404, "no hive"),
        ("/yards/orchard/hives/o1/curves/honey?since=0&until=9", 404, "no quantity"),
        ("/yards/orchard/hives/o1/curves/weight?since=9&until=9", 400, "no length"),
        ("/yards/orchard/hives/o1/curves/weight?since=x&until=9", 400, "no whole number"),
        ("/yards/orchard/hives/o1/curves/weight?until=9", 400, "no whole number"),
        ("/today?page=99999999999999999999", 400, "out of range"),
    ],
)
def test_what_cannot_be_answered_is_refused_in_words(client, path, status, said):
    answer = client.get(f"/api/v1{path}")
    jsonschema.validate(answer.json(), DESCRIPTION["components"]["schemas"]["Error"])
    assert answer.status == status
    assert said in answer.json()["error"]


def test_an_entry_is_written_listed_and_struck(client):
    """The whole way of "super on" and back."""
    body = {"yard": "orchard", "hive": "o2", "entry": "super-on", "amount": 7.5}
    kept = check(client, "POST", "/logbook", status=201, json=body, headers=csrf(client))
    assert kept["time"] == NOW
    assert check(client, "GET", "/logbook")["entries"][0]["id"] == kept["id"]
    check(client, "DELETE", f"/logbook/{kept['id']}", "/logbook/{number}", headers=csrf(client))
    assert kept["id"] not in {entry["id"] for entry in check(client, "GET", "/logbook")["entries"]}
    again = client.delete(f"/api/v1/logbook/{kept['id']}", headers=csrf(client))
    assert again.status == 400
    assert "struck" in again.json()["error"]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"hive": "o9"}, "no hive"),
        ({"entry": "dance"}, "Invalid enum value"),
        ({"amount": 900}, "900 kg cannot be"),
        ({"entry": "inspect", "amount": 3}, "has no amount"),
        ({"time": NOW + DAY}, "cannot be"),
        ({"time": 0}, "cannot be"),
        ({"note": "x" * 501}, "length"),
        ({"colour": "blue"}, "unknown field"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_and_nothing_is_kept(client, wrong, said):
    before = client.get("/api/v1/logbook").json()["total"]
    body = {"yard": "orchard", "hive": "o1", "entry": "super-on", **wrong}
    answer = client.post("/api/v1/logbook", json=body, headers=csrf(client))
    assert answer.status in (400, 404)
    assert said in answer.json()["error"]
    assert client.get("/api/v1/logbook").json()["total"] == before


def test_an_entry_sent_again_for_want_of_an_answer_is_kept_once(client):
    """One super, however often a phone with a bad connection says so."""
    body = {"yard": "orchard", "hive": "o2", "entry": "super-on", "key": "tap-1"}
    first = check(client, "POST", "/logbook", status=201, json=body, headers=csrf(client))
    again = check(client, "POST", "/logbook", status=201, json=body, headers=csrf(client))
    other = check(client, "POST", "/logbook", status=201, json={**body, "key": "tap-2"}, headers=csrf(client))
    assert first == again
    assert other["id"] != first["id"]


def test_an_answer_becomes_a_logbook_entry_at_the_time_of_the_event(client):
    story = client.get("/api/v1/yards/orchard/hives/o1").json()
    (swarm,) = [event for event in story["events"] if event["kind"] == "swarm"]
    body = {"event": swarm["id"], "hive": "o1", "answer": "took-bees"}
    entry = check(client, "POST", "/answers", status=201, json=body, headers=csrf(client))
    assert (entry["entry"], entry["time"], entry["hive"]) == ("split", swarm["onset"], "o1")
    assert entry["amount"] == round(swarm["size"], 1)
    assert swarm["id"] in entry["note"]


def test_an_answer_that_is_not_offered_is_refused(client):
    story = client.get("/api/v1/yards/orchard/hives/o1").json()
    (swarm,) = [event for event in story["events"] if event["kind"] == "swarm"]
    for body in ({"event": swarm["id"], "answer": "fed"}, {"event": "none", "answer": "yes"}):
        answer = client.post("/api/v1/answers", json={"hive": "o1", **body}, headers=csrf(client))
        assert answer.status in (400, 404)


def test_sensors_tell_the_faults_that_stand_and_not_those_that_are_over(client, settings):
    def fault(name, hive, **evidence):
        return Event(
            id=name, kind=Kind.SENSOR_FAULT, yard="orchard", hive=hive, onset=NOW, onset_first=NOW, raised=NOW,
            confidence=0.9, reason="stuck", summary=name, evidence=evidence,
        )  # fmt: skip

    with Store.open(Path(settings.store.path)) as store:
        over = fault("over", "o1", until_ms=float(NOW))
        store.put_events([fault("stands", "o1"), over, fault("the yard's", None)])
    places = check(client, "GET", "/sensors")["places"]
    told = {place["hive"]: [event["id"] for event in place["faults"]] for place in places}
    assert told == {None: ["the yard's"], "o1": ["stands"], "o2": [], "o3": []}
    assert [stream["quantity"] for stream in places[1]["streams"]] == ["weight", "temperature", "humidity"]


def test_what_has_not_changed_is_not_sent_again(client):
    """RFC 9110, 13.1.2: If-None-Match and 304."""
    first = client.get("/api/v1/today")
    again = client.get("/api/v1/today", headers={"if-none-match": first.headers["etag"]})
    assert (again.status, again.content) == (304, b"")
    client.post("/api/v1/logbook", json={"yard": "orchard", "hive": "o1", "entry": "inspect"}, headers=csrf(client))
    logbook = client.get("/api/v1/logbook")
    assert client.get("/api/v1/logbook", headers={"if-none-match": logbook.headers["etag"]}).status == 304


def test_an_entry_in_the_store_from_another_program_shows(client, settings):
    """The pages read what everyone writes."""
    with Store.open(Path(settings.store.path)) as store:
        store.add_entry("orchard", LogEntry(time=NOW, hive="o3", entry=Entry.NOTE, note="<b>wasps</b>"))
    assert client.get("/api/v1/logbook").json()["entries"][0]["note"] == "<b>wasps</b>"

"""What is well and what is not: a case for each thing looked at, both ways."""

import msgspec
import pytest

from hivemon.cli.wellness import BACKLOG, DISK_LEAST, HUNG, SILENT, Seen, judge, megabytes
from hivemon.config import InfluxSettings, Settings
from hivemon.daemon import DaemonStatus
from hivemon.intake.link import LinkState
from hivemon.model import DAY, HOUR, MINUTE
from hivemon.store import Quarantined, StoreFacts, StreamFacts

NOW = 1_781_265_600_000


def stream(hive: str | None, ago: int | None, quantity: str = "weight") -> StreamFacts:
    last = None if ago is None else NOW - ago
    return StreamFacts(yard="orchard", hive=hive, quantity=quantity, last=last, readings=1, stamped=0)


FACTS = StoreFacts(
    path="hivemon.db",
    size=3 * 1024**2,
    wal_size=0,
    disk_free=10 * 1024**3,
    streams=[stream("o1", MINUTE), stream("o2", MINUTE)],
    entries=0,
    events=0,
    advisories_open=0,
    hive_days=0,
    means=0,
    quarantined=0,
    outbox_points=0,
    outbox_oldest=None,
    adopted=0,
    notes={},
    integrity=[],
)
STATUS = DaemonStatus(
    version="0.1.0", pid=1, started=NOW - HOUR, written=NOW - MINUTE // 2, link=LinkState.UP, messages=9
)
REFUSED = Quarantined(NOW - HOUR, "no number", "barn/scale1", b"{}", 2)


def with_influx(settings: Settings) -> Settings:

    return msgspec.structs.replace(settings, influx=InfluxSettings(url="http://127.0.0.1:8086"))


def unwell(settings: Settings, messages: list[Quarantined] | None = None, **changes: object) -> list[str]:
    seen = Seen(msgspec.structs.replace(FACTS, **changes), messages or [], STATUS, alive=True)
    return [finding.what for finding in judge(seen, settings, NOW) if not finding.well]


def test_a_yard_that_reports_and_a_store_with_room_are_well(settings: Settings) -> None:
    assert unwell(settings) == []


@pytest.mark.parametrize(
    ("changes", "alive", "said"),
    [
        ({}, False, "daemon: not running, last heard of less than a minute ago"),
        ({"running": False, "written": NOW - DAY}, False, "daemon: stopped 24 hours ago"),
        ({"written": NOW - HUNG - 1}, True, "daemon: has said nothing for 2 minutes"),
        ({"trouble": "the disk is full"}, True, "daemon: the disk is full"),
        (
            {"link": LinkState.DOWN, "link_reason": "connection refused", "link_since": NOW - HOUR},
            True,
            "daemon: no link to the broker for 60 minutes: connection refused",
        ),
        (
            {"link_refused": ("hives/+",)},
            True,
            "daemon: the broker refuses to send hives/+: let broker.user read that in the broker's access rules",
        ),
    ],
)
def test_a_daemon_that_cannot_work_is_found(
    settings: Settings, changes: dict[str, object], alive: bool, said: str
) -> None:
    seen = Seen(FACTS, [], msgspec.structs.replace(STATUS, **changes), alive)
    assert [finding.what for finding in judge(seen, settings, NOW) if not finding.well] == [said]


def test_a_daemon_that_cannot_write_is_not_to_be_started_again_but_its_disk_mended(settings: Settings) -> None:
    hung = msgspec.structs.replace(STATUS, written=NOW - HUNG - 1)
    for read_only, hint in ((False, "stop it and start it again"), (True, "its disk comes first, see below")):
        facts = msgspec.structs.replace(FACTS, disk_read_only=read_only)
        assert judge(Seen(facts, [], hung, alive=True), settings, NOW)[0].hint == hint


def test_a_daemon_that_has_just_started_is_given_time(settings: Settings) -> None:
    """Between taking the lock and writing its first status nothing is wrong yet."""
    stopped = msgspec.structs.replace(STATUS, running=False, written=NOW - DAY)
    for status in (None, stopped):
        assert all(finding.well for finding in judge(Seen(FACTS, [], status, alive=True), settings, NOW))
    (found,) = [f for f in judge(Seen(FACTS, [], None, alive=False), settings, NOW) if not f.well]
    assert found.what == "daemon: has never run"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"integrity": ["row 7 missing from index"]}, "row 7 missing from index"),
        ({"disk_free": DISK_LEAST - 1}, "disk: 200.0 MB free"),
        (
            {"notes": {"slow-clocks": '{"orchard/o1":300}'}},
            "the clock of the node of orchard/o1 seems to be 5 hours behind",
        ),
        ({"disk_read_only": True}, "disk: it may only be read now"),
        ({"streams": [stream("o1", MINUTE)]}, "hive Blue hive (Orchard): no reading ever"),
        ({"streams": [stream("o1", SILENT + MINUTE), stream("o2", 0)]}, "hive o1 (Orchard): newest reading"),
        ({"streams": [*FACTS.streams, stream("o9", 2 * DAY)]}, "hive o9 (Orchard): newest reading"),
    ],
)
def test_each_trouble_alone_is_found(settings: Settings, changes: dict[str, object], said: str) -> None:
    (found,) = unwell(settings, **changes)
    assert said in found


def test_a_demos_store_is_well_although_its_season_lies_in_the_past(settings: Settings) -> None:
    old = msgspec.structs.replace(FACTS, streams=[stream("o1", 400 * DAY), stream("o2", 400 * DAY)])
    played = msgspec.structs.replace(old, notes={"played": "orchard-swarm"})
    over = msgspec.structs.replace(STATUS, running=False)
    findings = judge(Seen(played, [], over, alive=False), settings, NOW)
    assert all(finding.well for finding in findings)
    assert "of the invented season orchard-swarm" in " ".join(finding.what for finding in findings)
    broken_off = judge(Seen(played, [], STATUS, alive=False), settings, NOW)
    assert [f.what for f in broken_off if not f.well] == ["daemon: not running, last heard of less than a minute ago"]
    assert sum(not f.well for f in judge(Seen(old, [], over, alive=False), settings, NOW)) == 3, "any other store"


def test_while_no_daemon_runs_no_node_is_blamed(settings: Settings) -> None:
    old = msgspec.structs.replace(FACTS, streams=[stream("o1", DAY), stream("o2", DAY)])
    _, *hives = [f for f in judge(Seen(old, [], STATUS, alive=False), settings, NOW) if not f.well]
    assert {finding.hint for finding in hives} == {"start the daemon first"}


def test_the_newest_reading_of_any_quantity_counts(settings: Settings) -> None:
    """A dead thermometer is an event; the hive still speaks."""
    streams = [stream("o1", 5 * DAY, "temperature"), stream("o1", MINUTE), stream("o2", SILENT)]
    assert unwell(settings, streams=streams) == []


def test_messages_set_aside_matter_for_a_day(settings: Settings) -> None:
    (found,) = unwell(settings, [REFUSED], quarantined=5)
    assert "5 ever; the newest, from 'barn/scale1': no number" in found
    assert unwell(settings, [REFUSED._replace(received=NOW - 2 * DAY)], quarantined=5) == []


def test_a_copy_that_lags_by_more_than_a_day_needs_a_look(settings: Settings) -> None:
    lagging = {"outbox_points": 5_000, "outbox_oldest": NOW - BACKLOG - HOUR}
    assert unwell(settings, **lagging) == [], "nobody asked for a copy"
    (found,) = unwell(with_influx(settings), **lagging)
    assert "5,000 points wait, the oldest for 25 hours" in found
    assert unwell(with_influx(settings), outbox_points=9, outbox_oldest=NOW - MINUTE) == []


def test_sizes_are_said_as_people_say_them() -> None:
    assert megabytes(5 * 1024**2) == "5.0 MB"
    assert megabytes(3 * 1024**3) == "3.0 GB"

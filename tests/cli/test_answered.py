"""What was answered asks no more, in `overnight` and `advice` alike; what was done still belongs in the logbook."""

import json

from cli_samples import DAWN, advisory
from msgspec.structs import replace

from hivemon.model import DAY, HOUR, Entry, LogEntry, Urgency

SUPER = replace(
    advisory("o2", title="Put one empty super on hive Blue hive by Saturday 13 June"),
    id="super:orchard:o2:flow:1@20260612T014000Z",
)


def test_what_is_done_or_wrong_is_not_counted_and_stands_marked_below(hivemon, store) -> None:
    other = replace(advisory("o1", title="Hive o1 may have swarmed"), id="swarm:orchard:o1:x@20260612T014000Z")
    store.put_advisories([SUPER, other])
    assert "2 hives need you" in hivemon("overnight").out
    hivemon("answer", "super:orchard:o2", "done")
    shown = hivemon("overnight").out
    assert "1 hive needs you" in shown
    assert f"Done, you said: {SUPER.title}" in shown.splitlines()
    hivemon("answer", "swarm:orchard:o1", "wrong")
    shown = hivemon("overnight").out
    assert shown.splitlines()[-1] == "Nothing else needs you today."
    assert [hive["urgency"] for hive in json.loads(hivemon("overnight", "--json").out)[0]["hives"]] == [None, None]
    advice = hivemon("advice").out.splitlines()
    assert advice == [f"Done, you said: {SUPER.title}", f"Wrong, you said: {other.title}", "Nothing else needs you."]
    assert {a["id"]: a["answer"] for a in json.loads(hivemon("advice", "--json").out)} == {
        SUPER.id: "done",
        other.id: "wrong",
    }


def test_what_was_seen_asks_no_more_until_it_asks_for_something_else(hivemon, store) -> None:
    store.put_advisories([SUPER])
    hivemon("answer", "super:orchard:o2", "seen")
    assert f"Seen, and still to be done: {SUPER.title}" in hivemon("overnight").out
    assert "Do by" not in hivemon("advice").out
    store.put_advisories([replace(SUPER, urgency=Urgency.NOW, title="Put one empty super on Blue hive now")])
    assert "1 hive needs you" in hivemon("overnight").out
    assert "Do by" in hivemon("advice").out


def test_a_day_that_is_past_is_no_order_in_the_table_either(hivemon, store) -> None:
    due = replace(advisory(None, title="Orchard: count the mites by Wednesday 10 June"), do_by=DAWN - 2 * DAY)
    store.put_advisories([due])
    assert "count the mites as soon as you can (it was due on Wednesday 10 June)" in hivemon("overnight").out


def test_what_is_done_is_asked_for_in_the_logbook_unless_it_stands_there(hivemon, store) -> None:
    store.put_advisories([SUPER])
    assert "`hivemon log add o2 super-on`" in hivemon("answer", "super:orchard:o2", "done").out
    store.add_entry("orchard", LogEntry(time=DAWN, hive="o1", entry=Entry.SUPER_ON))
    assert "log add o2 super-on" in hivemon("answer", "super:orchard:o2", "done").out, "that was another hive"
    store.add_entry("orchard", LogEntry(time=DAWN - 2 * HOUR, hive="o2", entry=Entry.SUPER_ON))
    assert "log add o2 super-on" in hivemon("answer", "super:orchard:o2", "done").out, "that was the one before"
    store.add_entry("orchard", LogEntry(time=DAWN, hive="o2", entry=Entry.SUPER_ON))
    assert "log add" not in hivemon("answer", "super:orchard:o2", "done").out
    assert "log add" not in hivemon("answer", "super:orchard:o2", "seen").out

"""`note`, `answer`, `channels` and what health says of them, as a person would run them."""

import json
from pathlib import Path

import msgspec
import pytest
from cli_samples import DAWN, advisory

from hivemon.cli.wellness import channel_finding
from hivemon.config_notify import NotifySettings
from hivemon.model import DAY, HOUR, MINUTE, Urgency
from hivemon.notify.state import ChannelState, keep_state
from hivemon.recordings import PLAYED
from hivemon.store import Answer, Message, Sort, Waiting

CHANNELS = '[[channel]]\nname = "diary"\nkind = "file"\npath = "diary.txt"\n'
AT = "2026-06-12 06:30"


def with_channels(config: Path, text: str = CHANNELS) -> Path:
    config.write_text(config.read_text() + text)
    return config.parent / "diary.txt"


def test_the_note_says_what_needs_you_and_who_is_fine(hivemon, store) -> None:
    store.put_advisories([advisory(title="o1 needs its next super")])
    answer = hivemon("note", "--at", AT)
    assert (answer.code, answer.err) == (0, "")
    assert answer.out == (
        "Orchard, Friday 12 June: one thing needs you\n\nWhat needs you:\n"
        "- o1 needs its next super. Put an empty super on top. See to it by Saturday 13 June.\n\nFine: Blue hive.\n"
    )


def test_the_note_leaves_out_what_is_done(hivemon, store) -> None:
    store.put_advisories([advisory(title="o1 needs its next super")])
    assert hivemon("answer", "a-o1", "done").code == 0
    assert "nothing needs you today" in hivemon("note", "--at", AT).out


def test_the_note_as_json(hivemon, store) -> None:
    store.put_advisories([advisory()])
    (found,) = json.loads(hivemon("note", "--at", AT, "--json").out)
    assert (found["yard"], found["advisories"]) == ("orchard", [advisory().id])


def test_the_note_of_today_does_not_call_old_silence_fine(hivemon, store) -> None:
    """The store's newest readings are of one June; whenever this runs, that is not now."""
    store.put_advisories([])
    said = hivemon("note").out
    assert "No readings from any hive since Friday 12 June" in said
    assert "Fine" not in said


def test_an_answer_is_kept_with_its_remark(hivemon, store) -> None:
    first, other = advisory(title="First"), advisory("o2", title="Second")
    store.put_advisories([first, other])
    assert hivemon("answer", first.id, "seen").out == "seen: First\n"
    assert hivemon("answer", "a-o2", "WRONG", "--note", "it was the cat").out == "wrong: Second\n"
    found = store.answers()
    assert (found[first.id].answer, found[other.id].answer) == (Answer.SEEN, Answer.WRONG)
    assert (found[other.id].remark, found[other.id].advisory) == ("it was the cat", other)


def test_a_part_of_an_id_means_the_one_that_stands(hivemon, store) -> None:
    over = msgspec.structs.replace(advisory(title="Old"), closed=DAWN)
    store.put_advisories([over, advisory(title="New")])
    assert hivemon("answer", "a-o1", "done").out == "done: New\n"
    assert hivemon("answer", over.id, "wrong").out == "wrong: Old\n", "one that is over can be wrong too"


NAMES = {
    "super:orchard:o1:flow/2026-06-01T03:25Z:2@20260612T000000Z": "super:orchard:o1",
    "super:orchard:o10:flow/2026-06-01T03:25Z:0@20260612T000000Z": "super:orchard:o10",
    "count-mites:orchard:@20260612T000000Z": "count-mites:orchard",
    "step:orchard:o1:step/2026-06-11@20260612T000000Z": "step:orchard:o1:step/2026-06-11",
    "step:orchard:o1:step/2026-06-12@20260612T000000Z": "step:orchard:o1:step/2026-06-12",
}


def test_what_stands_is_shown_and_answered_by_a_short_name(hivemon, store) -> None:
    """The whole id is a contract and long; topic, yard and hive say it mostly, and o1 is no part of o10 then."""
    store.put_advisories([msgspec.structs.replace(advisory(title=short), id=id_) for id_, short in NAMES.items()])
    shown = hivemon("answer").out.splitlines()
    assert set(shown[:-2:2]) == set(NAMES.values())
    assert shown[-1].endswith("hivemon answer count-mites:orchard done")
    assert "`hivemon answer count-mites:orchard done`" in hivemon("advice").out
    for id_, short in NAMES.items():
        assert hivemon("answer", short, "done").out.splitlines()[0] == f"done: {short}"
        assert id_ in store.answers()


def test_the_note_and_table_of_a_demo_are_of_the_seasons_last_morning(hivemon, store) -> None:
    store.put_note(PLAYED, "orchard-swarm")
    said = hivemon("note").out
    assert said.startswith("Orchard, Friday 12 June: ")
    assert "No readings" not in said
    last = "This is the last morning of orchard-swarm, an invented season."
    assert last in said
    assert last in hivemon("overnight").out
    assert last not in hivemon("note", "--at", "2026-06-12 06:00").out


@pytest.mark.parametrize(
    ("arguments", "said", "hint"),
    [
        (("a-o", "done"), "'a-o' may mean 2 of them", "write more of the one you mean"),
        (("nothing-like-it", "done"), "there is no advisory 'nothing-like-it'", "lists what stands"),
        (("a-o1", "dune"), "'dune' is no answer", "did you mean done?"),
        (("a-o1",), "an answer is missing", "write seen, done or wrong after the id"),
    ],
)
def test_an_answer_that_cannot_be_is_refused_with_what_to_do(hivemon, store, arguments, said, hint) -> None:
    store.put_advisories([advisory(), advisory("o2")])
    answer = hivemon("answer", *arguments)
    assert answer.code == 2
    assert said in answer.err
    assert hint in answer.err
    assert store.answers() == {}


def test_alone_it_lists_what_stands_with_ids(hivemon, store) -> None:
    assert hivemon("answer").out == "Nothing stands: nothing to answer.\n"
    store.put_advisories([advisory(), advisory("o2", urgency=Urgency.NOW, title="Robbing")])
    hivemon("answer", "a-o2", "seen")
    lines = hivemon("answer").out.splitlines()
    assert lines[:2] == ["a-o2-now-Robbing (seen)", "    Robbing"]
    found = json.loads(hivemon("answer", "--json").out)
    assert [(line["id"], line["answer"]) for line in found] == [("a-o2-now-Robbing", "seen"), (advisory().id, None)]


def test_the_table_counts_how_often_the_program_was_right(hivemon, store) -> None:
    ids = [f"swarm:orchard:o1:{n}@20260612T000000Z" for n in range(4)] + ["feed:orchard:o2@20260612T000000Z"]
    store.put_advisories([msgspec.structs.replace(advisory(), id=one) for one in ids])
    for one, word in zip(ids, ("done", "wrong", "seen"), strict=False):
        hivemon("answer", one, word)
    hivemon("answer", ids[0], "wrong")
    assert hivemon("answer", "--table").out.splitlines() == [
        "Advice  given  seen  done  wrong  no answer",
        "feed        1     0     0      0          1",
        "swarm       4     1     0      2          1",
    ]
    swarm = json.loads(hivemon("answer", "--table", "--json").out)[1]
    assert swarm == {"topic": "swarm", "given": 4, "seen": 1, "done": 0, "wrong": 2, "unanswered": 1}


def test_a_test_message_goes_out_over_every_channel(hivemon, config) -> None:
    diary = with_channels(config)
    answer = hivemon("channels", "--test")
    assert (answer.code, answer.out) == (0, "diary: it took the test message\n")
    assert "This is a test of the channel diary" in diary.read_text()


def test_a_test_that_fails_says_why_and_exits_with_6(hivemon, config) -> None:
    with_channels(config, CHANNELS.replace("diary.txt", "no-such-folder/diary.txt"))
    answer = hivemon("channels", "--test")
    assert answer.code == 6
    assert "No such file or directory" in answer.out
    assert "1 of 1 channels failed" in answer.err


def test_channels_that_are_not_there_are_named(hivemon, config) -> None:
    assert hivemon("channels").out.startswith("No channel is configured")
    assert hivemon("channels", "--test").code == 2
    with_channels(config)
    answer = hivemon("channels", "--channel", "mail")
    assert answer.code == 2
    assert "known channels: diary" in answer.err


def test_how_channels_fare(hivemon, config, store) -> None:
    with_channels(config)
    assert hivemon("channels").out == "messages over diary: none sent yet\n"
    failing = ChannelState(failures=9, since=DAWN, detail="the disk is full", next=DAWN)
    keep_state(store, "diary", failing)
    store.queue_message(Message(created=DAWN, yard="orchard", sort=Sort.NOTE, title="t", text="t"), ["diary"])
    said = hivemon("channels").out
    assert said.startswith("messages over diary: it has not worked for ")
    assert said.endswith(": the disk is full; messages that wait: 1\n")
    assert json.loads(hivemon("channels", "--json").out) == [
        {"name": "diary", "kind": "file", "works": False, "waiting": 1},
    ]
    health = hivemon("health", "--quick")
    assert health.code == 7
    assert "LOOK  messages over diary: it has not worked" in health.out


@pytest.mark.parametrize(
    ("state", "waiting", "well", "said"),
    [
        (ChannelState(), None, True, "messages over mail: none sent yet"),
        (ChannelState(last_sent=DAWN - 3 * HOUR), None, True, "messages over mail: the last 3 hours ago"),
        (ChannelState(since=DAWN - 50 * MINUTE, detail="it hung up"), Waiting(2, DAWN), True,
         "messages over mail: it has not worked for 50 minutes: it hung up; messages that wait: 2"),
        (ChannelState(since=DAWN - 3 * DAY, detail="it hung up"), None, False,
         "messages over mail: it has not worked for 3 days: it hung up"),
    ],
)  # fmt: skip
def test_a_channel_is_worth_a_look_after_an_hour(state, waiting, well, said) -> None:
    found = channel_finding("mail", state, waiting, NotifySettings(), DAWN)
    assert (found.well, found.what) == (well, said)

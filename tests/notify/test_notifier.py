"""Turns of telling people, driven by hand: a store on the disk, a clock of our own, channels that fail when told to."""

import logging

import msgspec
import pytest
from notify_samples import NIGHT, NOON, YARD, ZONE, BookChannel, Telling, advisory, at, settings

from hivemon.config_notify import NotifySettings
from hivemon.model import DAY, HOUR, MINUTE, SECOND, Event, Kind, Quantity, Reading, Urgency
from hivemon.notify.decide import _AT_ONCE, _NOTHING, WAITING, Reason
from hivemon.notify.delivery import Delivery
from hivemon.notify.notifier import Notifier
from hivemon.notify.state import HANGS, NOTE, RETRY, ChannelState, keep_state
from hivemon.notify.trouble import channel_trouble
from hivemon.store import Answer, Sort, Store

NOW, TODAY, WEEK, NEWS = Urgency
MORNING = at("2026-06-06 06:30")


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "hivemon.db") as opened:
        yield opened


class Post:
    """People are told over two channels, and time passes."""

    def __init__(self, folder, store, **more) -> None:
        self.mail, self.file = BookChannel(), BookChannel()
        self.store = store
        self.settings = settings(folder, **more)
        self.start()

    def start(self) -> None:
        """Begin anew, as after a restart: nothing is remembered but what the store has."""
        self.telling = Telling(self.settings, self.store, {"mail": self.mail, "file": self.file})

    def turns(self, start: int, end: int, step: int = 15 * MINUTE) -> None:
        for now in range(start, end, step):
            self.telling.turn(now)


@pytest.fixture
def post(tmp_path, store):
    return Post(tmp_path, store)


def test_an_alarm_goes_out_once_on_every_channel_and_is_taken_back_once(post, store) -> None:
    alarm = advisory(NOW, NIGHT, title="Lime has swarmed")
    store.put_advisories([alarm])
    post.turns(NIGHT, NIGHT + HOUR)
    back = "The bees of Lime are back: it was no swarm"
    store.put_advisories([msgspec.structs.replace(alarm, closed=NIGHT + HOUR, updated=NIGHT + HOUR, title=back)])
    post.turns(NIGHT + HOUR, NIGHT + 3 * DAY)
    own = [[title for title in channel.titles if "Lime" in title] for channel in (post.mail, post.file)]
    assert own == [["Orchard, now: Lime has swarmed", f"Orchard: {back}"]] * 2
    first, *_, over = (m for m in post.mail.taken if m.sort is Sort.ADVICE)
    assert (first.urgent, first.reason, over.urgent, over.reason) == (True, "urgent", False, "taken-back")
    assert at("2026-06-07 06:30") <= over.created < at("2026-06-07 06:45"), "not in quiet hours"
    assert "hivemon answer feed:orchard:o1 seen" in first.text
    assert "hivemon answer" not in over.text


def test_an_alarm_that_no_longer_follows_is_taken_back_and_one_that_ran_out_ends_quietly(post, store) -> None:
    """Late readings may refute an event; the advisory is then closed in the words it had."""
    event = Event(id="e", kind=Kind.SWARM, yard="orchard", hive="o1", onset=NOON, onset_first=NOON, raised=NOON,
                  confidence=0.8, reason="r", summary="s")  # fmt: skip
    alarms = [advisory(NOW, NOON, id=n, title=f"A swarm left {n}", events=[n]) for n in ("e", "f")]
    store.put_events([event, msgspec.structs.replace(event, id="f")])
    store.put_advisories(alarms)
    post.telling.turn(NOON)
    later = NOON + HOUR
    store.put_events([msgspec.structs.replace(event, withdrawn=later, withdrawn_because="late readings")])
    store.put_advisories(msgspec.structs.replace(a, closed=later) for a in alarms)
    post.turns(later, later + 2 * HOUR)
    assert post.mail.titles[2:] == ["Orchard, taken back: A swarm left e"]
    assert post.mail.taken[2].text.startswith("This no longer follows from the readings.")


def test_what_arises_at_night_is_in_the_morning_note_and_has_no_message_of_its_own(post, store) -> None:
    store.put_advisories([advisory(TODAY, at("2026-06-05 23:00"))])
    post.turns(at("2026-06-05 23:00"), at("2026-06-06 20:00"))
    (note,) = post.mail.taken
    assert (note.sort, note.created, note.date) == (Sort.NOTE, MORNING, "2026-06-06")
    assert "Lime is short of food: feed it today." in note.text
    assert note.advisories == [advisory().id]


def test_things_for_today_that_arise_together_are_one_message_and_alarms_are_not(post, store) -> None:
    store.put_advisories([
        advisory(TODAY, NOON, id="a", title="Lime needs its next super"),
        advisory(TODAY, NOON, id="b", title="Ash needs its next super"),
        advisory(NOW, NOON, id="c", title="A swarm left Lime"),
        advisory(NOW, NOON, id="d", title="A swarm left Ash"),
    ])  # fmt: skip
    post.turns(NOON, NOON + HOUR)
    assert post.mail.titles == [
        "Orchard, now: A swarm left Lime", "Orchard, now: A swarm left Ash", "Orchard, today: two things for you",
    ]  # fmt: skip
    together = post.mail.taken[-1]
    assert together.advisories == ["a", "b"]
    assert together.text.startswith("Lime needs its next super\n-------------------------\nLime holds")
    assert "\n\n\nAsh needs its next super\n------------------------\n" in together.text


def test_an_alarm_in_the_minute_of_the_note_has_its_own_message_all_the_same(post, store) -> None:
    store.put_advisories([advisory(NOW, MORNING)])
    post.telling.turn(MORNING)
    assert [m.sort for m in post.mail.taken] == [Sort.ADVICE, Sort.NOTE], "and the urgent goes first"
    assert all("Lime is short of food" in m.title + m.text for m in post.mail.taken)


def test_a_note_a_day_even_when_nothing_needs_you(post, store) -> None:
    store.add_readings([Reading(MORNING - HOUR + n * DAY, "orchard", hive, Quantity.WEIGHT, 40.0)
                        for n in range(3) for hive in ("o1", "o2")])  # fmt: skip
    post.turns(at("2026-06-06 00:00"), at("2026-06-09 00:00"))
    assert [(m.date, m.created) for m in post.mail.taken] == [
        (f"2026-06-0{6 + n}", MORNING + n * DAY) for n in range(3)
    ]
    assert all("nothing needs you today" in title for title in post.mail.titles)


def test_a_restart_forgets_nothing_and_repeats_nothing(post, store) -> None:
    store.put_advisories([advisory(NOW, MORNING - HOUR), advisory(TODAY, MORNING, id="other", title="Ash is light")])
    for now in range(MORNING - HOUR, MORNING + DAY, 10 * MINUTE):
        post.start()
        post.telling.turn(now)
    assert [m.sort for m in post.mail.taken] == [Sort.ADVICE, Sort.NOTE]


def test_on_holiday_only_alarms_go_out_and_all_that_stands_is_in_the_note_of_the_return(tmp_path, store) -> None:
    post = Post(tmp_path, store, notify=NotifySettings(away=["2026-06-01/2026-06-06"]))
    store.put_advisories([advisory(TODAY, NOON), advisory(NOW, NOON, id="alarm", title="Ash is being robbed")])
    post.turns(at("2026-06-06 00:00"), at("2026-06-08 00:00"))
    assert [(m.sort, m.date) for m in post.mail.taken] == [(Sort.ADVICE, ""), (Sort.NOTE, "2026-06-07")]
    assert post.mail.titles[0] == "Orchard, now: Ash is being robbed"
    assert "Lime is short of food" in post.mail.taken[1].text


def test_an_answer_silences_and_a_more_urgent_version_speaks_again(post, store) -> None:
    feed = advisory(TODAY, NIGHT)
    store.put_advisories([feed])
    store.add_answer(feed, Answer.DONE, NIGHT)
    post.turns(NIGHT, NIGHT + DAY)
    assert [m.sort for m in post.mail.taken] == [Sort.NOTE]
    assert "Lime" not in post.mail.taken[0].text.partition("\n\n")[0]
    worse = NIGHT + DAY
    store.put_advisories([msgspec.structs.replace(feed, urgency=NOW, updated=worse, title="Lime is starving")])
    post.turns(worse, worse + HOUR)
    assert post.mail.titles[-1] == "Orchard, now: Lime is starving"


def test_a_week_of_a_failing_channel_loses_nothing_and_holds_up_no_other(post, store) -> None:
    """Seven notes and an alarm a day; the mail comes back on the eighth day and gets them all, alarms first."""
    post.mail.fault = "nothing listens there"
    start = at("2026-06-06 00:00")
    for day in range(7):
        when = start + day * DAY + 12 * HOUR
        post.turns(start + day * DAY, when, 5 * MINUTE)
        store.put_advisories([advisory(NOW, when, id=f"alarm{day}", title=f"Alarm {day}")])
        post.turns(when, start + (day + 1) * DAY, 5 * MINUTE)
    assert post.mail.taken == []
    own = [m for m in post.file.taken if m.sort is not Sort.TROUBLE]
    assert len(own) == 14
    assert post.mail.tries < 2 * 7 * DAY / RETRY.longest + 20, "two messages every ten minutes: it is not hammered"
    post.mail.fault = None
    back = start + 7 * DAY + HOUR
    post.start()
    post.telling.turn(back)
    assert sorted(m.title for m in post.mail.taken) == sorted(m.title for m in own)
    assert [m.urgent for m in post.mail.taken] == [True] * 7 + [False] * 7
    assert store.messages_waiting() == {}


def test_a_channel_that_keeps_failing_is_an_advisory_on_the_others_once(post, store) -> None:
    post.mail.fault = "nothing listens there"
    store.put_advisories([advisory(NOW, NOON)])
    post.turns(NOON, NOON + 8 * HOUR, MINUTE)
    troubles = [m for m in post.file.taken if m.sort is Sort.TROUBLE]
    assert [m.title for m in troubles] == ["hivemon, today: The channel mail does not work"]
    assert troubles[0].text.startswith(
        "Mail has not worked since Saturday 6 June, 12:00: nothing listens there.\nOne message waits for it.",
    )
    assert NOON + HOUR <= troubles[0].created < NOON + HOUR + 2 * MINUTE
    post.mail.fault = None
    post.turns(NOON + 8 * HOUR, NOON + 9 * HOUR)
    assert {m.sort for m in post.mail.taken} == {Sort.ADVICE}, "it does not hear of its own trouble"
    post.mail.fault = "it hung up"
    store.put_advisories([advisory(NOW, NOON + DAY, id="next")])
    post.turns(NOON + DAY, NOON + DAY + 2 * HOUR, MINUTE)
    assert len([m for m in post.file.taken if m.sort is Sort.TROUBLE]) == 2, "another row of failures, another advisory"


def test_two_channels_that_fail_wait_for_a_third_and_say_nothing_into_the_void(post, store) -> None:
    post.mail.fault = post.file.fault = "nothing listens there"
    store.put_advisories([advisory(NOW, NOON)])
    post.turns(NOON, NOON + 3 * HOUR, MINUTE)
    assert {m.sort for m in store.messages()} == {Sort.ADVICE}


def test_a_message_that_a_channel_will_not_take_does_not_stop_the_others(post, store) -> None:
    """One message may be the trouble itself: after ten tries the next one is tried too, and then the rest go out."""
    real = post.mail.send
    post.mail.send = lambda message: "it refuses" if "Poison" in message.title else real(message)
    store.put_advisories([advisory(NOW, NOON, id="p", title="Poison"), advisory(NOW, NOON, id="q", title="Good")])
    post.turns(NOON, NOON + 3 * HOUR, MINUTE)
    assert post.mail.titles == ["Orchard, now: Good"]
    assert store.messages_waiting()["mail"].messages == 1
    store.put_advisories([advisory(NOW, NOON + 3 * HOUR, id="r", title="Later")])
    post.turns(NOON + 3 * HOUR, NOON + 4 * HOUR, MINUTE)
    assert post.mail.titles == ["Orchard, now: Good", "Orchard, now: Later"]


def test_a_change_of_state_is_logged_once(post, store, caplog) -> None:
    caplog.set_level(logging.INFO)
    post.mail.fault = "nothing listens there"
    store.put_advisories([advisory(NOW, NOON)])
    post.turns(NOON, NOON + HOUR, MINUTE)
    post.mail.fault = None
    post.turns(NOON + HOUR, NOON + 2 * HOUR, MINUTE)
    said = [record.getMessage() for record in caplog.records if "channel mail" in record.getMessage()]
    assert said[0] == "the channel mail does not work: nothing listens there; messages are kept and sent later"
    assert said[1].startswith("the channel mail works again after ")
    assert len(said) == 2


def test_why_something_waits_is_logged_once(post, store, caplog) -> None:
    caplog.set_level(logging.INFO)
    store.put_advisories([advisory(TODAY, NIGHT), advisory(WEEK, NIGHT, id="week")])
    post.turns(NIGHT, NIGHT + 2 * HOUR, MINUTE)
    held = [record.getMessage() for record in caplog.records if " waits: " in record.getMessage()]
    assert held == [f'"{advisory().title}" (o1) waits: these are quiet hours, and it is for today, not for now']


def test_how_channels_fare_is_left_for_other_processes(post, store) -> None:
    post.mail.fault = "it hung up"
    store.put_advisories([advisory(NOW, NOON)])
    post.turns(NOON, NOON + MINUTE)
    states = NOTE.read(store)
    assert states["mail"] == ChannelState(failures=1, since=NOON, detail="it hung up", next=NOON + 5 * SECOND)
    assert states["file"] == ChannelState(last_sent=NOON)
    assert NOTE.read_as(None) is NOTE.read_as("nonsense") is None


def test_stopping_is_asked_between_messages(post, store) -> None:
    store.put_advisories([advisory(NOW, NOON, id=f"a{n}") for n in range(5)])
    post.telling.turn(NOON, lambda: len(post.mail.taken) >= 2)
    assert len(post.mail.taken) == 2
    post.turns(NOON + 1, NOON + 2, 1)
    assert len(post.mail.taken) == 5


@pytest.mark.parametrize(
    ("failures", "since", "there"),
    [(0, None, False), (9, NOON - HOUR + 1, False), (2, NOON - HOUR, False), (3, NOON - HOUR, True)],
)
def test_a_channel_is_said_to_fail_after_an_hour_and_three_tries(failures, since, there) -> None:
    state = ChannelState(failures=failures, since=since, detail="it hung up")
    found = channel_trouble("mail", state, 2, NOON, NotifySettings(), ZONE)
    assert (found is not None) == there
    assert YARD.zone == ZONE


def test_a_try_that_hangs_is_told_on_the_others_as_a_failing_one_is(tmp_path, store) -> None:
    """A server that sends a byte a minute never fails, and yet nobody gets the mail."""
    diary = BookChannel()
    deciding = Notifier(settings(tmp_path), store, ["mail", "file"])
    keep_state(store, "mail", ChannelState(trying=NOON))
    for now in range(NOON, NOON + 3 * HOUR, MINUTE):
        deciding.turn(now)
        Delivery(store, "file", diary, lambda now=now: now).turn()
    (trouble,) = [m for m in diary.taken if m.sort is Sort.TROUBLE]
    assert trouble.created == NOON + HOUR
    assert "it does not finish taking a message" in trouble.text
    assert NOTE.read(store)["mail"].seen_at(NOON + HANGS - 1) == ChannelState(trying=NOON)


def test_a_try_that_the_end_of_the_last_run_cut_short_hangs_no_more(tmp_path, store) -> None:
    for name in ("mail", "gone"):
        keep_state(store, name, ChannelState(trying=NOON - DAY))
    Notifier(settings(tmp_path), store, ["mail", "file"]).turn(NOON)
    assert NOTE.read(store) == {"mail": ChannelState()}


def test_each_yard_is_told_in_its_own_language(tmp_path, store) -> None:
    """The note's own words; an advisory's were said in the yard's language when it was raised."""
    dutch = msgspec.structs.replace(YARD, id="heide", name="Heide", language="nl")
    post = Post(tmp_path, store)
    post.settings = msgspec.structs.replace(post.settings, yard=[YARD, dutch])
    post.start()
    post.telling.turn(MORNING)
    english, other = post.mail.titles
    assert english.startswith("Orchard, Saturday 6 June: ")
    assert other.startswith("Heide, zaterdag 6 juni: ")


def test_every_reason_to_wait_has_its_words_in_the_log() -> None:
    """All but what waits for the note anyhow, which is not logged."""
    assert set(WAITING) == set(Reason) - _AT_ONCE - _NOTHING - {Reason.CAN_WAIT}

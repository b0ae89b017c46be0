"""The morning note: what is in it and what is not, whole notes word for word, and half a minute's reading."""

from datetime import date, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from notify_samples import ASH, LIME, PLAIN, YARD, advisory, at

from hivemon.config import HiveSettings, UnitSettings
from hivemon.config_notify import Absence
from hivemon.model import DAY, HOUR, Event, HiveDay, Kind, Urgency
from hivemon.morning import in_reading_order
from hivemon.notify.note import MOST_WORDS, Note, NoteView, morning_note, typical_rate, words_in

NOW, TODAY, WEEK, NEWS = Urgency
MORNING = at("2026-06-06 06:30")
HIVES = (LIME, ASH, PLAIN)
HEARD = {hive.id: MORNING - HOUR for hive in HIVES}

FEED = advisory(TODAY, MORNING - 9 * HOUR, do_by=at("2026-06-06 20:00"))
SUPER = advisory(
    WEEK, MORNING - DAY, id="super", hive="o2", title="Ash needs its next super by Tuesday 9 June",
    do=["Put an empty super on by Tuesday 9 June."], do_by=at("2026-06-09 20:00"),
)  # fmt: skip
FLOW = advisory(
    NEWS, MORNING - DAY, id="flow", hive=None, title="Nectar is coming in at Orchard", do=["Have empty supers ready."],
    events=["flow"],
)  # fmt: skip


def view(*advisories, **more) -> NoteView:
    fields = {"yard": YARD, "hives": HIVES, "now": MORNING, "advisories": advisories, "events": (), "days": (),
              "heard": HEARD, "units": UnitSettings()}  # fmt: skip
    return NoteView(**{**fields, **more})


def event(kind: Kind, back: int = 5, **more) -> Event:
    when = MORNING - back * DAY
    fields = {"id": kind.value, "kind": kind, "yard": "orchard", "hive": None, "onset": when, "onset_first": when,
              "raised": when, "confidence": 0.8, "reason": "r", "summary": "s"}  # fmt: skip
    return Event(**{**fields, **more})


def days(hive: str, *gains: float | None) -> list[HiveDay]:
    """Return hive days with these net gains, the last one begun yesterday."""
    found = []
    for back, gain in enumerate(reversed(gains), start=1):
        start = MORNING - back * DAY
        day = (date(2026, 6, 6) - timedelta(days=back)).isoformat()
        found.append(
            HiveDay(yard="orchard", hive=hive, date=day, start=start, dusk=start, end=start + DAY, net_gain=gain)
        )
    return found


def test_nothing_needs_you() -> None:
    assert morning_note(view()) == Note(
        "Orchard, Saturday 6 June: nothing needs you today",
        "Nothing needs you today. Leave the bees alone, and enjoy them.\n\nAll three hives are fine.",
        [],
    )


def test_a_whole_note_word_for_word() -> None:
    """What needs you, what to expect this week, who is fine, and nothing else."""
    note = morning_note(view(SUPER, FLOW, FEED))
    assert note.title == "Orchard, Saturday 6 June: one thing needs you"
    assert note.text == (
        "What needs you:\n"
        "- Lime is short of food: feed it today. Give 2 kg of sugar in 2 litres of water this evening.\n"
        "\n"
        "This week:\n"
        "- Ash needs its next super by Tuesday 9 June.\n"
        "- Nectar is coming in at Orchard.\n"
        "\n"
        "Fine: hive o3."
    )
    assert note.told == [FEED, SUPER, FLOW]


def test_a_calm_day_with_something_to_expect_says_both() -> None:
    note = morning_note(view(SUPER))
    assert note.title.endswith("nothing needs you today")
    assert note.text.startswith("Nothing needs you today.\n\nThis week:\n- Ash")
    assert note.text.endswith("Fine: Lime and hive o3.")


def test_what_runs_out_today_needs_you_today() -> None:
    tonight = advisory(WEEK, MORNING - DAY, hive="o2", title="Ash: look for eggs", do_by=at("2026-06-06 20:00"))
    overdue = advisory(WEEK, MORNING - DAY, hive="o3", title="Look into hive o3", do_by=at("2026-06-03 20:00"), do=[])
    tomorrow = advisory(WEEK, MORNING - DAY, hive="o1", title="Lime: weigh it", do_by=at("2026-06-07 20:00"))
    late = advisory(
        WEEK, MORNING, hive="o3", title="Hive o3: look by Friday 5 June", do=[], do_by=at("2026-06-05 20:00")
    )
    assert "- Hive o3: look as soon as you can (it was due on Friday 5 June).\n" in morning_note(view(late)).text
    note = morning_note(view(tonight, overdue, tomorrow))
    assert note.title.endswith("two things need you")
    needs, week, *_ = note.text.split("\n\n")
    assert "Ash: look for eggs" in needs
    assert "- Look into hive o3. It was due on Wednesday 3 June." in needs
    assert week == "This week:\n- Lime: weigh it. See to it by Sunday 7 June."


def test_what_is_overdue_for_days_is_said_shortly() -> None:
    """Three mornings with its first step, then its title alone."""
    for date_, step in (("06-03", True), ("06-02", False)):
        late = advisory(WEEK, MORNING - 9 * DAY, title="Lime: look for eggs", do_by=at(f"2026-{date_} 20:00"))
        text = morning_note(view(late)).text
        assert ("Give 2 kg" in text) == step
        assert "It was due on" in text


def test_the_most_urgent_comes_first() -> None:
    alarm = advisory(NOW, MORNING, id="alarm", hive="o2", title="Ash is being robbed")
    assert morning_note(view(FEED, alarm)).told == [alarm, FEED]


def test_news_is_in_two_notes_and_then_no_more() -> None:
    for back, there in ((0, True), (1, True), (2, True), (3, False)):
        note = morning_note(view(advisory(NEWS, MORNING - back * DAY, hive="o1", title="A swarm left Lime")))
        assert ("A swarm left Lime" in note.text) == there
        assert bool(note.told) == there
        assert "All three hives are fine" in note.text, "news is no call"


def test_old_news_comes_back_in_the_week_of_its_day() -> None:
    """A swarm's calendar was told three weeks ago; its next day is on Tuesday."""
    for date_, there in (("06-09", True), ("06-20", False), ("06-03", False)):
        old = advisory(NEWS, MORNING - 20 * DAY, title="Lime: look for eggs", do_by=at(f"2026-{date_} 20:00"))
        assert ("Lime: look for eggs" in morning_note(view(old)).text) == there


def test_a_hive_that_has_not_been_heard_of_is_not_called_fine() -> None:
    note = morning_note(view(heard={**HEARD, "o2": at("2026-06-04 18:05")}))
    assert note.title.endswith("one thing needs you")
    assert "No readings from Ash since Thursday 4 June, 18:05. I cannot tell how it is doing." in note.text
    assert note.text.endswith("Fine: Lime and hive o3.")


def test_what_has_waited_for_half_a_year_carries_its_year() -> None:
    """A node was put away in autumn, a date stood since: "Overdue" since which May?"""
    due = at("2025-11-19 20:00")
    late = advisory(TODAY, MORNING - 205 * DAY, title="Lime: count by Wednesday 19 November", do_by=due)
    note = morning_note(view(late, heard={**HEARD, "o2": at("2025-11-19 18:05")}))
    assert "Lime: count as soon as you can (it was due on Wednesday 19 November 2025)." in note.text
    assert "No readings from Ash since Wednesday 19 November 2025, 18:05." in note.text


def test_what_falls_into_a_holiday_is_told_before_it() -> None:
    """The super of Tuesday 9 June: away from Monday to Thursday, told so on Saturday; on Sunday it needs you."""
    away = [Absence(date(2026, 6, 8), date(2026, 6, 11))]
    said = "You are away from Monday 8 June: see to it before, or ask someone near."
    saturday, sunday = (morning_note(view(SUPER, now=MORNING + days * DAY, away=away)) for days in (0, 1))
    assert f"This week:\n- Ash needs its next super by Tuesday 9 June. {said}" in saturday.text
    assert sunday.title.endswith("one thing needs you")
    assert said in sunday.text
    assert "away" not in morning_note(view(SUPER, away=[Absence(date(2026, 6, 10), date(2026, 6, 11))])).text
    assert "away" not in morning_note(view(SUPER, now=MORNING + 2 * DAY, away=away)).text, "it has begun"


def test_silence_of_the_whole_yard_is_never_good_news() -> None:
    """The broker is down, say: no sensor fault can follow from readings that do not come."""
    since = at("2026-06-01 12:00")
    note = morning_note(view(heard=dict.fromkeys(HEARD, since)))
    assert "No readings from any hive since Monday 1 June, 12:00. I cannot tell how they are doing." in note.text
    assert "ine" not in note.text.replace("machine", "")
    assert "Nothing needs you" not in note.text
    assert "No readings from any hive yet" in morning_note(view(heard={})).text


def test_a_hive_whose_silence_is_an_advisory_already_is_said_once() -> None:
    quiet = advisory(WEEK, MORNING - DAY, hive="o2", title="The scale of Ash is silent")
    note = morning_note(view(quiet, heard={**HEARD, "o2": MORNING - 3 * DAY}))
    assert note.text.count("Ash") == 1
    assert "No readings" not in note.text


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ([], ""),
        ([event(Kind.FLOW_ONSET)], "Nectar is coming in: about 1.2 kg a day in a typical hive."),
        ([event(Kind.FLOW_ONSET), event(Kind.FLOW_END, 1)], ""),
        ([event(Kind.FLOW_END, 9), event(Kind.DEARTH_ONSET)], "No nectar is coming in. Leave the hives closed"),
        ([event(Kind.DEARTH_ONSET), event(Kind.DEARTH_END, 1)], ""),
        ([event(Kind.DEARTH_ONSET, withdrawn=MORNING)], ""),
        ([event(Kind.SWARM, hive="o1")], ""),
    ],
)  # fmt: skip
def test_the_state_of_the_forage_is_said(events: list[Event], said: str) -> None:
    gains = [*days("o1", 1.0, 1.2, 1.4), *days("o2", 0.2, 0.2, 0.2), *days("o3", 3.0, 3.0)]
    text = morning_note(view(events=events, days=gains)).text
    assert said in text
    assert ("nectar" in text.lower()) == bool(said)


def test_a_forage_that_an_advisory_of_the_yard_tells_of_is_not_said_twice() -> None:
    """A hive's advisory that follows from the flow does not say so."""
    flow = event(Kind.FLOW_ONSET, id="flow")
    assert morning_note(view(FLOW, events=[flow])).text.count("Nectar is coming in") == 1
    assert (
        "Nectar is coming in."
        in morning_note(view(msgspec.structs.replace(SUPER, events=["flow"]), events=[flow])).text
    )


def test_the_typical_rate_is_the_middle_hives_mean_of_the_last_days() -> None:
    assert typical_rate([*days("o1", 9.0, 1.0, 1.0, 1.0, 1.0), *days("o2", 2.0), *days("o3", 9.0)], view()) == 2.0
    assert typical_rate(days("o1", -1.0, -1.0), view()) is None
    assert typical_rate(days("o1", None), view()) is None


def test_numbers_come_in_the_units_of_choice() -> None:
    """1.2 kg / 0.45359237 = 2.65 lb (NIST SP 811)."""
    note = morning_note(
        view(events=[event(Kind.FLOW_ONSET)], days=days("o1", 1.2), units=UnitSettings(weight="lb")),
    )
    assert "about 2.6 lb a day" in note.text


def crowd(count: int) -> list[HiveSettings]:
    return [HiveSettings(id=f"h{n}", yard="orchard", name=f"Hive of the old lime {n}") for n in range(count)]


def wordy(number: int, urgency: Urgency, words: int):
    title = f"Hive of the old lime {number}: {'very ' * (words // 2)}long"
    return advisory(urgency, MORNING, id=f"a{number}", hive=f"h{number}", title=title, do=["Do " + "it " * words])


@given(st.integers(1, 60), st.lists(st.tuples(st.sampled_from(Urgency), st.integers(1, 20)), max_size=60))
def test_a_note_is_read_in_half_a_minute_and_counts_what_it_leaves_out(hives: int, wanted) -> None:
    """At 238 words a minute (Brysbaert 2019); titles of up to fifteen words, twice what advice writes."""
    many = [wordy(number, urgency, words) for number, (urgency, words) in enumerate(wanted)]
    place = crowd(hives)
    note = morning_note(view(*many, hives=place, heard={hive.id: MORNING for hive in place}))
    assert words_in(note.text) <= MOST_WORDS
    assert {a.id for a in note.told} == {a.id for a in many}
    urgent = [a for a in in_reading_order(many) if a.urgency in (NOW, TODAY)]
    assert all(a.title in note.text for a in urgent[:3])


def test_a_large_yard_counts_its_fine_hives_when_names_are_too_many() -> None:
    place = crowd(40)
    note = morning_note(view(SUPER, hives=[ASH, *place], heard={hive.id: MORNING for hive in (ASH, *place)}))
    assert note.text.endswith("The other 40 hives are fine.")


def test_what_was_left_out_is_counted() -> None:
    many = [wordy(number, TODAY, 8) for number in range(30)]
    place = crowd(31)
    note = morning_note(view(*many, hives=place, heard={hive.id: MORNING for hive in place}))
    assert note.title.endswith("30 things need you")
    assert "And 24 more: see `hivemon advice`." in note.text
    assert note.text.endswith("Fine: Hive of the old lime 30.")

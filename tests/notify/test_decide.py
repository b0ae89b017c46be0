"""Which advisory goes out when: a row for every reason, and what must hold whatever comes."""

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from notify_samples import NIGHT, NOON, USUAL, ZONE, advisory, at

from hivemon.advice.overdue import as_overdue
from hivemon.config_notify import NotifySettings
from hivemon.model import DAY, HOUR, MINUTE, Urgency
from hivemon.notify.decide import Case, Outlet, Reason, judge, settled
from hivemon.store import Answer, Answered, Told

NOW, TODAY, WEEK, NEWS = Urgency
HOLIDAY = NotifySettings(away=["2026-06-01/2026-06-14"])
NO_QUIET = NotifySettings(quiet="")
LATE_NOTE = NotifySettings(morning="08:00")


def told(was, when=None, *, at_once=True) -> Told:
    return Told(was.updated if when is None else when, at_once, was)


def answered(was, answer: Answer) -> Answered:
    return Answered(was.updated + MINUTE, answer, "", was)


def changed(was, when, **more):
    """The same condition later, asking for something else."""
    return msgspec.structs.replace(was, **{"updated": when, "do": ["Give fondant instead, today."], **more})


ALARM, FEED, SUPER, FLOW = advisory(NOW), advisory(TODAY), advisory(WEEK), advisory(NEWS)
RAN_OUT = msgspec.structs.replace(ALARM, closed=NOON + HOUR, updated=NOON + HOUR)
OVER = msgspec.structs.replace(RAN_OUT, title="It was no swarm: the bees are back", means="They came home.")

DUE = advisory(
    TODAY, NOON - 2 * DAY, title="Lime needs its next super by Friday 5 June",
    do=["Put one empty super on Lime by Friday 5 June."], do_by=at("2026-06-05 20:00"),
)  # fmt: skip
LATE = msgspec.structs.replace(as_overdue(DUE, at("2026-06-05 20:00"), NOON, ZONE), updated=NOON)

TABLE = {
    # at once
    "an alarm by day": (Case(ALARM), NOON, USUAL, Reason.URGENT),
    "an alarm at night": (Case(advisory(NOW, NIGHT)), NIGHT, USUAL, Reason.URGENT),
    "an alarm on holiday": (Case(ALARM), NOON, HOLIDAY, Reason.URGENT),
    "an alarm just before the note": (Case(advisory(NOW, at("2026-06-06 06:29"))), at("2026-06-06 06:29"), USUAL,
                                      Reason.URGENT),
    "for today, by day": (Case(FEED), NOON, USUAL, Reason.AROSE_BY_DAY),
    "for today, at night without quiet hours": (Case(advisory(TODAY, NIGHT)), NIGHT, NO_QUIET, Reason.AROSE_BY_DAY),
    "told for today, now an alarm": (Case(msgspec.structs.replace(FEED, urgency=NOW), told(FEED)), NOON + 1, USUAL,
                                     Reason.MORE_URGENT),
    "told for the week, now for today": (Case(msgspec.structs.replace(SUPER, urgency=TODAY), told(SUPER)), NOON + 1,
                                         USUAL, Reason.MORE_URGENT),
    "changed, long after": (Case(changed(FEED, NOON + 23 * HOUR), told(FEED)), NOON + 23 * HOUR, USUAL,
                            Reason.CHANGED),
    "overdue, and something else too": (Case(msgspec.structs.replace(LATE, do=["Take one off."]), told(DUE)), NOON,
                                        USUAL, Reason.CHANGED),
    "an alarm that rang is over": (Case(OVER, told(ALARM)), NOON + HOUR, USUAL, Reason.TAKEN_BACK),
    "an alarm whose event was taken back": (Case(RAN_OUT, told(ALARM), refuted=True), NOON + HOUR, USUAL,
                                            Reason.TAKEN_BACK),
    "seen, and then over": (Case(OVER, told(ALARM), answered(ALARM, Answer.SEEN)), NOON + HOUR, USUAL,
                            Reason.TAKEN_BACK),
    # it waits
    "for this week": (Case(SUPER), NOON, USUAL, Reason.CAN_WAIT),
    "for information": (Case(FLOW), NOON, USUAL, Reason.CAN_WAIT),
    "for today, an hour before the note": (Case(advisory(TODAY, at("2026-06-06 07:00"))), at("2026-06-06 07:00"),
                                           LATE_NOTE, Reason.HELD_FOR_MORNING),
    "for today, at night": (Case(advisory(TODAY, NIGHT)), NIGHT, USUAL, Reason.HELD_QUIET_HOURS),
    "for today, on holiday": (Case(FEED), NOON, HOLIDAY, Reason.AWAY),
    "changed, soon after": (Case(changed(FEED, NOON + HOUR), told(FEED)), NOON + HOUR, USUAL, Reason.REPEATED_TOO_SOON),
    "an alarm that changed, soon after": (Case(changed(ALARM, NOON + HOUR), told(ALARM)), NOON + HOUR, USUAL,
                                          Reason.REPEATED_TOO_SOON),
    "an alarm of the day before yesterday": (Case(ALARM), NOON + 2 * DAY, USUAL, Reason.OLD_NEWS),
    "for today, of last week": (Case(FEED), NOON + 7 * DAY, USUAL, Reason.OLD_NEWS),
    "an alarm over at night": (Case(msgspec.structs.replace(OVER, closed=NIGHT), told(ALARM)), NIGHT, USUAL,
                               Reason.HELD_QUIET_HOURS),
    "an alarm over on holiday": (Case(OVER, told(ALARM)), NOON + HOUR, HOLIDAY, Reason.AWAY),
    # nothing to say
    "told as it is": (Case(FEED, told(FEED)), NOON + 20 * HOUR, USUAL, Reason.ALREADY_TOLD),
    "an alarm told as it is": (Case(ALARM, told(ALARM)), NOON + 20 * HOUR, USUAL, Reason.ALREADY_TOLD),
    "told in the note": (Case(FEED, told(FEED, at_once=False)), NOON, USUAL, Reason.ALREADY_TOLD),
    "only its numbers are new": (Case(msgspec.structs.replace(FEED, updated=NOON + DAY, saw="Lime holds about 1.8 kg."),
                                      told(FEED)), NOON + DAY, USUAL, Reason.UNCHANGED),
    "no more than overdue": (Case(LATE, told(DUE)), NOON, USUAL, Reason.UNCHANGED),
    "seen": (Case(FEED, answered=answered(FEED, Answer.SEEN)), NOON, USUAL, Reason.ACKNOWLEDGED),
    "done, then changed": (Case(changed(FEED, NOON + 20 * HOUR), told(FEED), answered(FEED, Answer.DONE)),
                           NOON + 20 * HOUR, USUAL, Reason.ACKNOWLEDGED),
    "wrong, then an alarm": (Case(msgspec.structs.replace(FEED, urgency=NOW), told(FEED), answered(FEED, Answer.WRONG)),
                             NOON, USUAL, Reason.ACKNOWLEDGED),
    "an alarm whose time ran out": (Case(RAN_OUT, told(ALARM)), NOON + HOUR, USUAL, Reason.OVER),
    "over before it was told": (Case(OVER), NOON + HOUR, USUAL, Reason.OVER),
    "over, told with the note": (Case(OVER, told(ALARM, at_once=False)), NOON + HOUR, USUAL, Reason.OVER),
    "over, told at once for today": (Case(msgspec.structs.replace(FEED, closed=NOON + 1), told(FEED)), NOON + 1, USUAL,
                                     Reason.OVER),
    "over since long": (Case(OVER, told(ALARM)), NOON + 3 * DAY, USUAL, Reason.OVER),
    "over, and said so": (Case(OVER, told(OVER)), NOON + HOUR, USUAL, Reason.ALREADY_TOLD),
    "done, and then over": (Case(OVER, told(ALARM), answered(ALARM, Answer.DONE)), NOON + HOUR, USUAL,
                            Reason.ACKNOWLEDGED),
    # answers do not silence what is new
    "seen, then changed": (Case(changed(FEED, NOON + 20 * HOUR), told(FEED), answered(FEED, Answer.SEEN)),
                           NOON + 20 * HOUR, USUAL, Reason.CHANGED),
    "done, then an alarm": (Case(msgspec.structs.replace(FEED, urgency=NOW), told(FEED), answered(FEED, Answer.DONE)),
                            NOON, USUAL, Reason.MORE_URGENT),
    "seen, then an alarm": (Case(msgspec.structs.replace(FEED, urgency=NOW), told(FEED), answered(FEED, Answer.SEEN)),
                            NOON, USUAL, Reason.MORE_URGENT),
}  # fmt: skip

OUTLETS = {
    Outlet.AT_ONCE: {"urgent", "arose-by-day", "more-urgent", "changed", "taken-back"},
    Outlet.WAITS: {"can-wait", "held-for-morning", "held-quiet-hours", "away", "repeated-too-soon", "old-news"},
    Outlet.NOTHING: {"already-told", "updated-but-unchanged", "acknowledged", "over"},
}


@pytest.mark.parametrize("row", TABLE)
def test_each_reason(row: str) -> None:
    case, now, settings, reason = TABLE[row]
    verdict = judge(case, now, settings, ZONE)
    assert verdict.reason is reason
    assert reason.value in OUTLETS[verdict.outlet]


def test_every_reason_has_a_row_and_one_outlet() -> None:
    assert {row[-1] for row in TABLE.values()} == set(Reason)
    assert sorted(reason for reasons in OUTLETS.values() for reason in reasons) == sorted(r.value for r in Reason)


@pytest.mark.parametrize(
    ("clock", "reason"),
    [("20:59", Reason.AROSE_BY_DAY), ("21:00", Reason.HELD_QUIET_HOURS), ("00:00", Reason.HELD_QUIET_HOURS),
     ("06:29", Reason.HELD_QUIET_HOURS), ("06:30", Reason.AROSE_BY_DAY)],
)  # fmt: skip
def test_quiet_hours_begin_with_their_first_minute_and_end_before_their_last(clock: str, reason: Reason) -> None:
    now = at(f"2026-06-06 {clock}")
    assert judge(Case(advisory(TODAY, now)), now, USUAL, ZONE).reason is reason


@pytest.mark.parametrize(
    ("date", "outlet"),
    [("05-31", Outlet.AT_ONCE), ("06-01", Outlet.WAITS), ("06-14", Outlet.WAITS), ("06-15", Outlet.AT_ONCE)],
)
def test_the_first_and_the_last_day_belong_to_a_holiday(date: str, outlet: Outlet) -> None:
    now = at(f"2026-{date} 12:00")
    assert judge(Case(advisory(TODAY, now)), now, HOLIDAY, ZONE).outlet is outlet


def test_what_was_held_at_night_goes_out_when_the_quiet_hours_end_before_the_note() -> None:
    """Quiet until five, the note at noon: nobody waits seven hours for what is for today."""
    settings = NotifySettings(quiet="21:00/05:00", morning="12:00")
    case = Case(advisory(TODAY, NIGHT))
    assert judge(case, NIGHT, settings, ZONE).reason is Reason.HELD_QUIET_HOURS
    assert judge(case, at("2026-06-07 05:00"), settings, ZONE).reason is Reason.AROSE_BY_DAY
    assert judge(case, at("2026-06-07 11:00"), settings, ZONE).reason is Reason.HELD_FOR_MORNING


def test_a_repeat_goes_out_when_its_time_has_come_and_not_a_moment_before() -> None:
    case = Case(changed(FEED, NOON + HOUR), told(FEED))
    settings = NotifySettings(repeat_hours=6)
    assert judge(case, NOON + 6 * HOUR - 1, settings, ZONE).reason is Reason.REPEATED_TOO_SOON
    assert judge(case, NOON + 6 * HOUR, settings, ZONE).reason is Reason.CHANGED


def test_done_and_wrong_settle_an_advisory_for_the_note_and_seen_does_not() -> None:
    more = msgspec.structs.replace(FEED, urgency=NOW)
    assert not settled(Case(FEED))
    assert not settled(Case(FEED, answered=answered(FEED, Answer.SEEN)))
    assert settled(Case(FEED, answered=answered(FEED, Answer.DONE)))
    assert not settled(Case(more, answered=answered(FEED, Answer.DONE)))
    assert settled(Case(more, answered=answered(FEED, Answer.WRONG)))


urgencies = st.sampled_from(Urgency)
moments = st.integers(NOON - 3 * DAY, NOON + 3 * DAY)
advisories = st.builds(advisory, urgencies, moments, closed=st.none() | moments, do=st.lists(st.text(), max_size=2))
cases = st.builds(
    Case,
    advisories,
    st.none() | st.builds(Told, moments, st.booleans(), advisories),
    st.none() | st.builds(Answered, moments, st.sampled_from(Answer), st.just(""), advisories),
)
hours = st.sampled_from([USUAL, HOLIDAY, NO_QUIET, LATE_NOTE])


@given(cases, moments, hours)
def test_only_what_is_urgent_goes_out_in_quiet_hours_or_on_holiday(case: Case, now: int, settings) -> None:
    quiet = judge(Case(advisory(TODAY, now)), now, settings, ZONE).reason in (Reason.AWAY, Reason.HELD_QUIET_HOURS)
    if quiet and judge(case, now, settings, ZONE).outlet is Outlet.AT_ONCE:
        assert case.advisory.urgency is NOW
        assert case.advisory.closed is None


@given(cases, moments, hours)
def test_what_has_just_gone_out_is_not_said_again(case: Case, now: int, settings) -> None:
    """One condition, one message: after a message, the same advisory says nothing more by itself."""
    if judge(case, now, settings, ZONE).outlet is Outlet.AT_ONCE:
        after = case._replace(told=Told(now, True, case.advisory))
        for later in (now, now + HOUR, now + 13 * HOUR):
            assert judge(after, later, settings, ZONE).outlet is Outlet.NOTHING

"""The morning table as a pure function: one case for every verdict, and for every way the readings may not tell."""

import json

import msgspec
import pytest
from cli_samples import advisory, day

from hivemon.cli.options import hives_with_days
from hivemon.cli.overnight import closing_line, head, heading, narrow, rows
from hivemon.config import HiveSettings, Settings, UnitSettings, parse
from hivemon.model import Urgency
from hivemon.morning import _without_name, in_reading_order, last_night, to_json, trend, verdict, yard_morning
from hivemon.rules import FlowRule

RULE = FlowRule()
KG, LB = UnitSettings(), UnitSettings(weight="lb")

TODAY = advisory(title="Super due")
NOW = advisory(urgency=Urgency.NOW, title="Robbing")
NEWS = advisory(urgency=Urgency.FOR_INFORMATION, title="Flow has begun")

VERDICTS = {
    "an open advisory speaks": ([TODAY], day("o1"), 0.0, "Super due", Urgency.TODAY),
    "the most urgent of several speaks": ([TODAY, NOW], day("o1"), 0.0, "Robbing (and 1 more)", Urgency.NOW),
    "news is no call": ([NEWS], day("o1"), 0.0, "Flow has begun", Urgency.FOR_INFORMATION),
    "an advisory speaks without readings": ([NOW], None, None, "Robbing", Urgency.NOW),
    "no readings": ([], None, None, "no readings last night", None),
    "a gap in the night": ([], day("o1", night=None), 0.5, "too few readings to judge", None),
    "gaining": ([], day("o1"), 0.3, "gaining, leave alone", None),
    "just under a flow": ([], day("o1"), 0.299, "steady, leave alone", None),
    "steady": ([], day("o1"), 0.0, "steady, leave alone", None),
    "just above a dearth": ([], day("o1"), -0.049, "steady, leave alone", None),
    "losing": ([], day("o1"), -0.05, "living on its stores, leave alone", None),
    "no trend yet, yesterday has to do": ([], day("o1", gain=1.2), None, "gaining, leave alone", None),
    "a night but no day": ([], day("o1", gain=None), None, "nothing stands out, leave alone", None),
}


@pytest.mark.parametrize("case", VERDICTS)
def test_each_verdict(case: str) -> None:
    advisories, that_day, gain, words, urgency = VERDICTS[case]
    assert verdict(that_day, gain, advisories, RULE) == (words, urgency)


def test_the_thresholds_of_the_verdict_are_those_of_flow_and_dearth() -> None:
    """Nothing of its own: change the rule and the words follow."""
    assert verdict(day("o1"), 0.3, [], FlowRule(flow_kg_per_day=0.5))[0] == "steady, leave alone"


@pytest.mark.parametrize(
    ("gains", "expected"),
    [
        ([1.0] * 7, 1.0),
        ([1.0, None, 2.0, None, 3.0, None, 4.0], 2.5),
        ([1.0, None, 2.0, None, 3.0, None, None], None),
        ([7.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 99.0], 1.0),
        ([], None),
    ],
)
def test_the_trend_is_the_mean_of_the_last_seven_days_when_four_of_them_tell(
    gains: list[float | None],
    expected: float | None,
) -> None:
    days = {d.date: d for back, gain in enumerate(gains) for d in [day("o1", back, gain=gain)]}
    assert trend(days, day("o1").date) == (None if expected is None else pytest.approx(expected))


def test_a_gap_in_the_dates_is_a_gap_in_the_trend() -> None:
    """Seven days means seven dates, not the last seven rows."""
    days = {d.date: d for back in (0, 8, 9, 10, 11) for d in [day("o1", back, gain=1.0)]}
    assert trend(days, day("o1").date) is None


def test_last_night_is_the_newest_night_that_has_ended_for_any_hive() -> None:
    assert last_night([day("o1", 2), day("o2", 1), day("o1", 0, night=None)]) == day("o2", 1).date
    assert last_night([]) is None


def table(settings: Settings, units: UnitSettings = KG) -> list[list[str]]:
    days = [*(day("o1", back, gain=0.5) for back in range(7)), *(day("o2", back, gain=-0.2) for back in range(1, 7))]
    morning = yard_morning(settings.yard[0], settings.hive, days, [TODAY, advisory(None, title="Dearth")], RULE)
    assert morning.notes == ["Dearth"]
    assert morning.wanted == 1
    return rows(morning, units)


@pytest.mark.parametrize(
    ("title", "said"),
    [
        ("Hive o1 has swarmed", "has swarmed"),
        ("Hive o1: the humidity sensor needs a look", "the humidity sensor needs a look"),
        ("Volk o1 heeft gezwermd", "heeft gezwermd"),
        ("o1 has swarmed", "has swarmed"),
        ("A swarm has just left hive o1", "A swarm has just left hive o1"),
        ("Hive o10 has swarmed", "Hive o10 has swarmed"),
    ],
)
def test_a_line_does_not_name_its_hive_twice_in_any_language(title: str, said: str) -> None:
    assert _without_name(title, "o1") == said


def test_one_line_a_hive_with_weights_changes_and_verdict(settings: Settings) -> None:
    """A hive without last night's readings keeps its line and its trend."""
    assert table(settings) == [
        ["o1", "48.2", "47.8", "-0.40", "+0.50", "+0.50", "Super due"],
        ["Blue hive", "-", "-", "-", "-", "-0.20", "no readings last night"],
    ]


def test_pounds_are_converted_for_the_screen_only(settings: Settings) -> None:
    """48.2 kg / 0.45359237 = 106.263 lb; 0.5 kg = 1.102 lb (international pound, 1959)."""
    assert table(settings, LB)[0] == ["o1", "106.3", "105.4", "-0.9", "+1.1", "+1.1", "Super due"]
    assert head(LB)[1:3] == ["Dusk lb", "Dawn lb"]
    assert head(LB)[5] == "7-day lb/day"


def test_json_keeps_kilograms_and_moments_in_utc(settings: Settings) -> None:
    morning = yard_morning(settings.yard[0], settings.hive[:1], [day("o1")], [], RULE)
    written = json.loads(json.dumps(to_json(morning)))
    line = written["hives"][0]
    assert (written["yard"], written["date"]) == ("orchard", "2026-06-11")
    assert (line["dusk_weight"], line["unit"], line["overnight_change"]) == (48.2, "kg", -0.4)
    assert line["dawn"] == "2026-06-12T02:40:00Z"
    assert line["urgency"] is None


def test_the_heading_names_the_night_in_the_yards_own_time(settings: Settings) -> None:
    """Brussels is two hours ahead of UTC in June."""
    morning = yard_morning(settings.yard[0], settings.hive, [day("o1")], [], RULE)
    assert heading(settings.yard[0], morning) == "Orchard: night of Thursday 11 June 2026, dusk 22:40, dawn 04:40"


def test_before_the_first_night_it_says_so(settings: Settings) -> None:
    morning = yard_morning(settings.yard[0], settings.hive, [], [], RULE)
    assert "no whole night" in heading(settings.yard[0], morning)
    assert closing_line([morning]) == "The first table comes after the first whole night of readings."


def test_a_narrow_terminal_gets_short_paragraphs(settings: Settings) -> None:
    morning = yard_morning(settings.yard[0], settings.hive, [day("o1", gain=1.0)], [], RULE)
    lines = narrow(morning, KG, 40).splitlines()
    assert lines[0] == "o1: gaining, leave alone"
    assert max(map(len, lines)) <= 40
    assert any("48.2 to 47.8 kg" in line for line in lines)


def closing(settings: Settings, *advisories: object) -> str:
    heard = [day(hive.id) for hive in settings.hive]
    return closing_line([yard_morning(settings.yard[0], settings.hive, heard, advisories, RULE)])  # type: ignore[arg-type]


def test_the_closing_line_counts_what_is_wanted_and_is_warm_when_nothing_is(settings: Settings) -> None:
    assert closing(settings) == "Nothing needs you today. Leave the bees alone, and enjoy them."
    assert closing(settings, NEWS).startswith("Nothing needs you today")
    assert closing(settings, TODAY).startswith("1 hive needs you")
    assert closing(settings, TODAY, advisory("o2")).startswith("2 hives need you")
    assert closing(settings, advisory(None)).startswith("No single hive needs you today")


def test_a_hive_that_was_not_heard_of_is_no_reason_to_say_that_all_is_well(settings: Settings) -> None:
    said = closing_line([yard_morning(settings.yard[0], settings.hive, [day("o1")], [], RULE)])
    assert said == "Nothing that was heard needs you today; 1 hive sent no readings: `hivemon health` says more."


def test_reading_order_is_urgency_then_the_nearest_deadline() -> None:
    soon, later, never = (
        msgspec.structs.replace(advisory(title=title), do_by=by)
        for title, by in (("soon", 5), ("later", 9), ("never", None))
    )
    assert [a.title for a in in_reading_order([never, NEWS, later, soon, NOW])] == [
        "Robbing",
        "soon",
        "later",
        "never",
        "Flow has begun",
    ]


def test_adopted_hives_have_their_line_too(settings: Settings) -> None:
    """A hive that is not in the configuration is not dropped."""
    hives = hives_with_days(settings, "orchard", [day("o7"), day("o1")])
    assert [hive.id for hive in hives] == ["o1", "o2", "o7"]
    assert isinstance(hives[2], HiveSettings)


def test_the_night_of_a_daylight_saving_change_has_one_date() -> None:
    """Clocks in Brussels went forward on 29 March 2026 at 01:00 UTC (EU directive 2000/84/EC: last Sunday of March)."""
    settings = parse(
        '[[yard]]\nid="y"\nlatitude=51.2\nlongitude=3.4\ntimezone="Europe/Brussels"\n[[hive]]\nid="o1"\nyard="y"',
    )
    dawn = 1_774_760_400_000  # 2026-03-29T05:00:00Z
    morning = yard_morning(settings.yard[0], settings.hive, [day("o1", dawn=dawn)], [], RULE)
    assert heading(settings.yard[0], morning) == "y: night of Saturday 28 March 2026, dusk 00:00, dawn 07:00"

"""Numbers, dates and hours as other people write them, each against an independent reader."""

import io
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hivemon.foreign.dates import day, fixed_zone, orders, place, steadiness, time_of_day, written
from hivemon.foreign.figures import decimal_signs, is_nothing, looks_numeric, number, unit_behind

BRUSSELS = ZoneInfo("Europe/Brussels")
NO_STEP = timedelta()


@pytest.mark.parametrize(
    ("text", "sign", "value"),
    [
        ("48.2", ".", 48.2),
        ("48,2", ",", 48.2),
        ("1.048,25", ",", 1048.25),
        ("1,048.25", ".", 1048.25),
        ("1 048,25", ",", 1048.25),
        ("1'048.25", ".", 1048.25),
        ("-3,5", ",", -3.5),
        ("4.8e1", ".", 48.0),
        ("48.2 kg", ".", 48.2),
        ("35°C", ".", 35.0),
        (".5", ".", 0.5),
        ("48,2", ".", None),
        ("12.06.2026", ".", None),
        ("12.06.2026", ",", None),
        ("abc", ".", None),
        ("", ".", None),
    ],
)
def test_numbers_are_read_by_their_decimal_sign(text, sign, value) -> None:
    assert number(text, sign) == value


@given(st.floats(-1e6, 1e6).map(lambda x: round(x, 2)), st.sampled_from([(".", ","), (",", "."), (",", " ")]))
def test_numbers_are_read_as_pandas_reads_them(value, signs) -> None:
    decimal, thousands = signs
    text = f"{value:,.2f}".translate(str.maketrans({".": decimal, ",": thousands}))
    judge = pd.read_csv(io.StringIO(f'x\n"{text}"\n'), decimal=decimal, thousands=thousands)
    assert number(text, decimal) == pytest.approx(judge["x"][0])


@pytest.mark.parametrize(
    ("texts", "signs"),
    [
        (["48.2", "1.048"], {"."}),
        (["48,2", "1.048,5"], {","}),
        (["1,048", "2,100"], {".", ","}),
        (["48", "49"], {"."}),
        (["48.2", "48,2"], set()),
        (["12.06.2026", "48,2"], {","}),
    ],
)
def test_the_decimal_sign_is_found_or_left_open(texts, signs) -> None:
    assert decimal_signs(texts) == signs


def test_what_stands_for_nothing_is_nothing_and_units_are_seen() -> None:
    assert all(is_nothing(text) for text in ("", "--", "NaN", "n/a", None))
    assert not is_nothing("0")
    assert (unit_behind("48.2 kg"), unit_behind("48.2")) == ("kg", "")
    assert looks_numeric("48,2 kg")
    assert not looks_numeric("12.06.2026")


@pytest.mark.parametrize(
    ("text", "order", "moment"),
    [
        ("2026-06-12 08:00", "", "2026-06-12T08:00:00"),
        ("2026/06/12T08:00:30.5Z", "", "2026-06-12T08:00:30.500000"),
        ("12.06.2026 8:05", "dmy", "2026-06-12T08:05:00"),
        ("06/12/2026 8:05 PM", "mdy", "2026-06-12T20:05:00"),
        ("6/12/26 12:05 am", "mdy", "2026-06-12T00:05:00"),
        ("26-06-12 08:00", "ymd", "2026-06-12T08:00:00"),
        ("12 Jun 2026 08:00", "", "2026-06-12T08:00:00"),
        ("June 12, 2026 08:00", "", "2026-06-12T08:00:00"),
        (datetime(2026, 6, 12, 8), "", "2026-06-12T08:00:00"),  # noqa: DTZ001
    ],
)
def test_moments_are_read_as_written(text, order, moment) -> None:
    found = written(text)
    assert found is not None
    assert found.clock is not None
    assert datetime.combine(day(found, order), found.clock).isoformat() == moment


@pytest.mark.parametrize(
    "text", ["48.2", "1.2.3.4", "12345", "2026", "31 Foo 2026", "12:30", "2026-06-12 25:00", 48.2, None]
)
def test_what_is_no_moment_is_none(text) -> None:
    assert written(text) is None


def test_offsets_and_times_of_day() -> None:
    assert [written(f"2026-06-12 08:00{zone}").offset for zone in ("", "Z", "+02:00", "-0530")] == [None, 0, 120, -330]
    assert str(time_of_day("8:05 pm")) == "20:05:00"
    assert time_of_day("48.2") is None
    assert fixed_zone("+01:00").utcoffset(None) == timedelta(hours=1)
    assert fixed_zone("Europe/Brussels") is None


@given(st.dates(date(2001, 1, 1), date(2026, 6, 12)), st.sampled_from(["dmy", "mdy", "ymd"]))
def test_the_true_order_is_never_excluded(that, order) -> None:
    forms = {"dmy": "{0:%d/%m/%Y}", "mdy": "{0:%m/%d/%Y}", "ymd": "{0:%y/%m/%d}"}
    found = written(forms[order].format(that))
    assert order in orders([found], date(2026, 6, 12))
    assert day(found, order) == that


def test_an_order_is_excluded_by_impossible_days_and_by_the_future_only() -> None:
    def of(*texts):
        return orders([written(text) for text in texts], date(2026, 6, 12))

    assert of("03/04/2026") == ["dmy", "mdy"]
    assert of("03/04/2026", "13/04/2026") == ["dmy"]
    assert of("03/04/2026", "04/13/2026") == ["mdy"]
    assert of("03/04/2026", "05/12/2026") == ["mdy"]  # 5 December has not come yet
    assert of("13/04/2026", "04/13/2026") == []
    assert of("2026-04-03") == ["ymd"]


def test_in_the_wrong_order_days_jump() -> None:
    rows = [written(f"{d:02}/04/2026") for d in range(1, 12)]
    assert steadiness(rows, "dmy") == 1.0
    assert steadiness(rows, "mdy") == 0.0


def local(*texts: str) -> list[datetime]:
    return [datetime.fromisoformat(text) for text in texts]


def test_the_hour_that_comes_twice_is_told_by_the_step_back() -> None:
    """Clocks in Brussels went back at 01:00Z on 25 October 2026 (EU directive 2000/84/EC: last Sunday)."""
    rows = local(
        "2026-10-25 01:45",
        "2026-10-25 02:00",
        "2026-10-25 02:30",
        "2026-10-25 02:00",
        "2026-10-25 02:30",
        "2026-10-25 03:00",
    )
    found = place(rows, BRUSSELS, "", NO_STEP)
    utc = [datetime.fromtimestamp(t / 1000, UTC).strftime("%H:%M") for t in found.time.tolist()]
    assert utc == ["23:45", "00:00", "00:30", "01:00", "01:30", "02:00"]
    assert found.twice == found.never == []


def test_an_hour_told_once_is_asked_about_and_an_hour_that_never_came_is_named() -> None:
    rows = local("2026-10-25 01:45", "2026-10-25 02:30", "2026-10-25 03:00", "2026-03-29 02:30")
    found = place(rows, BRUSSELS, "", NO_STEP)
    assert (found.twice, found.never, found.time[1]) == ([1], [3], -1)
    second = place(rows, BRUSSELS, "second", NO_STEP)
    assert second.time[1] - place(rows, BRUSSELS, "first", NO_STEP).time[1] == 3_600_000


@given(st.integers(1_700_000_000, 1_800_000_000), st.integers(10, 400))
def test_a_recorder_that_follows_the_wall_clock_is_put_back_exactly(begin, count) -> None:
    """Against pandas' own reading of the same wall clock; quarter hours, so that the step back shows."""
    begin -= begin % 900
    true = [begin + 900 * n for n in range(count)]
    walls = [datetime.fromtimestamp(t, BRUSSELS).replace(tzinfo=None) for t in true]
    found = place(walls, BRUSSELS, "", NO_STEP)
    if not found.twice:
        assert (found.time // 1000).tolist() == true
        judge = pd.DatetimeIndex(walls).tz_localize("Europe/Brussels", ambiguous="infer")
        assert (judge.as_unit("s").asi8 == found.time // 1000).all()

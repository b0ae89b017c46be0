"""`hivemon import TABLE`: other people's tables are recognised, shown, asked about, and taken once and whole."""

import gzip
from datetime import UTC, datetime
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import typer
from cli_samples import CONFIG
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hivemon.cli import main
from hivemon.config import UnitSettings, load, parse
from hivemon.foreign.choices import Choices
from hivemon.foreign.convert import convert
from hivemon.foreign.plan import make_plan
from hivemon.foreign.sheet import read_sheet
from hivemon.model import Quantity, Stream
from hivemon.store import Store

WIDE = """\
Stockwaage, Export vom 12.06.2026
Datum;Uhrzeit;o1 Gewicht;o1 Temperatur innen;o2 Gewicht;Temperatur aussen
;;kg;°C;kg;°C
12.06.2026;08:00;48,21;34,9;31,2;18,4
12.06.2026;08:15;48,19;34,9;31,2;18,9
13.06.2026;08:30;48,25;35,0;;19,3
"""
LONG = """\
timestamp,device,field,reading
03/04/2026 10:00,Hive A,weight_lbs,106.2
03/04/2026 10:00,Hive A,temp,94.8
03/04/2026 10:00,Hive B,weight_lbs,88.1
03/04/2026 10:05,Hive A,weight_lbs,106.3
04/04/2026 10:05,Hive A,temp,95
"""


def test_a_battery_in_millivolts_is_no_question(hivemon, table, kept) -> None:
    text = "time;Akku (mV);o1 temp C\n" + "".join(f"2026-06-12T08:{m:02}:00Z;{3900 - m};34,9\n" for m in range(30))
    assert hivemon("import", table(text), "--yes", "--hive", "o1").code == 0
    assert kept()["o1", "battery"][0] == ("2026-06-12 08:00", 3.9)


def test_a_dry_run_judges_nothing_that_is_still_a_question(hivemon, table) -> None:
    text = "time,o1 weight,o1 load\n" + "".join(f"2026-06-12T08:{m:02}:00Z,88.{m},9{m}000\n" for m in range(30))
    answer = hivemon("import", table(text), "--dry-run")
    assert answer.out.splitlines()[-1] == "Nothing was taken: this was a dry run."
    assert "--column 'o1 weight=o1,weight,kg'" in answer.err
    assert "impossible" not in answer.err


def test_bad_cells_that_differ_in_their_numbers_alone_are_counted_together(hivemon, table) -> None:
    rows = "".join(f"2026-06-12T{h:02}:{m:02}:00Z,{4800 + m}\n" for h in range(8, 11) for m in range(20))
    good = "".join(f"2026-06-12T12:{m:02}:00Z,48.2\n2026-06-12T13:{m:02}:00Z,48.2\n" for m in range(59))
    said = hivemon("import", table(f"time,o1 weight kg\n{rows}{good}"), "--yes").err.splitlines()
    assert [line for line in said if line.startswith("  60 like: o1 weight kg: weight 4800 kg is impossible")]


def test_what_a_person_said_is_not_told_as_what_the_file_says(hivemon, table) -> None:
    answer = hivemon(
        "import", table("time,o1 weight\n2026-06-12T08:00:00Z,88.2\n"), "--column", "o1 weight=o1,weight,lb", "--yes"
    )
    assert "(sure: you say lb, and 88.2 is what a hive weighs)" in answer.out


ANSWERS = ["--date-order", "dmy", "--time-zone", "yard", "--hive", "Hive A=o1", "--hive", "Hive B=o2"]


@pytest.fixture
def table(tmp_path):
    def write(text: str | bytes, name: str = "table.csv") -> str:
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return str(path)

    return write


@pytest.fixture
def kept(config):
    """Return what the store holds: hive (None: the yard) and quantity to (UTC text, value)."""

    def look() -> dict[tuple[str | None, str], list[tuple[str, float]]]:
        if not Path(load(config).store.path).exists():
            return {}
        with Store.open(Path(load(config).store.path), read_only=True) as store:
            found = store.series("orchard")
        return {
            (stream.hive, stream.quantity.value): [
                (f"{datetime.fromtimestamp(t / 1000, UTC):%Y-%m-%d %H:%M}", round(v, 3))
                for t, v in zip(series.time.tolist(), series.value.tolist(), strict=True)
            ]
            for stream, series in found.items()
        }

    return look


EXPECTED_WIDE = {
    ("o1", "weight"): [("2026-06-12 06:00", 48.21), ("2026-06-12 06:15", 48.19), ("2026-06-13 06:30", 48.25)],
    ("o1", "temperature"): [("2026-06-12 06:00", 34.9), ("2026-06-12 06:15", 34.9), ("2026-06-13 06:30", 35.0)],
    ("o2", "weight"): [("2026-06-12 06:00", 31.2), ("2026-06-12 06:15", 31.2)],
    (None, "outside-temperature"): [("2026-06-12 06:00", 18.4), ("2026-06-12 06:15", 18.9), ("2026-06-13 06:30", 19.3)],
}


@pytest.mark.parametrize(
    "encode",
    [str.encode, lambda t: t.encode("cp1252"), lambda t: t.encode("utf-16"), lambda t: gzip.compress(t.encode())],
)
def test_a_wide_table_with_commas_units_and_preamble(hivemon, table, kept, encode) -> None:
    answer = hivemon("import", table(encode(WIDE)), "--time-zone", "yard", "--yes")
    assert (answer.code, answer.err) == (0, "")
    assert "11 new, 0 known already" in answer.out
    assert "day before month; zone: Europe/Brussels, the yard's" in answer.out
    assert "'o1 Gewicht kg': weight of o1 in kg (sure: its name says kg" in answer.out
    assert kept() == EXPECTED_WIDE
    again = hivemon("import", table(encode(WIDE)), "--time-zone", "yard", "--yes")
    assert "0 new, 11 known already" in again.out
    assert kept() == EXPECTED_WIDE


def test_a_long_table_asks_for_all_it_cannot_tell_at_once(hivemon, table, kept) -> None:
    answer = hivemon("import", table(LONG), "--yes")
    assert answer.code == 2
    assert "3/4/2026 may be 3 April 2026 (dmy: day before month), 4 March 2026 (mdy: month before day)" in answer.err
    assert "--hive 'Hive A=o1|o2|skip'" in answer.err
    assert "The times say no zone" in answer.err
    assert kept() == {}
    answer = hivemon("import", table(LONG), *ANSWERS, "--yes")
    assert answer.code == 0
    assert kept() == {
        ("o1", "weight"): [("2026-04-03 08:00", 48.172), ("2026-04-03 08:05", 48.217)],  # lb x 0.45359237 (NIST SP 811)
        ("o1", "temperature"): [("2026-04-03 08:00", 34.889), ("2026-04-04 08:05", 35.0)],  # (°F - 32) x 5/9
        ("o2", "weight"): [("2026-04-03 08:00", 39.961)],
    }


def test_month_before_day_moves_the_days(hivemon, table, kept) -> None:
    answers = ["mdy" if text == "dmy" else text for text in ANSWERS]
    assert hivemon("import", table(LONG), *answers, "--yes").code == 0
    assert kept()["o2", "weight"] == [("2026-03-04 09:00", 39.961)]  # still winter time


def test_a_person_is_asked_one_by_one_and_says_yes_at_the_end(hivemon, table, kept, monkeypatch) -> None:
    answers = iter(["day first", "dmy", "yard", "o1", "skip"])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(typer, "prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr(typer, "confirm", lambda *_, **__: False)
    assert "Nothing was taken." in hivemon("import", table(LONG)).out
    assert kept() == {}
    answers = iter(["dmy", "yard", "o1", "skip"])
    monkeypatch.setattr(typer, "confirm", lambda *_, **__: True)
    assert hivemon("import", table(LONG)).code == 0
    assert set(kept()) == {("o1", "weight"), ("o1", "temperature")}


def test_without_yes_a_script_shows_and_takes_nothing(hivemon, table, kept) -> None:
    answer = hivemon("import", table(WIDE), "--time-zone", "yard")
    assert answer.code == 2
    assert "with --yes it is taken" in answer.err
    assert "2026-06-12 08:00 48.21 kg" in answer.out  # as it would be kept, in the yard's time
    dry = hivemon("import", table(WIDE), "--time-zone", "yard", "--dry-run", "--yes")
    assert (dry.code, kept()) == (0, {})


@pytest.mark.parametrize("engine", ["openpyxl", "odf"])
def test_spreadsheets_as_independent_programs_write_them(hivemon, tmp_path, kept, engine) -> None:
    path = tmp_path / ("t.xlsx" if engine == "openpyxl" else "t.ods")
    times = pd.to_datetime(["2026-06-12 08:00", "2026-06-12 08:15", "2026-06-12 08:30"])
    frame = pd.DataFrame({"Time": times, "o1 weight [kg]": [48.2, None, 48.3], "o1 temp °F": [95.0, 95.0, 94.1]})
    frame.to_excel(path, index=False, engine=engine)
    answer = hivemon("import", str(path), "--time-zone", "UTC", "--yes")
    assert (answer.code, answer.err) == (0, "")
    assert kept() == {
        ("o1", "weight"): [("2026-06-12 08:00", 48.2), ("2026-06-12 08:30", 48.3)],
        ("o1", "temperature"): [("2026-06-12 08:00", 35.0), ("2026-06-12 08:15", 35.0), ("2026-06-12 08:30", 34.5)],
    }


def test_of_several_sheets_one_must_be_named(hivemon, tmp_path, kept) -> None:
    book = openpyxl.Workbook()
    book.active.append(["hello", "there"])
    other = book.create_sheet("May")
    other.append(["time", "o1 weight kg"])
    other.append([datetime(2026, 5, 1, 8), 41.5])  # noqa: DTZ001
    book.save(tmp_path / "t.xlsx")
    answer = hivemon("import", str(tmp_path / "t.xlsx"), "--time-zone", "UTC", "--yes")
    assert answer.code == 2
    assert "name one with --sheet: Sheet, May" in answer.err
    assert hivemon("import", str(tmp_path / "t.xlsx"), "--sheet", "May", "--time-zone", "UTC", "--yes").code == 0
    assert kept() == {("o1", "weight"): [("2026-05-01 08:00", 41.5)]}
    assert "has no sheet 'June'" in hivemon("import", str(tmp_path / "t.xlsx"), "--sheet", "June", "--yes").err


def test_times_with_offsets_or_from_1970_need_no_zone(hivemon, table, kept) -> None:
    offsets = "time\to1 weight kg\n2026-06-12T08:00:00+02:00\t48.2\n2026-06-12T06:15:00Z\t48.3\n"
    assert hivemon("import", table(offsets), "--yes").code == 0
    unix = "ts|o2 weight (g)\n1781265600|48200\n1781266500|48300\n"
    assert hivemon("import", table(unix), "--yes").code == 0
    millis = "ts|o2 humidity %\n1781265600000|61\n1781266500000|62\n"
    assert hivemon("import", table(millis), "--yes").code == 0
    assert kept() == {
        ("o1", "weight"): [("2026-06-12 06:00", 48.2), ("2026-06-12 06:15", 48.3)],
        ("o2", "weight"): [("2026-06-12 12:00", 48.2), ("2026-06-12 12:15", 48.3)],
        ("o2", "humidity"): [("2026-06-12 12:00", 61.0), ("2026-06-12 12:15", 62.0)],
    }


def test_the_hour_that_comes_twice_is_asked_about_and_none_is_lost_or_doubled(hivemon, table, kept) -> None:
    quarter = "time,o1 weight kg\n" + "".join(
        f"2025-10-26 {h:02}:{m:02},{40 + n / 10:.1f}\n"
        for n, (h, m) in enumerate([(1, 30), (2, 0), (2, 30), (2, 0), (2, 30), (3, 0)])
    )
    assert hivemon("import", table(quarter), "--time-zone", "yard", "--yes").code == 0
    assert [time for time, _ in kept()["o1", "weight"]] == [
        f"2025-10-{time}" for time in ("25 23:30", "26 00:00", "26 00:30", "26 01:00", "26 01:30", "26 02:00")
    ]
    once = "time,o2 weight kg\n2025-10-26 01:30,40.0\n2025-10-26 02:30,40.1\n2025-10-26 03:30,40.2\n"
    answer = hivemon("import", table(once), "--time-zone", "yard", "--yes")
    assert answer.code == 2
    assert "1 rows lie in the hour that came twice" in answer.err
    for choice, count in (("skip", 2), ("second", 3)):
        assert hivemon("import", table(once), "--time-zone", "yard", "--hour-twice", choice, "--yes").code == 0
        assert len(kept()["o2", "weight"]) == count
    assert ("2025-10-26 01:30", 40.1) in kept()["o2", "weight"]


def test_an_hour_that_never_came_is_named_with_its_line(hivemon, table, kept) -> None:
    spring = "time,o1 weight kg\n2026-03-29 01:30,40.0\n2026-03-29 02:30,40.1\n2026-03-29 03:30,40.2\n"
    answer = hivemon("import", table(spring), "--time-zone", "yard", "--yes")
    assert "row 3: an hour that never came" in answer.err
    assert "is it the right one?" in answer.out
    assert len(kept()["o1", "weight"]) == 2
    assert hivemon("import", table(spring), "--time-zone", "+01:00", "--yes").code == 0
    assert [time for time, _ in kept()["o1", "weight"]] == [f"2026-03-29 0{n}:30" for n in range(3)]


def test_what_is_known_with_another_value_is_kept_and_told(hivemon, table, kept) -> None:
    first = "time,o1 weight kg\n2026-06-12T08:00:00Z,48.2\n"
    assert hivemon("import", table(first), "--yes").code == 0
    answer = hivemon("import", table(first.replace("48.2", "49.9")), "--yes")
    assert "1 with another value than the one kept" in answer.out
    assert kept() == {("o1", "weight"): [("2026-06-12 08:00", 48.2)]}


def test_cells_that_cannot_be_used_are_named_and_the_others_taken(hivemon, table, kept) -> None:
    text = (
        "time,o1 weight kg,o1 temp C\n2026-06-12T08:00:00Z,48.2,35.0\nyesterday,48.3,35.0\n,48.3,35\n"
        "2026-06-12T08:15:00Z,4820,35.1\n2026-06-12T08:30:00Z,wet,35.2\n2126-06-12T08:45:00Z,48.1,35.2\n"
        "2026-06-12T08:20:00Z,48.2,35.0\n2026-06-12T08:25:00Z,48.2,35.0\n"
        * 1
        + "".join(f"2026-06-12T09:{m:02}:00Z,48.2,35.0\n" for m in range(30))
    )
    answer = hivemon("import", table(text), "--yes")
    assert answer.code == 0
    for said in (
        "row 3: 'yesterday' is no time",
        "row 4: no time in it",
        "row 5: o1 weight kg: weight 4820 kg is impossible",
        "row 6: o1 weight kg: 'wet' is no number",
        "row 7: its time 2126-06-12T08:45:00Z lies in the future; mind the year, and the zone (--time-zone)",
    ):
        assert said in answer.err
    assert len(kept()["o1", "weight"]) == 33
    assert len(kept()["o1", "temperature"]) == 35


def test_a_cell_that_spoils_a_short_column_is_left_out_once_the_column_is_named(hivemon, table, kept) -> None:
    text = "time,o1 weight kg\n2026-06-12T08:00:00Z,48.2\n2026-06-12T09:00:00Z,48.x\n"
    answer = hivemon("import", table(text), "--column", "o1 weight kg=o1,weight,kg", "--yes")
    assert "row 3: o1 weight kg: '48.x' is no number" in answer.err
    assert kept() == {("o1", "weight"): [("2026-06-12 08:00", 48.2)]}


@pytest.mark.parametrize(
    ("hive", "said"),
    [("red", "(it has o1, o2)"), ("o11", "(did you mean o1?)"), ("blue HIVE", None), ("o2", None)],
)
def test_a_hive_that_nobody_configured_is_told_before_it_is_made(hivemon, table, hive, said) -> None:
    text = table("time,weight kg\n2026-06-12T08:00:00Z,48.2\n")
    answer = hivemon("import", text, "--hive", hive, "--dry-run")
    assert answer.code == 0
    assert ("taken in as a new one" in answer.out) is (said is not None)
    assert (said or "weight of o2 in kg") in answer.out
    assert "cannot be an id" in hivemon("import", text, "--hive", "the red one", "--dry-run").err


@pytest.mark.parametrize(
    ("text", "options", "said", "code"),
    [
        ("", [], "is empty", 4),
        ("hello\nworld\n", [], "no row with a date", 4),
        ("2026-06-12T08:00:00Z,48.2\n", [], "no heading above the first row", 4),
        ("time,note\n2026-06-12T08:00:00Z,fine\n", [], "no column of numbers", 4),
        (
            "time,o1 weight kg\n2026-06-12T08:00:00Z,48.2\n2026-06-12T09:00:00Z,48.x\n",
            [],
            "line 3: '48.x' in the column 'o1 weight kg' is no number",
            4,
        ),
        ("time,o1 weight kg\n13/04/2026 08:00,1\n04/13/2026 08:00,2\n", [], "the dates fit no order", 4),
        ("a\0b", [], "neither text nor a spreadsheet", 4),
        (b"PK\x03\x04broken", [], "is no spreadsheet that can be read", 4),
        (b"\x1f\x8bbroken", [], "damaged or cut-off gzip", 4),
        (
            "time;o1 weight kg;o2 weight kg\n2026-06-12T08:00:00Z;48.2;31,2\n",
            [],
            "some numbers have a decimal comma",
            4,
        ),
        (WIDE, ["--time-zone", "Europe/Brusels"], "no such zone", 2),
        (WIDE, ["--time-zone", "UTC", "--date-order", "mdy"], "is then no day", 2),
        (WIDE, ["--date-order", "day"], "one of dmy, mdy, ymd", 2),
        (WIDE, ["--time-zone", "UTC", "--column", "Gewicht=o1,weight"], "no such column", 2),
        (WIDE, ["--time-zone", "UTC", "--column", "o1 Gewicht kg=o1,mass"], "is not understood", 2),
        (WIDE, ["--time-zone", "UTC", "--column", "o1 Gewicht kg=o1,weight,stone"], "is not understood", 2),
        (WIDE, ["--column", "Gewicht"], "write --column 'NAME=WHAT IT IS'", 2),
        (LONG, ["--hive", "Hive C=o1"], "the file names no such hive", 2),
        (LONG, ["--hive", "o1", "--hive", "o2"], "there can be one for everything", 2),
        (WIDE, ["--delimiter", "semicolon"], "one sign is wanted", 2),
        (WIDE, ["--yard", "heath"], "there is no yard 'heath'", 2),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_taken(hivemon, table, kept, text, options, said, code) -> None:
    answer = hivemon("import", table(text), *options, "--yes")
    assert said in answer.err
    assert answer.code == code
    assert kept() == {}


def test_a_person_can_say_what_columns_are(hivemon, table, kept) -> None:
    text = "when;a;b;c\n2026-06-12T08:00:00Z;106.2;61;7\n2026-06-12T08:15:00Z;106.4;62;7\n"
    said = ["--column", "a=o1,weight,lb", "--column", "b=o2,humidity", "--column", "c=skip"]
    assert hivemon("import", table(text), *said, "--yes").code == 0
    assert kept()["o1", "weight"][0] == ("2026-06-12 08:00", 48.172)
    assert kept()["o2", "humidity"][1] == ("2026-06-12 08:15", 62.0)


def test_a_weight_that_may_be_kg_or_lb_is_asked_about(hivemon, table, kept) -> None:
    text = "time,o1 weight\n2026-06-12T08:00:00Z,88.2\n"
    answer = hivemon("import", table(text), "--yes")
    assert answer.code == 2
    assert "88.2 could be kg and lb alike" in answer.err
    assert "--column 'o1 weight=o1,weight,kg'" in answer.err
    assert kept() == {}


def test_two_sensors_of_one_kind_in_one_hive_are_not_mixed(hivemon, table, kept) -> None:
    text = "time,o1 temp 1 C,o1 temp 2 C\n2026-06-12T08:00:00Z,35.0,18.0\n"
    answer = hivemon("import", table(text), "--yes")
    assert answer.code == 2
    assert "would be mixed with 'o1 temp 1 C'" in answer.err
    assert hivemon("import", table(text), "--column", "o1 temp 2 C=skip", "--yes").code == 0
    assert kept() == {("o1", "temperature"): [("2026-06-12 08:00", 35.0)]}


STEPS = st.lists(st.integers(1, 200_000), min_size=1, max_size=25)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
@given(
    STEPS,
    st.sampled_from([";", "\t", "|"]),
    st.sampled_from([".", ","]),
    st.sampled_from(["%d.%m.%Y %H:%M:%S", "%Y-%m-%d %H:%M:%S", "%d %b %Y %I:%M:%S %p"]),
    st.booleans(),
)
def test_whatever_form_a_table_takes_the_same_readings_come_out(
    tmp_path, steps, between, decimal, form, backwards
) -> None:

    times = [1_700_000_000 + sum(steps[:n]) for n in range(len(steps))]
    values = [40 + n / 8 for n in range(len(steps))]
    rows = [
        f"{datetime.fromtimestamp(t, UTC).strftime(form)}{between}{f'{v:.3f}'.replace('.', decimal)}"
        for t, v in zip(times, values, strict=True)
    ]
    path = tmp_path / "t.csv"
    path.write_text("\n".join([f"time{between}o1 weight kg", *(rows[::-1] if backwards else rows)]) + "\n")
    hives = parse(CONFIG).hive
    choices = Choices(
        decimal="comma" if decimal == "," else "point", order="dmy" if "%d.%m" in form else "", zone="UTC"
    )
    plan = make_plan(read_sheet(path), hives, UnitSettings(), "UTC", choices, datetime(2026, 1, 1, tzinfo=UTC).date())
    assert plan.questions == []
    found = convert(plan, lambda *row: pytest.fail(str(row)), 2_000_000_000_000)
    series = found.streams[Stream("o1", Quantity.WEIGHT)]
    assert (series.time // 1000).tolist() == times
    assert series.value.tolist() == values


def test_the_file_must_be_there(hivemon) -> None:
    assert "there is no file" in hivemon("import", "nowhere.xlsx").err
    assert main(["import"]) == 2

"""All that a user owns comes out in open formats: CSV, JSON lines and Parquet, read back here by other readers."""

import csv
import gzip
import json

import pandas as pd
import pytest
from cli_samples import DAWN, advisory

from hivemon.cli.everything import FILES
from hivemon.model import MINUTE, Quantity, Reading
from hivemon.store import Answer, Message, Sort, Store


@pytest.fixture
def full(store) -> Store:
    """A store with something of everything; some readings are old enough to be thinned out."""
    old = [
        Reading(DAWN - 600 * 24 * 60 * MINUTE + n * MINUTE, "orchard", "o1", Quantity.WEIGHT, 40.0) for n in range(60)
    ]
    new = [Reading(DAWN - n * 5 * MINUTE, "orchard", "o1", Quantity.WEIGHT, 41.5 + n / 8) for n in range(1, 50)]
    store.add_readings([*old, *new])
    store.retain(DAWN, 400)
    store.put_advisories([advisory()])
    store.add_answer(advisory(), Answer.DONE, DAWN, "second box")
    store.queue_message(Message(created=DAWN, yard="orchard", sort=Sort.ADVICE, title="t", text="x"), ["mail"])
    return store


def rows(path):
    with gzip.open(path, "rt", newline="") if path.suffix == ".gz" else path.open(newline="") as file:
        return list(csv.DictReader(file))


def lines(path):
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_everything_into_a_folder(hivemon, full, tmp_path):
    folder = tmp_path / "mine"
    answer = hivemon("export", "--everything", str(folder))
    assert (answer.code, answer.err) == (0, "")
    assert {path.name for path in folder.iterdir()} == set(FILES.values())
    facts = full.facts()
    assert len(rows(folder / "readings.csv.gz")) == facts.readings
    means = rows(folder / "means.csv.gz")
    assert sum(int(row["readings"]) for row in means) == facts.readings + 60
    assert {row["mean"] for row in means[:4]} == {"40"}
    assert len(rows(folder / "logbook.csv")) == facts.entries > 0
    assert len(lines(folder / "days.jsonl")) == facts.hive_days > 0
    assert [line["id"] for line in lines(folder / "advice.jsonl")] == [advisory().id]
    assert [line["remark"] for line in lines(folder / "answers.jsonl")] == ["second box"]
    assert [line["sent"] for line in lines(folder / "messages.jsonl")] == [None]


@pytest.mark.usefixtures("full")
def test_a_folder_with_an_earlier_export_is_not_written_over(hivemon, tmp_path):
    assert hivemon("export", "--everything", str(tmp_path / "mine")).code == 0
    again = hivemon("export", "--everything", str(tmp_path / "mine"))
    assert again.code == 4
    assert "is there already" in again.err


def test_readings_as_parquet_are_those_of_the_csv(hivemon, full, tmp_path):
    """pandas is the independent reader."""
    for name in ("r.parquet", "r.csv"):
        assert hivemon("export", "--readings", str(tmp_path / name)).code == 0
    table = pd.read_parquet(tmp_path / "r.parquet")
    text = pd.read_csv(tmp_path / "r.csv", parse_dates=["time"], keep_default_na=False)
    assert str(table["time"].dtype) == "datetime64[ms, UTC]"
    assert len(table) == full.facts().readings
    text["time"] = text["time"].astype(table["time"].dtype)
    pd.testing.assert_frame_equal(table, text, check_dtype=False)


def test_imported_readings_go_to_influxdb_too(hivemon, config, tmp_path):
    """Once: what is known already is not sent again."""
    config.write_text(config.read_text() + '\n[influx]\nurl = "http://127.0.0.1:9"\norg = "o"\nbucket = "b"\n')
    file = tmp_path / "r.csv"
    rows = [f"2026-06-12T0{hour}:00:00Z,orchard,o1,weight,4{hour}.5" for hour in range(5)]
    file.write_text("\n".join(["time,yard,hive,quantity,value", *rows]) + "\n")
    for _ in range(2):
        assert hivemon("import", "--readings", str(file)).code == 0
    with Store.open(tmp_path / "hivemon.db") as store:
        lines = [line for batch in store.outbox_peek() for line in batch.lines if line.startswith("reading")]
    assert len(lines) == 5
    assert lines[0].startswith("reading,hive=o1,quantity=weight,yard=orchard value=40.5 ")

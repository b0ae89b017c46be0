"""Small scenarios for the tests of the generator, and readers of what it writes."""

import csv
import gzip
import io
import json
from datetime import date, datetime

import numpy as np

from sample_streams.forage import Land
from sample_streams.plan import Keeper, Place, Sampling, Scenario
from sample_streams.weather import Climate

PLACE = Place("test", "Test", 51.0, 4.0, "Europe/Brussels")


def scenario(hives, days=30, land=None, **changes):
    """A scenario with plain defaults."""
    parts = {
        "name": "test",
        "place": PLACE,
        "first": date(2024, 5, 10),
        "climate": Climate(mean=11.5, cloud=0.4),
        "keeper": Keeper(inspect_every=0, supers=False, feed_below=-1.0),
        "sampling": Sampling(5),
    }
    return Scenario(days=days, land=land or Land(), hives=tuple(hives), **{**parts, **changes})


def rows_of(folder):
    """Rows of a readings file as dicts with `t` (datetime), in file order."""
    text = gzip.decompress((folder / "readings.csv.gz").read_bytes()).decode()
    rows = list(csv.DictReader(io.StringIO(text)))
    for row in rows:
        row["t"] = datetime.fromisoformat(row["time"])
    return rows


def truth_of(folder):
    """The truth of a recording."""
    return json.loads((folder / "truth.json").read_text(encoding="utf-8"))


def series_of(rows, hive, quantity):
    """(times in seconds UTC, values) of one hive and quantity, sorted."""
    pairs = sorted(
        (r["t"].timestamp(), float(r["value"])) for r in rows if r["hive"] == hive and r["quantity"] == quantity
    )
    return np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])

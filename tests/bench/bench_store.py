"""How fast the store is, and how large it grows. Run: python tests/bench/bench_store.py [folder]

Prints figures; nothing is asserted. The folder should be on the disk that matters, because commits wait for it.
"""

import resource
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np

from hivemon.model import DAY, MINUTE, SECOND, Quantity, Reading, Series, Stream
from hivemon.store import Store
from hivemon.store.points import to_line

T0 = 1_750_000_000_000
HIVES = [f"o{n}" for n in range(10)]
QUANTITIES = (Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.HUMIDITY)
YEAR = 365 * DAY


def timed(label, count, work):
    begin = time.perf_counter()
    result = work()
    span = time.perf_counter() - begin
    print(f"{label:58} {count / span:12,.0f} /s   ({count:,} in {span:.2f} s)")
    return result


def arrivals(count, start=T0):
    """Readings as they arrive: every five minutes each hive sends its three."""
    streams = [(hive, quantity) for hive in HIVES for quantity in QUANTITIES]
    return [
        Reading(start + k // len(streams) * 5 * MINUTE, "orchard", *streams[k % len(streams)], 50 + k % 1000 / 64)
        for k in range(count)
    ]


def in_calls(store, readings, size):
    for first in range(0, len(readings), size):
        store.add_readings(readings[first : first + size])


def daemon_path(folder):
    readings = arrivals(300_000)
    for size in (1, 10, 100, 1000):
        with Store.open(folder / f"daemon{size}.db") as store:
            part = readings[: 3000 * size]
            timed(f"readings as they arrive, {size} a transaction", len(part), partial(in_calls, store, part, size))
    with Store.open(folder / "daemon1000.db") as store:
        timed(
            "the same again (all duplicates), 1000 a transaction",
            len(readings),
            lambda: in_calls(store, readings, 1000),
        )


def two_years(step=5 * MINUTE):
    """A yard's two years in days, as an import brings them: scales to 10 g, temperatures and humidities to 0.1."""
    rng = np.random.default_rng(1)
    times = np.arange(T0, T0 + 2 * YEAR, step)
    values = {stream: np.round(50 + rng.normal(0, 1, len(times)), 2) for stream in stream_names()}
    for day in range(0, len(times), DAY // step):
        part = slice(day, day + DAY // step)
        yield {stream: Series(times[part], value[part]) for stream, value in values.items()}


def stream_names():
    return [Stream(hive, quantity) for hive in HIVES for quantity in QUANTITIES]


def bulk(folder):
    batches = list(two_years())
    count = sum(len(s.time) for batch in batches for s in batch.values())
    with Store.open(folder / "bulk.db") as store:
        timed(
            "import, a day of 10 hives a transaction", count, lambda: [store.add_series("orchard", b) for b in batches]
        )
        timed(
            "the same import again (all duplicates)", count, lambda: [store.add_series("orchard", b) for b in batches]
        )
        timed("reading it all back", count, lambda: store.series("orchard"))
        timed("health: counting and checking every page", count, store.facts)
        raw = store.facts(deep=False)
        print(f"{'size, bytes a reading':58} {(raw.size + raw.wal_size) / count:12.1f}")
        half = timed("thinning out the first year", count // 2, lambda: store.retain(T0 + YEAR + 400 * DAY, 400))
        hive_year = (raw.size + raw.wal_size) / 2 / len(HIVES) / 1e6
        print(f"{'raw, MB a hive and year (3 quantities, 5 minutes)':58} {hive_year:12.1f}")
        store._db.run("VACUUM")
        store._db.run("PRAGMA wal_checkpoint(TRUNCATE)")
        pages = "SELECT name, sum(pgsize) FROM dbstat WHERE name IN ('mean', 'reading') GROUP BY name"
        try:
            sizes = dict(store._db.rows(pages))
            print(f"{'means, MB a hive and year (3 quantities)':58} {sizes['mean'] / len(HIVES) / 1e6:12.1f}")
            print(f"{'means, bytes a window':58} {sizes['mean'] / half.windows:12.1f}")
        except Exception as error:  # noqa: BLE001 - dbstat is an option of SQLite's build; the figure is extra
            print(f"no dbstat: {error}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'peak memory of this program, MB':58} {peak:12.0f}")


def outbox(folder):
    readings = arrivals(100_000)
    lines = timed("readings to line protocol", len(readings), lambda: [to_line(r) for r in readings])
    with Store.open(folder / "outbox.db") as store:

        def put():
            for first in range(0, len(lines), 100):
                store.outbox_put(lines[first : first + 100], T0 + first * SECOND)

        def take():
            while batches := store.outbox_peek():
                store.outbox_drop([batch.id for batch in batches])

        timed("into the outbox, 100 a transaction", len(lines), put)
        store._db.run("PRAGMA wal_checkpoint(TRUNCATE)")
        print(f"{'outbox, bytes a point, 100 a transaction':58} {store.facts(deep=False).size / len(lines):12.1f}")
        timed("out of the outbox, 5000 a request", len(lines), take)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as name:
        for part in (daemon_path, bulk, outbox):
            part(Path(name))

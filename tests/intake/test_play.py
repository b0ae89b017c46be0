"""Packs made from a readings file: every reading once, in time order, valid SenML."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from hivemon.config import Settings, YardSettings
from hivemon.intake.play import packs
from hivemon.intake.translate import Translator
from hivemon.model import MINUTE, Quantity, Series, Stream

START = 1_746_057_600_000
YARDS = [YardSettings(id=name, latitude=51.2, longitude=3.4, timezone="Europe/Brussels") for name in ("a", "b")]
STREAMS = [
    Stream("o1", Quantity.WEIGHT),
    Stream("o1", Quantity.HUMIDITY),
    Stream("o2", Quantity.TEMPERATURE),
    Stream(None, Quantity.RAIN),
    Stream(None, Quantity.OUTSIDE_TEMPERATURE),
]


@given(
    st.dictionaries(
        st.tuples(st.sampled_from(["a", "b"]), st.sampled_from(STREAMS)),
        st.sets(st.integers(0, 10_000_000), min_size=1, max_size=10),
        max_size=6,
    ),
)
def test_packs_hold_every_reading_once_in_time_order(chosen):
    """What the translator reads from the packs is what went in, to the millisecond."""
    batch: dict = {}
    for (yard, stream), offsets in chosen.items():
        time = START + np.array(sorted(offsets), np.int64)
        batch.setdefault(yard, {})[stream] = Series(time, (time % 977) / 40)
    translate = Translator(Settings(yard=YARDS)).readings
    made = list(packs(batch))
    found = [r for pack in made for r in translate(pack.topic, pack.payload, START + 10_000 * MINUTE)]
    assert [pack.time for pack in made] == sorted(pack.time for pack in made)
    assert len({(pack.time, pack.topic) for pack in made}) == len(made)
    assert not any(reading.stamped for reading in found)
    assert sorted((r.yard, r.hive or "", r.quantity, r.time, r.value) for r in found) == sorted(
        (yard, stream.hive or "", stream.quantity, time, value)
        for yard, streams in batch.items()
        for stream, series in streams.items()
        for time, value in zip(series.time.tolist(), series.value.tolist(), strict=True)
    )


def test_another_root_topic():
    batch = {"a": {STREAMS[0]: Series(np.array([START]), np.array([41.5]))}}
    assert [pack.topic for pack in packs(batch, "farm/bees")] == ["farm/bees/a/o1"]
    assert list(packs({})) == []

"""Daylight-saving changes, both ways: a hive day goes from dawn to dawn, so none is lost, doubled or an hour off.

The dates are those of the European Union (directive 2000/84/EC) and of New South Wales, where seasons are the other
way round (Standard Time Act 1987: first Sunday in October and in April).
"""

from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest

from hivemon.config import HiveSettings, Settings, StoreSettings, YardSettings
from hivemon.daemon.judge import YardJudge
from hivemon.model import DAY, HOUR, MINUTE, Quantity, Series, Stream
from hivemon.store import Store

PLACES = {
    "Europe/Brussels": (51.2, 3.4, [1_774_742_400_000, 1_792_886_400_000]),  # 2026-03-29 and 2026-10-25, 00:00Z
    "Australia/Sydney": (-33.9, 151.2, [1_775_318_400_000, 1_791_043_200_000]),  # 2026-04-04T16:00Z, 2026-10-03T16:00Z
}


def moment(time: int) -> datetime:
    return datetime.fromtimestamp(time / 1000, UTC).replace(tzinfo=None)


@pytest.mark.parametrize(("zone", "change"), [(z, c) for z, (_, _, changes) in PLACES.items() for c in changes])
def test_hive_days_know_no_clock_change(tmp_path, zone, change):
    latitude, longitude, _ = PLACES[zone]
    yard = YardSettings(id="orchard", latitude=latitude, longitude=longitude, timezone=zone)
    store_ = StoreSettings(path=str(tmp_path / "hivemon.db"))
    settings = Settings(yard=[yard], store=store_, hive=[HiveSettings(id="o1", yard="orchard")])
    assert len({yard.zone.utcoffset(moment(change + step)) for step in (-DAY, DAY)}) == 2
    time = np.arange(change - 5 * DAY, change + 5 * DAY, 10 * MINUTE)
    weight = 40 + 0.1 * np.sin(time / DAY * 2 * np.pi)
    with Store.open(tmp_path / "hivemon.db") as store:
        store.add_series("orchard", {Stream("o1", Quantity.WEIGHT): Series(time, weight)})
        YardJudge(settings, "orchard", store).fold()
        days = store.hive_days("orchard")
    assert len(days) >= 8
    assert len({day.date for day in days}) == len(days)
    for before, after in pairwise(days):
        assert after.start == before.end
    for day in days[1:]:  # the first begins before the readings
        assert abs(day.end - day.start - DAY) < 5 * MINUTE
        assert day.start < day.dusk < day.end
        assert day.coverage > 0.99
        assert abs(day.end - day.dusk) < 16 * HOUR

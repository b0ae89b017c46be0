"""Two devices under one name are found; what happens to a single hive is not taken for it."""

import numpy as np
import pytest

from hivemon.daemon.twins import NOTE, look
from hivemon.model import MINUTE, Quantity, Series, Stream
from hivemon.signals.twins import Levels, two_levels
from hivemon.store import Store

T0 = 1_780_000_000_000
CHANCE = np.random.default_rng(1)
DAY = np.arange(144)


def quiet(level: float, count: int = 144) -> np.ndarray:
    """A hive's weight over twelve hours, every five minutes: the day's swing and a scale's noise."""
    return level + 0.4 * np.sin(np.arange(count) / count * np.pi) + CHANCE.normal(0, 0.02, count)


def two_devices(every: int) -> np.ndarray:
    """Two hives' weights in one stream; the second speaks once where the first speaks `every` times."""
    return np.where(DAY % (every + 1) == every, quiet(29.0), quiet(41.0))


def jumped(by: float, at: int = 70) -> np.ndarray:
    return quiet(41.0) + np.where(at <= DAY, by, 0.0)


@pytest.mark.parametrize("every", [1, 2, 3])
def test_two_devices_are_found_with_their_levels(every):
    levels = two_levels(two_devices(every))
    assert levels is not None
    assert levels.low == pytest.approx(29.2, abs=0.3)
    assert levels.high == pytest.approx(41.2, abs=0.3)


@pytest.mark.parametrize(
    ("weight", "what"),
    [
        (quiet(41.0), "a quiet hive"),
        (jumped(-3.2), "a swarm left"),
        (jumped(8.0), "a super came on"),
        (quiet(41.0) + np.where((DAY > 60) & (DAY < 66), 40.0, 0.0), "somebody leaned on it"),
        (quiet(41.0) + np.where(DAY % 20 == 0, 300.0, 0.0), "a spike now and then"),
        (quiet(41.0) + CHANCE.normal(0, 1.5, 144), "a noisy scale in the wind"),
        (quiet(41.0) + 0.4 * (DAY % 2), "a scale that rounds coarsely"),
        (two_devices(1)[:8], "too little to judge"),
        (np.full(50, 41.0), "a scale that stands still"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_one_device_is_not_taken_for_two(weight, what):
    assert two_levels(weight) is None, what


def test_it_is_said_once_kept_for_health_and_forgotten_when_it_ends(tmp_path, caplog):
    place = Stream("o1", Quantity.WEIGHT)
    with Store.open(tmp_path / "hivemon.db") as store:
        assert look(store, ["orchard"]) == {}
        store.add_series("orchard", {place: Series(T0 + DAY * 5 * MINUTE, two_devices(1))})
        for _ in range(2):
            assert set(look(store, ["orchard"])) == {"orchard/o1"}
        assert caplog.text.count("two devices seem to publish as orchard/o1") == 1
        assert isinstance(NOTE.read(store)["orchard/o1"], Levels)
        store.add_series("orchard", {place: Series(T0 + (DAY + 200) * 5 * MINUTE, quiet(41.0))})
        assert look(store, ["orchard"]) == {}
        assert NOTE.read(store) == {}

"""Sensors that lie: each fault by its name, told once, and none where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from inference_cases import DAWN, look, series

from hivemon.inference.sensors import SensorMemory, judge_day
from hivemon.model import DAY, HOUR, Quantity, Series, Stream

WELL = SensorMemory()
UNTIL = DAWN + 2 * DAY
RNG = np.random.default_rng(5)


def well() -> dict[Stream, Series]:
    """Two days of a hive and its neighbour whose sensors are well."""
    n = int(2 * DAY / (10 * 60_000))
    streams = {}
    for hive in "ab":
        streams[Stream(hive, Quantity.WEIGHT)] = series(DAWN, 40 + RNG.normal(0, 0.03, n), 10)
        streams[Stream(hive, Quantity.TEMPERATURE)] = series(DAWN, 34.5 + RNG.normal(0, 0.1, n).round(1), 10)
    streams[Stream("a", Quantity.BATTERY)] = series(DAWN, [3.9] * n, 10)
    return streams


def with_values(stream: Stream, change) -> dict[Stream, Series]:
    streams = well()
    time, value = streams[stream]
    kept = change(time, value.copy())
    streams[stream] = kept if isinstance(kept, Series) else Series(time, kept)
    return streams


WEIGHT, NEST, BATTERY = (Stream("a", q) for q in (Quantity.WEIGHT, Quantity.TEMPERATURE, Quantity.BATTERY))


def late(value, change):
    value[-len(value) // 2 :] = change
    return value


def wandering(time, value):
    """Up three kilograms and down again between dusk and dawn, as water in a plug does it."""
    hour = (time - UNTIL) / HOUR
    return value + np.interp(hour, [-8, -5, -2], [0.0, 3.0, 0.0])


FAULTS = {
    "weight-wanders": with_values(WEIGHT, wandering),
    "weight-silent": with_values(WEIGHT, lambda t, v: Series(t[: len(t) // 3], v[: len(v) // 3])),
    "weight-stuck": with_values(WEIGHT, lambda _, v: np.where(np.arange(len(v)) > len(v) * 0.4, 41.23, v)),
    "weight-no-hive": with_values(WEIGHT, lambda _, v: v - v.mean() - 3.2),
    "weight-impossible": with_values(WEIGHT, lambda _, v: np.where(np.arange(len(v)) % 3 == 0, 5000.0, v)),
    "weight-noisy": with_values(WEIGHT, lambda _, v: v + RNG.normal(0, 2.0, len(v))),
    "weight-two-devices": with_values(WEIGHT, lambda _, v: np.where(np.arange(len(v)) % 2, v, v - 12.0)),
    "temperature-power-on-value": with_values(NEST, lambda _, v: np.where(np.arange(len(v)) % 20 == 0, 85.0, v)),
    "temperature-stuck": with_values(NEST, lambda _, v: np.where(np.arange(len(v)) > len(v) * 0.4, 34.7, v)),
    "battery-low": with_values(BATTERY, lambda _, v: v - 0.8),
}


def faults(streams, memory=WELL):
    seen = look(UNTIL + HOUR, streams=streams)
    return judge_day(seen, memory, UNTIL), [e.reason for e in seen.told.values()]


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_is_told_by_its_name_and_once(name):
    """The day after it is still there and not said again."""
    memory, told = faults(FAULTS[name])
    assert told == [name]
    assert faults(FAULTS[name], memory) == (memory, [])


def silenced(*streams: Stream) -> dict[Stream, Series]:
    kept = well()
    for stream in streams:
        time, value = kept[stream]
        kept[stream] = Series(time[: len(time) // 3], value[: len(value) // 3])
    return kept


def test_what_all_hives_do_at_night_is_no_fault_of_a_scale():
    """Rain on every lid, and its dripping off."""
    streams = well()
    for hive in "ab":
        time, value = streams[Stream(hive, Quantity.WEIGHT)]
        streams[Stream(hive, Quantity.WEIGHT)] = Series(time, wandering(time, value))
    assert faults(streams)[1] == []


@pytest.mark.parametrize(("days", "stands"), [(1, True), (2, False)])
def test_a_scale_that_wandered_is_believed_after_calm_days(days, stands):
    """Water in a plug comes and goes: one quiet day is no proof that it has dried."""
    n = int(4 * DAY / (10 * 60_000))
    streams = {Stream(hive, Quantity.WEIGHT): series(DAWN, 40 + RNG.normal(0, 0.03, n), 10) for hive in "ab"}
    time, value = streams[WEIGHT]
    streams[WEIGHT] = Series(time, wandering(time, value))
    memory, told = faults(streams)
    assert told == ["weight-wanders"]
    for day in range(1, days + 1):
        memory = judge_day(look(UNTIL + day * DAY + HOUR, streams=streams), memory, UNTIL + day * DAY)
    assert memory.wanders is stands


def test_foragers_out_and_home_are_no_wander():
    """A kilogram of them by day, and three of nectar."""
    by_day = with_values(WEIGHT, lambda t, v: v + np.interp((t - UNTIL) / HOUR, [-23, -20, -12], [0.0, -1.0, 3.0]))
    assert faults(by_day)[1] == []


@pytest.mark.parametrize(
    ("streams", "usable"),
    [
        ((WEIGHT,), "the other sensors"),
        ((NEST,), "the other sensors"),
        ((WEIGHT, NEST), "nothing from this hive"),
    ],
)
def test_a_node_that_dies_takes_every_sensor_with_it(streams, usable):
    """They fall silent in one minute: each is a fault of its own, none hides another, and what is left is said."""
    seen = look(UNTIL + HOUR, streams=silenced(*streams))
    memory = judge_day(seen, WELL, UNTIL)
    assert len({f.event for f in memory.faults}) == len(streams)
    assert sorted(e.reason for e in seen.told.values()) == sorted(f"{s.quantity.value}-silent" for s in streams)
    assert all(e.summary.endswith(f"Still usable: {usable}.") for e in seen.told.values())
    assert memory.spoils_weight is (WEIGHT in streams)


def test_sensors_that_are_well_are_left_in_peace():
    """No news."""
    assert faults(well()) == (SensorMemory(), [])


def test_a_fault_that_is_over_is_forgotten():
    """It may be told again another time."""
    memory, _ = faults(FAULTS["weight-noisy"])
    assert faults(well(), memory)[0] == SensorMemory()


def test_a_coarse_scale_may_rest_for_a_day():
    """A scale of 0.1 kg repeats itself without being stuck."""
    coarse = with_values(WEIGHT, lambda _, v: np.where(np.arange(len(v)) < 60, 40.0, 39.9))
    assert faults(coarse)[1] == []


@pytest.mark.parametrize(("name", "spoils"), [("weight-noisy", True), ("temperature-stuck", False)])
def test_only_a_scales_fault_spoils_the_weight(name, spoils):
    """What is still usable is used."""
    assert faults(FAULTS[name])[0].spoils_weight is spoils

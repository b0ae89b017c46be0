"""All sensors of a yard, read as its nodes read them: rows by stream."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from . import logger, scale

if TYPE_CHECKING:
    from .clock import Array, Clock
    from .lived import Lived
    from .plan import YardPlan
    from .sky import Sky

STEPS = {"temperature": 0.0625, "humidity": 0.1, "battery": 0.01}
"""In which probes speak; common one-wire thermometers in sixteenths of a degree."""
TIP = 0.2
"""mm of rain a tipping gauge counts at once."""


@dataclass
class Board:
    """Rows by stream, and what the streams are: hive (empty: the yard) and quantity."""

    rows: list[logger.Rows] = field(default_factory=list)
    streams: list[tuple[str, str]] = field(default_factory=list)

    def add(self, hive: str, quantity: str, seconds: logger.Whole, value: Array) -> None:
        """Add a stream."""
        self.rows.append(logger.Rows(seconds, np.full(seconds.size, len(self.streams)), value))
        self.streams.append((hive, quantity))

    def seconds(self, hive: str, quantity: str) -> logger.Whole:
        """Return when a stream has a value."""
        rows = self.rows[self.streams.index((hive, quantity))]
        return rows.second[np.isfinite(rows.value)]


def measure(plan: YardPlan, clock: Clock, sky: Sky, hives: list[Lived], rng: np.random.Generator) -> Board:
    """Read all sensors of a yard."""
    board = Board()
    air = clock.fast(sky.temperature)
    for hive in hives:
        seconds = logger.sampled(plan.logger, clock.minutes, rng)
        warm = clock.fast(hive.nest.temperature) + hive.track.warm + rng.normal(0, 0.04, clock.minutes)
        shown = {
            "weight": scale.weigh(clock, sky, hive.kg, hive.plan.scale, rng),
            "temperature": warm,
            "humidity": np.clip(clock.fast(hive.nest.humidity) + hive.track.damp, 5, 99.9),
        }
        if plan.logger.battery:
            shown["battery"] = 3.9 + 0.2 * np.tanh(clock.fast(sky.light)) + rng.normal(0, 0.01, clock.minutes)
        for quantity, minutes in shown.items():
            said = minutes
            for fault in (f for f in hive.plan.faults if f.quantity == quantity):
                said = scale.fail(said, fault, air, rng)
            step = STEPS.get(quantity, hive.plan.scale.rounding)
            board.add(hive.plan.name, quantity, seconds, logger.read_out(seconds, said, step))
    if plan.logger.outside:
        _outside(plan, clock, sky, board, rng)
    return board


def _outside(plan: YardPlan, clock: Clock, sky: Sky, board: Board, rng: np.random.Generator) -> None:
    """Read the yard's own sensors; its rain gauge counts tips since the row before."""
    seconds = logger.sampled(plan.logger, clock.minutes, rng)
    sunny = clock.fast(sky.light) * rng.uniform(0, 4)  # poor shields
    board.add("", "outside-temperature", seconds, logger.read_out(seconds, clock.fast(sky.temperature) + sunny, 0.1))
    board.add("", "outside-humidity", seconds, logger.read_out(seconds, clock.fast(sky.humidity), 1.0))
    fallen = np.cumsum(np.repeat(sky.rain / 5, 5)) * rng.uniform(0.8, 1.1)
    counted = np.floor(fallen[seconds // 60] / TIP) * TIP
    board.add("", "rain", seconds, np.diff(counted, prepend=counted[0]))

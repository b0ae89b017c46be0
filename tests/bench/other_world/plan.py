"""What a family asks for: a yard, its hives, its keeper, its logger. The season draws the rest."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from .forage import Bloom
    from .sky import Climate


@dataclass(frozen=True)
class SwarmWish:
    """A swarm wanted on or after a day: kg, how many afterswarms, whether it comes back to its hive."""

    day: int
    kg: float
    after: int = 0
    returns: bool = False


@dataclass(frozen=True)
class Trouble:
    """Something wrong from a day for so many days.

    `kind`: `queenless`, `chilled`, `thirst`, `robbed`, `abscond`, `poison`, `tipped` or `late`.

    `strength` runs from 0 (hardly to be seen) to 1. `late` is the season's end of brood, which is no trouble.
    """

    kind: str
    day: int
    days: int
    strength: float = 1.0


@dataclass(frozen=True)
class ScaleKind:
    """How a scale errs: kg of noise, kg of rounding, kg a °C at the cell, kg of slow drift, gusts' share."""

    noise: float = 0.008
    rounding: float = 0.01
    thermal: float = 0.002
    drift: float = 0.02
    gusts: float = 0.02


@dataclass(frozen=True)
class Fault:
    """A sensor's failure: quantity, what it does, first day (with fraction) and length in days."""

    quantity: str
    kind: str
    day: float
    days: float


@dataclass
class HivePlan:
    """A hive: adult bees at the start, gross kg, what befalls it, what it stands on."""

    name: str
    bees: float
    kg: float
    weak: bool = False
    swarms: list[SwarmWish] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    scale: ScaleKind = field(default_factory=ScaleKind)
    faults: list[Fault] = field(default_factory=list)
    clumsy: float = 1.0
    """How far its probe sits from the brood: 1 in the middle, 2 at the edge."""


@dataclass(frozen=True)
class KeeperKind:
    """A beekeeper: days between visits, minutes a hive, kg of syrup a visit (0: none), how the logbook is kept.

    `log`: `none`, `good`, `late` (up to 90 minutes), `sloppy` (a third missing, amounts and times rough).
    """

    every: float = 12.0
    minutes: float = 15.0
    feed: float = 0.0
    feed_span: tuple[int, int] = (0, 0)
    supers: bool = True
    harvest_days: tuple[int, ...] = ()
    split_days: tuple[int, ...] = ()
    swaps: int = 0
    moves: tuple[int, ...] = ()
    log: str = "good"
    rough: float = 1.0


@dataclass(frozen=True)
class LoggerKind:
    """What arrives: minutes between rows, jitter in seconds, and what goes wrong on the way."""

    interval: int = 10
    jitter: float = 8.0
    skips: float = 0.005
    bursts: float = 0.0
    """Of the rows that come with several more in the same minutes."""
    doubles: float = 0.002
    late_blocks: int = 0
    """Times that a gateway holds back hours of rows."""
    gaps: tuple[tuple[float, float], ...] = ()
    """First day and length in days of silences of the whole yard."""
    changes: tuple[tuple[float, int], ...] = ()
    """Day and new interval in minutes."""
    outside: bool = True
    battery: bool = False


@dataclass
class YardPlan:
    """A season of a yard."""

    name: str
    latitude: float
    longitude: float
    timezone: str
    first: date
    days: int
    climate: Climate
    hives: list[HivePlan]
    blooms: list[Bloom]
    base: float = 0.1
    laying: tuple[float, ...] = (1.0, 1.0)
    """Laying relative to balance, at points spread evenly over the season."""
    keeper: KeeperKind = field(default_factory=KeeperKind)
    logger: LoggerKind = field(default_factory=LoggerKind)
    brave: float = 0.0
    """°C by which these bees fly cooler than usual."""
    lid_loads: float = 0.02
    """Branches, cats and other things on a lid, a hive-day."""

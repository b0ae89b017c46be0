"""The words a family is made of: climate, bloom, scale, keeper, chances. Units are in each docstring."""

from __future__ import annotations

from dataclasses import dataclass, field

Span = tuple[float, float]
"""A lowest and a highest value; the season draws one between them, evenly."""


@dataclass(frozen=True, kw_only=True)
class Climate:
    """Weather of a place: °C, m/s, mm on a wet day; `wet` is the share of wet days in midwinter and in midsummer.

    `swing` is how far midsummer lies above the yearly mean, `day_range` a clear day's range.
    """

    mean: float
    swing: float
    day_range: float
    wet: Span
    mm: float = 6.0
    wind: float = 2.5
    dry_air: float = 3.0
    """How far the dew point lies below the night's lowest temperature, °C."""
    thunder: float = 0.05
    """Chance of an afternoon thunderstorm on a warm day."""
    moody: float = 2.8
    """Standard deviation of the slow swings of the daily mean, °C."""


@dataclass(frozen=True, kw_only=True)
class Bloom:
    """One plant: when it gives nectar (days from the season's first, days), and kg a day of ripe stores at its best.

    `kg` is for a colony with 12,000 foragers on a good day; `sugar` is the share by mass in the nectar as collected
    (0.2 to 0.6: Nicolson and others 2022, authors from memory); `ramp` is the days it takes to come and to go.
    """

    start: Span
    days: Span
    kg: Span
    sugar: float = 0.38
    ramp: Span = (1.0, 3.0)
    hour: float = 12.0
    """Solar hour about which the nectar is richest."""


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A scale: g/°C, lag in minutes, readout, noise and slow drift in g.

    A class C3 cell of 200 kg may drift by 2.8 g/°C (derived from OIML R 60-1, 5.6.1.3); cheap ones do 10 to 100
    (informal reports, no published figure is known).
    """

    per_degree: Span = (-4.0, 4.0)
    lag: Span = (15.0, 60.0)
    sun: Span = (0.0, 6.0)
    """How much warmer than the air the cell gets in full sun, °C."""
    readout: int = 10
    noise: Span = (2.0, 8.0)
    gust: Span = (0.3, 1.2)
    """g of noise for each (m/s)² of wind."""
    drift: float = 3.0
    """g of random walk in a day."""
    creep: float = 0.0004
    """Share of a load change that comes in over the next half hour."""
    spikes: float = 0.0002
    lost: Span = (0.001, 0.01)
    """Share of readings that never arrive."""
    gaps: float = 1.0
    """Gaps of hours to two days in a season, for each hive."""


@dataclass(frozen=True, kw_only=True)
class Keeper:
    """A beekeeper: days between visits, how much is written down and how well, and what is fed."""

    every: Span = (9.0, 14.0)
    minutes: Span = (5.0, 25.0)
    logs: float = 0.9
    late: float = 40.0
    """Typical minutes between the work and the time in the logbook."""
    wrong_hive: float = 0.0
    supers: float = 1.0
    harvests: bool = True
    wet_back: float = 0.3
    """Chance that emptied supers are put back for cleaning."""
    feed_weekly: float = 0.0
    """Chance at each visit that a hive is fed, whatever it has."""
    feed_kg: Span = (1.0, 3.0)
    sugar: float = 0.6
    split: float = 0.0
    """Chance for each strong hive that frames with bees are taken once."""
    shuffle: float = 0.0
    """Chance at each visit that two hives change scales."""
    heft: float = 0.02
    treats: bool = True
    sloppy: float = 0.05
    """Chance at each visit of a brick moved, a lid left off, a scale re-zeroed or repaired in place."""
    mows: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Chances:
    """Chances for each hive and season of what can befall it (`robbed`: for the yard)."""

    swarm: float = 0.0
    swarm_days: Span = (30, 70)
    returns: float = 0.25
    after: float = 0.3
    abscond: float = 0.0
    queen_lost: float = 0.05
    supersede: float = 0.1
    robbed: float = 0.15
    tipped: float = 0.01
    no_water: float = 0.0
    drought_break: bool = False
    swarm_in: float = 0.0
    branch: float = 0.1
    animal: float = 0.5
    grass: float = 0.1
    connector: float = 0.05
    thermometer: float = 0.08


@dataclass(frozen=True, kw_only=True)
class Family:
    """A plausible data set of one place and one hand: degrees north and east, minutes between readings."""

    yard: str
    latitude: float
    longitude: float
    timezone: str
    start: tuple[int, int, int]
    days: tuple[int, int]
    hives: tuple[int, int]
    interval: int
    climate: Climate
    blooms: tuple[Bloom, ...]
    background: Span = (0.05, 0.15)
    """Forage between the flows, kg a day of ripe stores, as in `Bloom.kg`."""
    cell: Cell = field(default_factory=Cell)
    keeper: Keeper = field(default_factory=Keeper)
    chances: Chances = field(default_factory=Chances)
    adults: Span = (12_000, 18_000)
    """Bees at the start."""
    laying: Span = (1_300, 1_800)
    """Eggs a day at the queen's best."""
    stores: Span = (6.0, 14.0)
    """Food in a hive at the start, kg."""
    weak: float = 0.1
    """Chance that a hive is a weak one."""
    wood: Span = (0.1, 0.4)
    """kg of water the boxes take up when soaked."""
    outside: bool = True
    gauge: bool = True
    nest_every: int = 0
    """Minutes between nest readings where they come more seldom than weights; 0: as often."""
    battery: bool = False

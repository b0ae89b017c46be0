"""The declarative description of a yard: what a scenario is made of. Days are scenario days, counted from 0."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from .forage import Land
    from .weather import Climate


@dataclass(frozen=True)
class Place:
    """A yard: id, name, position in degrees, time zone name (only for the configuration file)."""

    yard: str
    name: str
    latitude: float
    longitude: float
    timezone: str


@dataclass(frozen=True)
class SwarmPlan:
    """A prime swarm wanted about `day` (first fine hour within `window` days), then `after` afterswarms.

    `share` of the workers and `nest` (rise, fall, none) are drawn where left None. `returned`: it comes back.
    `requeens`: whether the young queen comes to lay.
    """

    day: float
    window: float = 5.0
    share: float | None = None
    nest: str | None = None
    returned: bool = False
    after: int = 0
    requeens: bool = True


@dataclass(frozen=True)
class RobPlan:
    """Robbing of a hive from `day` for `days`.

    `kg` is lost in an hour of full flight; `inside` share of it goes to the yard's other hives; it begins at solar
    `hour` of each day.
    """

    day: float
    days: float
    kg: float = 0.12
    inside: float = 0.6
    hour: float = 9.0


@dataclass(frozen=True)
class NestPlan:
    """A lasting trouble of the brood nest: `overheat` (no water), `chill`, or `queenless`, from `day` for `days`."""

    kind: str
    day: float
    days: float
    strength: float = 1.0


@dataclass(frozen=True)
class ActPlan:
    """A handling ordered by the scenario: at solar `hour` of `day`. `kg` as the action wants it (see handling)."""

    action: str
    day: float
    hour: float = 13.0
    kg: float | None = None
    logged: bool | None = None
    hours: float = 0.0


@dataclass(frozen=True)
class FaultPlan:
    """A sensor fault from `day` for `days` on `quantity`; `fault` is a name of ``faults``; `size` as it wants it."""

    fault: str
    day: float
    days: float = 0.0
    quantity: str = "weight"
    size: float = 0.0


@dataclass(frozen=True)
class Scale:
    """How a scale and its hive errs.

    `noise` g rms, `resolution` g, `thermal` g/°C of load-cell temperature (-30 to 30), `drift` g a day, `creep` share
    of a new load, `wind` g at 5 m/s, `lid` m² and `film` kg of water it holds, `wood` kg dry woodware, `paint` 0..1
    share of the wood's moisture exchange that paint stops.
    """

    noise: float = 8.0
    resolution: float = 10.0
    thermal: float = 2.0
    drift: float = 0.0
    creep: float = 0.0004
    wind: float = 10.0
    lid: float = 0.25
    film: float = 0.25
    wood: float = 16.0
    paint: float = 0.75
    sun_on_cell: float = 0.004


@dataclass(frozen=True)
class Probe:
    """Nest sensor: temperature `resolution` and `offset` °C, share of `spikes`, humidity `rh_resolution` and offset."""

    resolution: float = 0.0625
    offset: float = 0.0
    noise: float = 0.04
    rh_resolution: float = 0.1
    rh_offset: float = 0.0
    power_on: float = 0.0
    disconnected: float = 0.0


@dataclass(frozen=True)
class HivePlan:
    """A hive at the start: adult `bees`, `stores` kg, `laying` eggs a day at the season's best, and its story.

    `vigour` multiplies what it brings in, `busy` the share of foragers out at once; `set_point` °C of its brood nest.
    """

    hive: str
    bees: float = 25000.0
    stores: float = 12.0
    laying: float = 1500.0
    weak: bool = False
    brood_boxes: int = 2
    supers: int = 0
    vigour: float = 1.0
    set_point: float = 34.6
    busy: float = 1.0
    swarms: tuple[SwarmPlan, ...] = ()
    robbed: tuple[RobPlan, ...] = ()
    nest: tuple[NestPlan, ...] = ()
    acts: tuple[ActPlan, ...] = ()
    faults: tuple[FaultPlan, ...] = ()
    scale: Scale = field(default_factory=Scale)
    probe: Probe = field(default_factory=Probe)


@dataclass(frozen=True)
class Keeper:
    """A beekeeper's habits: visits, supers, harvest, feeding, and how the logbook is kept.

    `missing`: share of entries never written. `late`: mean hours by which a written time is off.
    `rough`: relative error of written amounts. `blank`: share of amounts left empty. `surprises`: chance per hive and
    day of a small unlogged act (thing on the lid, re-levelling).
    """

    inspect_every: float = 12.0
    supers: bool = True
    harvest_day: float | None = None
    feed_below: float = 4.0
    feed_every: float | None = None
    feed_kg: float = 3.0
    syrup_sugar: float = 0.61
    missing: float = 0.0
    late: float = 0.4
    rough: float = 0.05
    blank: float = 0.1
    surprises: float = 0.0
    mite_wash_every: float | None = None


@dataclass(frozen=True)
class Sampling:
    """How readings are taken and sent: minutes between them, changes (day, minutes), and the ills of the way here.

    `duplicates`: share of rows sent twice. `late`: share of rows delivered up to `late_hours` late.
    `gaps`: dropouts a day and hive; `gap_hours` their mean length. `battery`: whether battery voltage is sent.
    `offset_hours`: times are written with this offset from UTC (0: with Z).
    """

    minutes: float = 5.0
    changes: tuple[tuple[float, float], ...] = ()
    duplicates: float = 0.0
    late: float = 0.0
    late_hours: float = 12.0
    gaps: float = 0.0
    gap_hours: float = 1.0
    jitter: float = 0.0
    battery: bool = False
    offset_hours: int = 0


@dataclass(frozen=True)
class Scenario:
    """A whole yard over a season: everything the generator needs besides the seed."""

    name: str
    place: Place
    first: date
    days: int
    climate: Climate
    land: Land
    hives: tuple[HivePlan, ...]
    keeper: Keeper = field(default_factory=Keeper)
    sampling: Sampling = field(default_factory=Sampling)
    outside: bool = True
    swaps: tuple[tuple[float, str, str], ...] = ()

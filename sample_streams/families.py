"""Families of scenarios: each seed gives another season of the same kind.

Families differ in what is drawn and from where; nothing here looks at what the daemon can or cannot find.
"""

from __future__ import annotations

from collections.abc import Callable

from . import families_apart, families_rough, families_usual
from .plan import Scenario

Family = Callable[[int, int | None, float | None], Scenario]

ALL: dict[str, Family] = {
    "spring-swarms": families_usual.spring_swarms,
    "flow-dearth-robbing": families_usual.flow_dearth_robbing,
    "heat-wave-brood": families_usual.heat_wave_brood,
    "nothing-happens": families_usual.nothing_happens,
    "long-season": families_usual.long_season,
    "single-hive": families_apart.single_hive,
    "southern": families_apart.southern,
    "hourly": families_apart.hourly,
    "no-outside-sensor": families_apart.no_outside_sensor,
    "snowy-spring": families_apart.snowy_spring,
    "cheap-scales": families_rough.cheap_scales,
    "desert-fed": families_rough.desert_fed,
    "careless": families_rough.careless,
}

"""Thresholds of inference, once: their unit, source and default. `[rules.<question>]` in hivemon.toml overrides.

"Our rule" marks a threshold for which no published number is known. Sources are named in full in DEVELOPERS.md.
"""

from __future__ import annotations

import msgspec


class FlowRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Nectar flow and dearth of a yard, judged on the median working hive. All our rule: no published cut-offs."""

    flow_kg_per_day: float = 0.3
    """A flow begins when the mean of `flow_days` hive days reaches this, kg a day."""
    flow_end_kg_per_day: float = 0.1
    """A flow is over when that mean falls below this in flying weather, kg a day."""
    flow_days: int = 3
    """Full flying days that a flow's mean is taken over. Our rule."""
    dearth_kg_per_day: float = -0.05
    """In a dearth, flying days lie at or below this beyond doubt, kg a day. Our rule."""
    dearth_days: int = 5
    """Flying days of a slight loss, 0.12 kg a day, after which a dearth is told; a plain one needs fewer. Our rule."""
    flying_celsius: float = 12.0
    """Foraging usually starts at 12 °C (Burrill & Dietz 1981)."""
    flying_hours: float = 3.0
    """Daylight hours warm and dry enough for a day to count as flying weather. Our rule."""
    rain_day_mm: float = 5.0
    """More rain than this in daylight and the day says nothing about forage. Our rule."""


class SwarmRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Probable swarm departure."""

    least_kg: float = 0.7
    """5,000 bees at 130-160 mg (Fell et al. 1977; trade package weights)."""
    most_kg: float = 5.0
    """30,000 bees at 160 mg; more than that is a person's doing."""
    longest_minutes: float = 30.0
    """Leaving takes 5 to 20 minutes (Winston 1987, from memory); half as much again for slow sampling."""
    flying_celsius: float = 14.0
    """Swarms seldom leave below 16-18 °C (Simpson 1959, from memory), less a shaded sensor's error."""
    return_minutes: float = 90.0
    """A swarm that comes back does so within this. Our rule."""


class BroodRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Brood nest temperature."""

    cold_celsius: float = 32.0
    """Lower edge of the regulated nest (Becher & Moritz 2009: 32-36 °C); capped brood suffers below (Himmer 1932)."""
    hot_celsius: float = 37.0
    """Sustained heat above 37-38 °C harms capped brood (Himmer 1932, from memory)."""
    brood_swing_celsius: float = 1.5
    """Within-day swing of a nest with brood at the sensor; 0.5-1 °C is usual (Seeley 1985, from memory)."""
    unstable_swing_celsius: float = 3.0
    """A swing of several degrees that follows the outside means no brood at the sensor. Our rule."""
    hours: float = 4.0
    """How long cold must last before it is said, heat an hour less. Our rule; 12 h at 20 °C do harm (Wang 2016)."""


class RobbingRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Robbing. No published rate exists; bounded by 20-40 mg a trip (Meikle 2018) and 1,000-10,000 trips an hour."""

    least_kg_per_hour: float = 0.08
    least_kg_per_day: float = 0.5
    """Loss between dawn and dusk beyond what the hive usually shows beside its neighbours. Our rule."""
    most_kg_per_hour: float = 1.0
    """More than twice 10,000 trips of 40 mg an hour: hands, not robbers."""
    least_hours: float = 2.0
    times_usual: float = 1.6
    """A loss since dawn this many times what the hive shows by that hour anyway is its own. Our rule."""
    times_neighbours: float = 2.0
    """A loss since dawn this many times its neighbours' is its own. Our rule."""


class SensorRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """When a sensor lies."""

    stuck_hours: float = 24.0
    """A live weight or nest temperature moves within a day. Our rule."""
    silent_hours: float = 24.0
    low_battery_volts: float = 3.3
    """A lithium cell is nearly empty at 3.3 V under load (common practice)."""


class StepRule(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Handling told from nature."""

    least_kg: float = 0.5
    """A change faster than foraging, eating or drying and at least this large is a step. Our rule."""
    log_slack_minutes: float = 90.0
    """Beekeepers log to about an hour; a step this near an entry is explained by it. Our rule."""
    off_scale_kg: float = 5.0
    """A weight below this is no hive: floor, lid and one box alone weigh more (14-20 kg, from memory)."""


class Rules(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """All thresholds, by question."""

    flow: FlowRule = FlowRule()
    swarm: SwarmRule = SwarmRule()
    brood: BroodRule = BroodRule()
    robbing: RobbingRule = RobbingRule()
    sensors: SensorRule = SensorRule()
    steps: StepRule = StepRule()

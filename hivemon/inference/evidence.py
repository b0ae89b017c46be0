"""What can speak for or against an explanation of one step, as plain numbers, and what they say of weather and hands.

`gather` collects it; `steps.verdict` and `swarm.why_not` judge by it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from hivemon.model import DAY, HOUR, MINUTE, Millis
from hivemon.signals.moves import STIR_KG
from hivemon.signals.steps import STEEPEST
from hivemon.signals.weather import THAW_CELSIUS

if TYPE_CHECKING:
    from hivemon.signals.steps import Change

LATEST_RETURN: Millis = 3 * HOUR
"""How long after leaving a swarm may be back at the latest, or a lifted thing be put back. Our rule."""

NEAR: Millis = 20 * MINUTE
"""Warm-up and cooling around a swarm's departure build within 10 to 20 minutes (Zacepins et al. 2016, from memory)."""

SHARED_PART = 0.4
"""A change is the yard's when the others' median change is at least this part of it. Our rule."""

RAIN_KG = 1.2
"""Most that rain lays on a hive or dries off it: a film and soaked wood hold 0.1 to 1 kg (geometry; Wood Handbook)."""

SHOWER: Millis = 10 * MINUTE
"""Time in which a shower wets a hive through. Our rule."""

NATURE_KG_PER_HOUR = 0.8
"""Fastest change of a hive's weight without hands or a swarm: foragers of a strong colony leaving (6,000 at 115 mg) or
5 kg of nectar on a long day, and some drying. Our rule."""

LEFT_BEHIND = 0.5
"""Most of its bees that a colony keeps when a swarm leaves: a quarter to 44 % (Rangel & Seeley 2012, from memory)."""

REGROWN_DAYS = 21.0
"""Days after a swarm until new bees emerge from the young queen's eggs at the earliest: worker development."""

DRAIN_KG_PER_HOUR = 1.0
"""Fastest loss that goes on for an hour without a swarm: 10,000 foragers who leave or do not come home. Our rule."""

SHOWER_MM = 0.5
"""Rain within an hour that can lay half a kilogram on a hive of half a square metre of lid and walls (geometry)."""

SLOWEST: Millis = 40 * MINUTE
"""A step that took longer, where sampling can tell, is no single movement of bees or hands. Our rule."""

SNOW_KG = 3.0
"""What weather lays on a lid or takes off it: 10 cm of fresh snow weigh 2.5 kg (geometry); more is a person's doing."""

MOST_PART = 0.6
"""Part of a change that lies between two readings when somebody put a thing on or took it off. Our rule."""

TIMES_OTHER_DAYS = 1.5
"""How many times what the weight did in the same hours of the days before is still no news, and `OTHER_DAYS_KG` more:
less than is asked of a swarm, which has more to tell. Our rule."""

OTHER_DAYS_KG = 0.2
"""What a weight may do beyond that and tell nothing. Our rule."""

TIMES_WANDER = 2.0
"""How many times what it does on other days a nest's temperature goes when it tells something. Our rule."""

BARE_PART = 1 / 3
"""Part of a hive's weight, up to three times the rule's least hive, that may stay on a scale when the hive has left it:
a stand, a floor, a lid, the half of it that leans there. Our rule."""


class Swarmed(NamedTuple):
    """A swarm before: how many days ago, and its size in kg."""

    days: float
    size: float


class Evidence(NamedTuple):
    """What is known about one step of one hive. None where there is nothing to know it from."""

    change: Change
    onset: Millis
    interval: Millis
    """Usual time between two readings of the weight."""
    solar_hour: float
    daylight: bool
    fitting_entry: bool
    """Whether the logbook has an entry near it that moves the weight this way, and by as much where it gives a mass."""
    weight_entry: bool
    """Whether it has one of a sort that moves the weight at all, be it as it was or not."""
    visited: bool
    """Whether by the logbook a person was at this hive."""
    swarm_seen: bool
    others_kg: float | None
    """Median change of the yard's other hives over the same span, kg."""
    others: int
    """How many of them were weighed then."""
    swapped: bool
    """Whether one of them gained what this hive lost, or lost what it gained."""
    visit_nearby: bool
    """Whether a person was at another hive of the yard at about that time."""
    handled_before: bool
    """Whether this hive was in somebody's hands in the hours before."""
    routine_kg: float
    """What its weight does, in as short a time and the same way, around the same hour of the days before, kg."""
    nest_change: float | None
    """How far the nest's temperature went around the change, °C, signed."""
    nest_routine: float
    """How far it wanders in the same minutes of other days, °C."""
    humidity_change: float | None
    """How far the hive's humidity went around the change, points of %RH, signed."""
    outside: float | None
    """Outside temperature, °C."""
    rain: float | None
    """What fell in the hour before it, mm."""
    rain_until_now: float | None
    """What fell from an hour before it until now, mm."""
    rain_due: bool
    """Whether the gauge has yet to tell of its time."""
    put_on_before: float | None
    """Chance that a loss is as heavy as a thing laid on before only by luck; None: nothing as heavy lies there."""
    undoes: bool
    """Whether it puts back what went within the last day, or takes off what came."""
    off_scale_kg: float
    """The rule's least weight of a hive, kg."""
    dropped_out_before: bool
    """Whether the hive has lately been off its scale and back, as a loose wire makes it seem."""
    dead: bool
    """Whether the scale has said nothing since, or the same again and again."""
    season_days: float | None
    """Days since the year's longest day."""
    dearth: bool
    """Whether the yard is in a dearth."""
    wanders: bool
    """Whether the scale is known to go up and down by itself."""
    swarmed: Swarmed | None
    losses_before: int
    """How many unlogged losses of a swarm's weight this hive has had in the weeks before."""

    @property
    def size(self) -> float:
        """Signed size, kg."""
        return self.change.size

    @property
    def left_scale(self) -> bool:
        """Whether what is left is no hive: hands may leave a light box, a hive that fell leans on its stand."""
        lightest = (2 if self.worked_at else 3) * self.off_scale_kg
        bare = self.change.new < min(lightest, BARE_PART * self.change.old)
        return (self.change.new < self.off_scale_kg or bare) and self.size < -2 * self.off_scale_kg

    @property
    def worked_at(self) -> bool:
        """Whether a visit is logged, or boxes were set down and lifted again: nobody does that by night."""
        return self.visited or self.in_hands or (self.daylight and self.change.reversals > 1)

    @property
    def shared(self) -> bool:
        """Whether the yard's other hives changed alike at the same time, as weather and sun make them.

        What rain lays on a hive is little; more comes slowly, or is snow. Otherwise somebody went round the yard.
        """
        if self.others_kg is None or self.others_kg * self.size <= 0 or self.in_hands:
            return False
        alike = abs(self.others_kg) >= SHARED_PART * abs(self.size)
        snow = self.outside is not None and self.outside <= THAW_CELSIUS
        return alike and (abs(self.size) <= RAIN_KG or self.slow or snow)

    @property
    def slow(self) -> bool:
        """Whether it took longer than any step, where sampling can tell."""
        return self.change.lasted > self.seen_within(SLOWEST)

    def seen_within(self, span: Millis) -> Millis:
        """Return the longest time between readings that hold something of a length: one interval more than it fills."""
        return round(1.05 * self.interval * (math.ceil(span / self.interval) + 1))

    @property
    def weather_like(self) -> bool:
        """Whether it came slowly, went one way, and is no more than weather can lay on a hive or take off it."""
        return self.slow and not self.overshot and abs(self.size) <= SNOW_KG

    @property
    def rained_on(self) -> bool:
        """Whether a gain is rain: no more than that lays on a hive, and a gauge tells of it, or it came by degrees.

        It is taken for rain, too, where neither gauge nor neighbour tells and no reading came while a shower passed.
        """
        if not self.maybe_rain:
            return False
        fallen = self.rain_until_now
        if fallen is not None and fallen >= SHOWER_MM:
            return True
        unknown = fallen is None and self.others_kg is None and self.change.gap >= SHOWER
        return unknown or self.change.underway > 1

    @property
    def maybe_rain(self) -> bool:
        """Whether a gain is no more than rain lays on a hive, and went one way."""
        return 0 < self.size <= RAIN_KG and not self.overshot

    @property
    def unhurried(self) -> bool:
        """Whether bees who gather, leave or eat may have done it between two readings: rare ones hide what it was.

        Where readings caught it underway: whether foragers who all leave, or stay away, could in all the time it took.
        """
        between = NATURE_KG_PER_HOUR * self.change.gap
        in_all = DRAIN_KG_PER_HOUR * self.change.lasted if self.change.underway else 0.0
        return not self.overshot and abs(self.size) * HOUR <= max(between, in_all) * self.bees_part

    @property
    def bees_part(self) -> float:
        """Which part of a colony's bees are there to leave, after a swarm."""
        few = self.swarmed is not None and self.swarmed.days <= REGROWN_DAYS
        return LEFT_BEHIND if few else 1.0

    @property
    def by_degrees(self) -> bool:
        """Whether it came in parts, none of them most of it nor faster than nature, and is no more than a soaking."""
        most = STEEPEST * self.bees_part * self.interval / HOUR + self.change.noise
        parts = abs(self.change.largest) < min(most, MOST_PART * abs(self.size))
        return parts and not self.overshot and abs(self.size) <= RAIN_KG

    @property
    def as_on_other_days(self) -> bool:
        """Whether the weight moved about as much around the same hour on the days before."""
        return not self.overshot and abs(self.size) < TIMES_OTHER_DAYS * self.routine_kg + OTHER_DAYS_KG

    @property
    def overshot(self) -> bool:
        """Whether the weight went clearly beyond both levels in between, as under a person's hands."""
        return self.change.overshot

    @property
    def in_hands(self) -> bool:
        """Whether the weight went so far beyond both levels that somebody was at the hive."""
        return self.change.overshoot >= STIR_KG

    @property
    def company(self) -> bool:
        """Whether somebody was at this hive or near it at that time."""
        return self.visited or self.visit_nearby

    @property
    def hands_about(self) -> bool:
        """Whether somebody was about then, or had this hive in hand shortly before."""
        return self.company or self.handled_before

    @property
    def nest_excursion(self) -> float | None:
        """How far the nest's temperature went, °C, signed; 0 where it goes about as far on other days."""
        if self.nest_change is None or abs(self.nest_change) > TIMES_WANDER * self.nest_routine:
            return self.nest_change
        return 0.0

    @property
    def just_settled(self) -> bool:
        """Whether the new level has stood for less than twenty minutes: who opened a hive may not have done with it.

        Bees that come back after a swarm are no such hands.
        """
        returning = self.size > 0 and self.swarmed is not None and self.swarmed.days <= LATEST_RETURN / DAY
        return self.change.settled < NEAR and not returning

    def numbers(self) -> dict[str, float]:
        """Return the numbers for an event's evidence."""
        known = {
            "old_kg": self.change.old,
            "new_kg": self.change.new,
            "minutes": self.change.lasted / MINUTE,
            "overshoot_kg": self.change.overshoot,
            "underway": float(self.change.underway),
            "noise_kg": self.change.noise,
            "others_kg": self.others_kg,
            "others": float(self.others),
            "routine_kg": self.routine_kg,
            "nest_change_celsius": self.nest_change,
            "humidity_change_points": self.humidity_change,
            "outside_celsius": self.outside,
            "rain_mm": self.rain,
            "solar_hour": self.solar_hour,
        }
        return {name: value for name, value in known.items() if value is not None}

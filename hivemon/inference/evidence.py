"""Everything that can speak for or against an explanation of one step, gathered once, as plain numbers."""

from __future__ import annotations

import math
import statistics
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from hivemon.inference.cause import Cause
from hivemon.inference.look import days_after_longest, solar_hour
from hivemon.inference.sensors import COARSE_STEP
from hivemon.model import DAY, HOUR, MINUTE, Entry, Kind, Millis, Quantity, Series
from hivemon.signals.clean import interval, level, without_spikes
from hivemon.signals.days import Jump, without_jumps
from hivemon.signals.steps import STEEPEST, largest_move
from hivemon.signals.weather import THAW_CELSIUS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.inference.look import Look
    from hivemon.inference.steps import Step
    from hivemon.model import LogEntry
    from hivemon.rules import Rules
    from hivemon.signals.steps import Change

LATEST_RETURN: Millis = 3 * HOUR
"""How long after leaving a swarm may be back at the latest, or a lifted thing be put back. Our rule."""

NEAR: Millis = 20 * MINUTE
"""Warm-up and cooling around a swarm's departure build within 10 to 20 minutes (Zacepins et al. 2016, from memory)."""

ROUTINE_DAYS = 3
"""How many days back the same hours are compared. Our rule."""

ROUTINE_SLACK: Millis = 2 * HOUR
"""Flight starts up to this much earlier or later from one day to the next. Our rule."""

EXPECTED_SIGN: dict[Entry, int] = {
    Entry.SUPER_ON: 1,
    Entry.FEED: 1,
    Entry.COMBINE: 1,
    Entry.SUPER_OFF: -1,
    Entry.HARVEST: -1,
    Entry.SPLIT: -1,
    Entry.SCALE_RESET: 0,
    Entry.MOVED: 0,
}
"""Which way each entry moves the weight; 0: either way. Entries not listed leave a hive as heavy as it was."""

OFF_CAUSES = (Cause.OFF_SCALE, Cause.FAULT)
"""Causes of the steps by which a weight went to nothing."""

DROPPING_OUT: Millis = 7 * DAY
"""How long a scale that has dropped out once is held to do it again. Our rule."""

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
"""How many times what the weight did in the same hours of the days before is still no news, and 0.2 kg more: less than
is asked of a swarm, which has more to tell. Our rule."""

OTHER_DAYS_KG = 0.2

STIR_KG = 1.5
"""A weight that rises this far within half an hour is in somebody's hands: bees, rain and snow stay below. Our rule."""

TIMES_WANDER = 2.0
"""How many times what it does on other days a nest's temperature goes when it tells something. Our rule."""

SWAPPED_PART = 0.1
"""What one hive lost and another gained at the same time was carried over if the two differ by no more. Our rule."""

BARE_PART = 1 / 3
"""Part of a hive's weight, up to twice the rule's least hive, that may stay on a scale when the hive has left it:
a stand, a floor, a lid, the half of it that leans there. Our rule."""

BEFORE: Millis = 3 * HOUR
"""How long before a change handling of the same hive still speaks for a person. Our rule."""

VISIT: Millis = 90 * MINUTE
"""A round of a yard's hives: how far apart handling of two of them may lie. Our rule."""


class Swarmed(NamedTuple):
    """A swarm before: how many days ago, and its size in kg."""

    days: float
    size: float


class Evidence(NamedTuple):
    """What is known about one step of one hive. None where there is nothing to know it from."""

    change: Change
    onset: Millis
    interval: Millis
    solar_hour: float
    daylight: bool
    fitting_entry: bool
    visited: bool
    amounts_logged: bool
    """Whether an entry near it is of a sort that moves the weight, be it as it was or not."""
    swarm_seen: bool
    others_kg: float | None
    others: int
    swapped: bool
    visit_nearby: bool
    handled_before: bool
    routine_kg: float
    nest_change: float | None
    nest_routine: float
    """How far the nest's temperature wanders in the same minutes of other days, °C."""
    humidity_change: float | None
    outside: float | None
    rain: float | None
    rain_until_now: float | None
    rain_due: bool
    put_on_before: float | None
    """Chance that a loss is as heavy as a thing laid on before only by luck; None: nothing as heavy lies there."""
    undoes: bool
    off_scale_kg: float
    dropped_out_before: bool
    dead: bool
    season_days: float | None
    dearth: bool
    swarmed: Swarmed | None
    losses_before: int

    @property
    def size(self) -> float:
        """Signed size, kg."""
        return self.change.size

    @property
    def left_scale(self) -> bool:
        """Whether what is left is no hive."""
        bare = self.change.new < min(2 * self.off_scale_kg, BARE_PART * self.change.old)
        return (self.change.new < self.off_scale_kg or bare) and self.size < -2 * self.off_scale_kg

    @property
    def shared(self) -> bool:
        """Whether the yard's other hives changed alike at the same time, as weather or the scales' temperature does it.

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
        """Whether a gain is rain's: no more than that lays on a hive, and a gauge tells of it, or it came by degrees.

        Where neither a gauge nor a neighbour tells, and no reading came for longer than a shower takes, it may be.
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
        """Whether bees gather, leave, eat or dry as much between two readings: rare ones hide what it was.

        Where they caught it underway, as much in all the time it took, if foragers all leave or stay away.
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


def gather(look: Look, change: Change, weight: Series, earlier: Sequence[Step], *, dearth: bool = False) -> Evidence:
    """Gather the evidence on one change of a hive's weight, from what is known now; `dearth`: the yard is in one."""
    onset = (change.before + change.after) // 2
    sun = look.sun
    entries = look.entries(change.before, change.after)
    usual = interval(weight.time)
    others = _others(look, change, usual)
    rain = look.other(Quantity.RAIN, None)
    nest = look.other(Quantity.TEMPERATURE, look.hive)
    return Evidence(
        change=change,
        onset=onset,
        interval=usual,
        solar_hour=solar_hour(look, onset),
        daylight=sun.dawn <= onset < sun.dusk,
        fitting_entry=any(_fits(entry, change) for entry in entries),
        visited=bool(entries),
        amounts_logged=any(entry.entry in EXPECTED_SIGN for entry in entries),
        swarm_seen=bool(look.entries(change.before, change.after, {Entry.SWARM_SEEN})),
        others_kg=statistics.median(others) if others else None,
        others=len(others),
        swapped=any(abs(o + change.size) <= SWAPPED_PART * abs(change.size) for o in others),
        visit_nearby=_visit_nearby(look, onset),
        handled_before=_handled_before(look, change, earlier),
        routine_kg=_routine(look, change, earlier),
        nest_change=_excursion(nest, change, usual),
        nest_routine=_wander(nest, change, usual),
        humidity_change=_excursion(look.other(Quantity.HUMIDITY, look.hive), change, usual),
        outside=_last(look.other(Quantity.OUTSIDE_TEMPERATURE, None), onset),
        rain=_sum(rain, onset - HOUR, onset),
        rain_until_now=_sum(rain, change.before - HOUR, look.now),
        rain_due=_due(rain, change, look.now),
        put_on_before=_put_on_before(change, earlier, look.rules),
        undoes=_undoes(change, earlier),
        off_scale_kg=look.rules.steps.off_scale_kg,
        dropped_out_before=_dropped_out(change, earlier),
        dead=_dead(weight, change),
        season_days=days_after_longest(look, onset),
        dearth=dearth,
        swarmed=_swarmed(look, onset),
        losses_before=_losses_before(look),
    )


def _others(look: Look, change: Change, usual: Millis) -> list[float]:
    """Return the change of each other hive over the same span, kg, between medians before and after."""
    found = []
    for hive in look.neighbours():
        series = look.other(Quantity.WEIGHT, hive)
        old = level(series, change.before - max(30 * MINUTE, usual), change.before + 1)
        new = level(series, change.after, look.now)
        if old is not None and new is not None:
            found.append(new - old)
    return found


def _visit_nearby(look: Look, onset: Millis) -> bool:
    """Whether a person was at another hive of the yard at about that time: by its weight, its steps or the logbook."""
    if look.visited(onset, VISIT):
        return True
    steps = look.events(Kind.UNLOGGED_STEP, since=onset - VISIT)
    if any(e.hive != look.hive and abs(e.onset - onset) <= VISIT for e in steps):
        return True
    around = (look.other(Quantity.WEIGHT, hive).between(onset - VISIT, onset + VISIT) for hive in look.neighbours())
    return any(stirred(part) for part in around)


def _swarmed(look: Look, onset: Millis) -> Swarmed | None:
    """Return this hive's last swarm that still stands, or None."""
    before = [e for e in look.events(Kind.SWARM, hive=look.hive) if e.onset < onset]
    return Swarmed((onset - before[-1].onset) / DAY, before[-1].size or 0.0) if before else None


def _losses_before(look: Look) -> int:
    """Return how many unlogged losses of a swarm's weight this hive has had in the weeks that are remembered."""
    rule = look.rules.swarm
    steps = look.events(Kind.UNLOGGED_STEP, hive=look.hive)
    return sum(rule.least_kg <= -(e.size or 0.0) <= rule.most_kg for e in steps)


def _handled_before(look: Look, change: Change, earlier: Sequence[Step]) -> bool:
    """Whether this hive was in somebody's hands shortly before: a step was judged, or its weight went to and fro."""
    handled = (step for step in earlier if step.cause is not Cause.WEATHER)
    if any(change.before - BEFORE <= step.after <= change.before for step in handled):
        return True
    return stirred(look.own(Quantity.WEIGHT).between(change.before - BEFORE, change.before + 1))


def stirred(part: Series) -> bool:
    """Whether a weight rose within half an hour as only hands can make it: something lifted was set down again."""
    rise = largest_move(part, 30 * MINUTE, 1.0)
    return rise is not None and rise >= STIR_KG


def _fits(entry: LogEntry, change: Change) -> bool:
    """Whether an entry says that such a change was made: by its direction, and its amount where one was given."""
    direction = EXPECTED_SIGN.get(entry.entry)
    if direction is None or (direction and direction * change.size < 0):
        return False
    return entry.amount is None or abs(abs(change.size) - entry.amount) <= max(1.5, 0.4 * entry.amount)


def _routine(look: Look, change: Change, earlier: Sequence[Step]) -> float:
    """Return the largest change of this sign and duration seen around the same hour on the days before, kg.

    The median over up to three days, without what hands and swarms did then: foragers leave at dawn, scales follow the
    sun.
    """
    span = max(change.lasted, 1)
    weight = without_spikes(look.own(Quantity.WEIGHT), 0.5)
    weight = without_jumps(
        weight, 0, [Jump(s.before, s.after, s.size) for s in earlier if s.cause is not Cause.WEATHER]
    )
    found = []
    for back in range(1, ROUTINE_DAYS + 1):
        shift = back * DAY
        part = weight.between(change.before - shift - ROUTINE_SLACK, change.after - shift + ROUTINE_SLACK)
        largest = largest_move(part, span, change.size)
        if largest is not None:
            found.append(largest)
    return statistics.median(found) if found else 0.0


def _excursion(series: Series, change: Change, usual: Millis, back: Millis = 0) -> float | None:
    """Return the furthest departure from the half hour before (two intervals, if slower), around the change, signed.

    `back`: how long before the change it is looked for.
    """
    before, after = change.before - back, change.after - back
    usual_level = level(series, before - max(45 * MINUTE, 2 * usual), before - NEAR // 2)
    during = series.between(before - NEAR // 2, after + NEAR + 1)
    if usual_level is None or not len(during.value):
        return None
    departures = during.value - usual_level
    return float(departures[np.argmax(np.abs(departures))])


def _wander(series: Series, change: Change, usual: Millis) -> float:
    """Return how far a series goes in the same minutes of the days before: the median; 0 where they are not known."""
    gone = [_excursion(series, change, usual, back * DAY) for back in range(1, ROUTINE_DAYS + 1)]
    known = [abs(far) for far in gone if far is not None]
    return statistics.median(known) if known else 0.0


def _last(series: Series, moment: Millis) -> float | None:
    """Return the newest value within two hours before a moment."""
    part = series.between(moment - 2 * HOUR, moment + 1)
    return float(part.value[-1]) if len(part.value) else None


def _sum(series: Series, start: Millis, end: Millis) -> float | None:
    """Return the sum of a span; None where the stream has nothing within six hours of it."""
    if not len(series.between(start - 6 * HOUR, end).value):
        return None
    return float(series.between(start, end).value.sum())


def _due(rain: Series, change: Change, now: Millis) -> bool:
    """Whether a gauge has yet to tell of a change: its row comes when the rain it holds has fallen."""
    if not len(rain.time) or rain.time[-1] >= change.after:
        return False
    return now <= change.after + min(interval(rain.time), HOUR)


def _put_on_before(change: Change, earlier: Sequence[Step], rules: Rules) -> float | None:
    """Return how likely a loss is as heavy as a thing that lies on the hive unlogged by chance; None: none is alike.

    Losses are held to be of any weight that a swarm may have.
    """
    room = 0.1 + 2 * change.noise
    lying = _lying(earlier, room)
    if change.size >= 0 or not any(_alike(step, change.size, change.largest, room) for step in lying):
        return None
    return min(1.0, len(lying) * 2 * room / (rules.swarm.most_kg - rules.swarm.least_kg))


def _lying(earlier: Sequence[Step], room: float) -> list[Step]:
    """Return by which steps things were laid on a hive unlogged that were not taken off again."""
    lying: list[Step] = []
    for step in earlier:
        if step.size > 0 and step.cause is Cause.UNLOGGED:
            lying.append(step)
        else:
            alike = [s for s in lying if step.size < 0 and _alike(s, step.size, step.jump, room)]
            lying = [s for s in lying if s is not alike[-1]] if alike else lying
    return lying


def _alike(laid_on: Step, size: float, jump: float, room: float) -> bool:
    """Whether a loss is as heavy as what was laid on: by its levels, or, where those rise or fall, by its jump."""
    known = laid_on.jump > 0 > jump
    return abs(laid_on.size + size) <= room or (known and abs(laid_on.jump + jump) <= room)


def _undoes(change: Change, earlier: Sequence[Step]) -> bool:
    """Whether this puts back what went within the last day, or takes off what came: one visit, one question."""
    room = 0.15 + 0.1 * abs(change.size)
    return any(abs(step.size + change.size) <= room for step in earlier if step.after >= change.before - DAY)


def _dropped_out(change: Change, earlier: Sequence[Step]) -> bool:
    """Whether the hive has been off its scale and back within the last days: only a loose wire does that."""
    gone = [s for s in earlier if s.cause in OFF_CAUSES and s.after >= change.before - DROPPING_OUT]
    return any(s.size > 0 and s.after > gone[0].after for s in earlier) if gone else False


def _dead(weight: Series, change: Change) -> bool:
    """Whether the scale says nothing at all, or repeats one value where it had noise: an empty scale has some.

    A coarse one rests on one value for hours.
    """
    since = weight.since(change.after).value
    levels = np.unique(weight.until(change.before).value[-6:])
    if float(np.ptp(since)) > 0.0 or len(levels) < 2:
        return False
    fine = float(np.diff(levels).min()) <= COARSE_STEP[Quantity.WEIGHT]
    return (fine and len(since) >= 3) or float(since[-1]) == 0.0

"""Is the brood kept warm and cool enough, or has the colony lost control of its nest?

A nest with brood at the sensor is held at 32-36 °C (Becher & Moritz 2009) and hardly moves within a day. Only a sensor
that has shown this is believed when it shows otherwise; one that never did hangs outside the brood and says nothing.
Breaks that belong to the calendar (after a swarm, a split, a new queen; the end of brood in autumn) are expected, no
alarms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import msgspec
import numpy as np

from hivemon.model import DAY, HOUR, Entry, HiveDay, Kind, Millis, Quantity, Series
from hivemon.signals.hours import hourly_mean
from hivemon.signals.sun import days_after_longest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hivemon.inference.look import Look
    from hivemon.rules import BroodRule, Rules

SETTLING_DAYS = 2
"""Days of a steady, warm nest before a sensor is believed to hang in brood. Our rule."""

STEADY_BAND = (32.5, 36.8)
"""Daily mean of a nest with brood: the regulated 32-36 °C (Becher & Moritz 2009), with a probe's error of 0.5 °C."""

BREAK_DAYS = 30
"""After a queen leaves, the last brood emerges by day 21 (24 for drones), and a queen raised in 16 days lays from day
16 to 25; no warm brood by day 28 to 30 means that she failed (development times: Morse, Cornell Coop. Extension)."""

BREAK_KG = (0.7, 10.0)
"""An unlogged loss of this size may have been a swarm that was missed, or frames with brood taken: 5,000 bees up to
five full frames. Our rule."""

AUTUMN_DAYS = 80
"""Days after the longest day from which colonies outside the tropics may let their brood end: mid-September in the
north. Our rule."""

STILL_BROOD: Millis = 3 * DAY
"""How long after the first bees have left a nest that goes cold tells that none stayed: an empty box is as cold as the
air within hours, and those that stay have open brood to warm for nine days (egg to capping: Winston 1987, from memory).
"""

DESERTED_REASON = "colder-than-any-rest-of-bees"
"""Why a nest is told to be cold that bees have lately left."""

HEAT_SOONER_HOURS = 1.0
"""How much sooner than cold heat is told: it ends with the day, and brood stands less of it. Our rule."""

DESERTED = (10.0, 12)
"""How far below its limit, °C, and for how many hours a nest goes cold while there must be brood in it: nobody is left
to warm it. A small rest draws together and leaves a sensor at its edge cooler, but not as cold as that. Our rule."""

PROBE_ERROR = 0.5
"""Error of a common digital probe, °C (data sheets of the DS18B20 kind)."""

EDGE_CELSIUS = 2.0
"""How far below its usual a nest is cold where that is below 34 °C: 32 °C is as far from the 34-34.5 °C at the heart of
the brood (Becher & Moritz 2009). Our rule."""

SPRING_DAYS = -125
"""Days before the longest day from which a colony outside the tropics has brood again. Our rule."""


class BroodMemory(msgspec.Struct, frozen=True):
    """What this question remembers of a hive's nest.

    `event` is the standing problem, '' for none; `excused` says that a loose nest was expected when it was first seen;
    `held_since`: while there is a problem, when its last hour beyond the limits, or its last loose day, was over.
    """

    steady_days: int = 0
    loose_days: int = 0
    excused: bool = False
    usual: float = 34.5
    event: str = ""
    kind: Kind | None = None
    heard: Millis = 0
    held_since: Millis = 0


class Spell(NamedTuple):
    """An unbroken run of hours up to now beyond a limit: start, hours, furthest value, degree-hours beyond it."""

    start: Millis
    hours: int
    furthest: float
    degree_hours: float


def gate(window: Series, first_new: int, rules: Rules) -> NDArray[np.int64]:
    """Return the times of new readings that close an hour whose mean lies beyond the limits."""
    rule = rules.brood
    time, value = window
    if first_new >= len(time):
        return time[:0]
    hour = time // HOUR
    start = int(np.searchsorted(time, hour[max(first_new - 1, 0)] * HOUR))
    first = np.flatnonzero(np.diff(hour[start:])) + 1 + start
    if not len(first):
        return time[:0]
    edges = np.concatenate(([start], first))
    means = np.add.reduceat(value[start:], edges - start)[:-1] / np.diff(edges)
    suspect = (means < rule.cold_celsius) | (means > rule.hot_celsius)
    closing = first[suspect]
    return time[closing[closing >= first_new]]


def asleep(memory: BroodMemory) -> bool:
    """Whether no hour before the day is reckoned up can be told: the sensor is not believed, or a problem stands."""
    return memory.steady_days < SETTLING_DAYS or bool(memory.event)


def judge_hour(look: Look, memory: BroodMemory) -> BroodMemory:
    """Look at the hours up to now: has cold or heat lasted long enough to be said?"""
    if asleep(memory):
        return memory
    rule = look.rules.brood
    end = look.now // HOUR * HOUR
    means = hourly_mean(look.own(Quantity.TEMPERATURE), end - 30 * HOUR, 30)
    hot = _spell(means - rule.hot_celsius, end)
    long = hot is not None and hot.hours >= rule.hours - HEAT_SOONER_HOURS
    if hot is not None and long and hot.furthest > PROBE_ERROR and _not_the_sensor(means):
        return _tell(look, memory, Kind.BROOD_HOT, hot, rule.hot_celsius + hot.furthest, "above-limit-for-hours")
    limit = cold_limit(rule, memory.usual)
    cold = _spell(limit - means, end)
    if cold is None or cold.hours < rule.hours or cold.degree_hours < 2 * rule.hours:
        return memory
    excuse = expected(look, cold.start)
    if _opened_lately(look, cold) or (excuse is not None and not _deserted(look, cold, excuse)):
        return memory
    reason = "below-limit-for-hours" if excuse is None else DESERTED_REASON
    return _tell(look, memory, Kind.BROOD_COLD, cold, limit - cold.furthest, reason)


def _deserted(look: Look, cold: Spell, excuse: str) -> bool:
    """Whether a nest that may be loose after bees left it has gone so cold, so soon, that no bees can be in it."""
    if excuse not in ("after-swarm", "after-unlogged-loss") or autumn(look, cold.start):
        return False
    far, hours = DESERTED
    if cold.furthest < far or cold.hours < hours:
        return False
    steps = look.events(Kind.SWARM, Kind.UNLOGGED_STEP, hive=look.hive, since=cold.start - BREAK_DAYS * DAY)
    left = [e.onset for e in steps if e.kind is Kind.SWARM or (e.size or 0.0) < 0]
    # Weeks after the old queen left her last brood hatches: what goes cold after an afterswarm is no news.
    return min(left, default=0) >= cold.start - STILL_BROOD


def cold_limit(rule: BroodRule, usual: float) -> float:
    """Return below what °C a nest is cold at this sensor, which has shown `usual` °C while all was well.

    At the edge of the brood it is cooler, and nights show: only what is well below the place's own usual is a chill.
    """
    return min(rule.cold_celsius, usual - EDGE_CELSIUS)


def judge_day(look: Look, memory: BroodMemory, day: HiveDay) -> BroodMemory:
    """Take in one more hive day: settle, notice a nest gone loose, or one that has recovered."""
    hourly = hourly_mean(look.other(Quantity.TEMPERATURE, look.hive), day.start, round((day.end - day.start) / HOUR))
    means = hourly[~np.isnan(hourly)]
    if len(means) < 12:
        return memory
    rule = look.rules.brood
    mean, swing = float(means.mean()), robust_swing(means)
    steady = STEADY_BAND[0] <= mean <= STEADY_BAND[1] and swing <= rule.brood_swing_celsius
    loose = swing >= rule.unstable_swing_celsius or mean < cold_limit(rule, memory.usual) - PROBE_ERROR
    memory = msgspec.structs.replace(
        memory,
        steady_days=min(memory.steady_days + 1, 30) if steady else memory.steady_days,
        loose_days=memory.loose_days + 1 if loose else 0,
        excused=memory.excused and not steady,
        usual=0.8 * memory.usual + 0.2 * mean if steady else memory.usual,
        held_since=day.end if loose else _held_since(memory, day, hourly, rule),
    )
    if memory.event and steady:
        return _recovered(look, memory)
    if memory.event and not _held_no_more(memory, means, rule):
        return memory
    if loose and memory.loose_days >= 2 and memory.steady_days >= SETTLING_DAYS:
        return _gone_loose(look, memory, day, mean, swing)
    return memory


def _held_no_more(memory: BroodMemory, means: NDArray[np.float64], rule: BroodRule) -> bool:
    """Whether a nest told to be too hot or too cold has been loose since, without heat: then its brood may be lost."""
    return memory.kind is not Kind.BROOD_UNSTABLE and memory.loose_days >= 2 and not (means > rule.hot_celsius).any()


def robust_swing(means: NDArray[np.float64]) -> float:
    """Return the swing of a day's hourly means without the two most extreme at either end: a lid off is no loss."""
    ordered = np.sort(means)
    return float(ordered[-3] - ordered[2])


def expected(look: Look, moment: Millis, *, excused: bool = False) -> str | None:
    """Return why a nest without steady warmth is no alarm now, as a named reason, or None.

    An unlogged loss explains a break that follows it, not one already `excused`.
    """
    since = moment - BREAK_DAYS * DAY
    if any(e.onset <= moment + DAY for e in look.events(Kind.SWARM, hive=look.hive, since=since)):
        return "after-swarm"
    if look.logged(look.hive, {Entry.SPLIT, Entry.REQUEEN, Entry.SWARM_SEEN, Entry.COMBINE}, since, moment + DAY):
        return "after-split-or-new-queen"
    low, high = BREAK_KG
    steps = look.events(Kind.UNLOGGED_STEP, hive=look.hive, since=since)
    if not excused and any(low <= -(e.size or 0.0) <= high and e.onset <= moment + DAY for e in steps):
        return "after-unlogged-loss"
    return "autumn" if autumn(look, moment) else None


def autumn(look: Look, moment: Millis) -> bool:
    """Whether brood may be ending for the year: outside the tropics, from late summer to late winter."""
    days = days_after_longest(look.yard, moment)
    return days is not None and not SPRING_DAYS < days < AUTUMN_DAYS


def _spell(beyond: NDArray[np.float64], end: Millis) -> Spell | None:
    """Return the unbroken run of positive values at the end of an hourly series, or None."""
    over = beyond > 0
    if not len(over) or not over[-1]:
        return None
    outside = np.flatnonzero(~over)
    first = int(outside[-1]) + 1 if len(outside) else 0
    part = beyond[first:]
    return Spell(end - len(part) * HOUR, len(part), float(part.max()), float(part.sum()))


def _not_the_sensor(means: NDArray[np.float64]) -> bool:
    """Whether the heat came as heat comes, by degrees: no jump of ten between neighbouring hours."""
    known = means[~np.isnan(means)]
    return len(known) < 2 or float(np.abs(np.diff(known)).max()) < 10.0


def _opened_lately(look: Look, spell: Spell) -> bool:
    """Whether the hive was opened just before: a nest is warm again within hours of that."""
    return spell.hours < 8 and bool(look.entries(spell.start - HOUR, spell.start + HOUR))


def _tell(look: Look, memory: BroodMemory, kind: Kind, spell: Spell, furthest: float, reason: str) -> BroodMemory:
    hot = kind is Kind.BROOD_HOT
    event = look.tell(
        kind,
        onset=spell.start,
        size=furthest,
        unit="Cel",
        confidence=0.7 + min(0.2, 0.02 * spell.degree_hours),
        reason=reason,
        summary=f"The brood nest has been {'above' if hot else 'below'} its limit for {spell.hours} hours, "
        f"{'up' if hot else 'down'} to {furthest:.1f} °C.",
        evidence={
            "hours": spell.hours,
            "degree_hours": spell.degree_hours,
            "usual_celsius": memory.usual,
            **_outside(look),
        },
    )
    return msgspec.structs.replace(memory, event=event.id, kind=kind, heard=look.now)


def _outside(look: Look) -> dict[str, float]:
    series = look.other(Quantity.OUTSIDE_TEMPERATURE, None).since(look.now - 2 * HOUR)
    return {"outside_celsius": float(series.value[-1])} if len(series.value) else {}


def _gone_loose(look: Look, memory: BroodMemory, day: HiveDay, mean: float, swing: float) -> BroodMemory:
    """Tell that the nest's temperature is no longer held, unless that is to be expected now.

    After autumn the nest must show itself anew; a break after a swarm or the like is excused only while it may last.
    """
    why = expected(look, day.start, excused=memory.excused)
    if why == "autumn":
        return msgspec.structs.replace(memory, steady_days=0, loose_days=0, excused=False)
    if why is not None:
        return msgspec.structs.replace(memory, excused=True)
    onset = day.start if memory.excused else day.start - (memory.loose_days - 1) * DAY
    before = look.event(memory.event)  # a nest too cold or too hot that has not been held since
    event = look.tell(
        Kind.BROOD_UNSTABLE,
        onset=onset if before is None else max(onset, before.onset),
        size=swing,
        unit="Cel",
        confidence=0.6 + min(0.3, 0.05 * swing),
        reason="break-too-long" if memory.excused else "swing-without-reason",
        summary=f"The brood nest swings by {swing:.1f} °C within a day; it was steady at {memory.usual:.1f} °C before.",
        evidence={"swing_celsius": swing, "mean_celsius": mean, "usual_celsius": memory.usual, **_outside(look)},
    )
    return msgspec.structs.replace(memory, event=event.id, kind=Kind.BROOD_UNSTABLE, heard=look.now)


def _recovered(look: Look, memory: BroodMemory) -> BroodMemory:
    """Tell that a whole day has been steady again, and let the problem rest."""
    problem = look.event(memory.event)
    look.tell(
        Kind.BROOD_RECOVERED,
        onset=max(memory.held_since, problem.onset if problem is not None else 0),
        size=memory.usual,
        unit="Cel",
        confidence=0.85,
        reason="steady-for-a-day",
        summary=f"The brood nest has been steady again for a day, near {memory.usual:.1f} °C.",
        evidence={"usual_celsius": memory.usual, "steady": 1.0},
    )
    return msgspec.structs.replace(memory, event="", kind=None, loose_days=0)


def _held_since(memory: BroodMemory, day: HiveDay, hourly: NDArray[np.float64], rule: BroodRule) -> Millis:
    """Return since when no hour has been beyond the limits, as far as a day's hourly means tell."""
    beyond = np.flatnonzero((hourly < cold_limit(rule, memory.usual)) | (hourly > rule.hot_celsius))
    return day.start + (int(beyond[-1]) + 1) * HOUR if len(beyond) else memory.held_since or day.start

"""Gathering the evidence on one step of a hive: from its streams, its neighbours, its steps before and the logbook."""

from __future__ import annotations

import statistics
from typing import TYPE_CHECKING

import numpy as np

from hivemon.inference.cause import Cause, jumps, unnatural
from hivemon.inference.evidence import NEAR, Evidence, Swarmed
from hivemon.inference.sensors import COARSE_STEP, DROP_OUTS, falls
from hivemon.model import DAY, HOUR, MINUTE, WEIGHT_SIGN, Entry, Kind, Millis, Quantity, Series
from hivemon.signals.clean import interval, level, without_spikes
from hivemon.signals.days import without_jumps
from hivemon.signals.moves import largest_move, stirred
from hivemon.signals.sun import days_after_longest, solar_hour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.inference.look import Look
    from hivemon.inference.steps import Step
    from hivemon.model import LogEntry
    from hivemon.rules import Rules
    from hivemon.signals.steps import Change

ROUTINE_DAYS = 3
"""How many days back the same hours are compared. Our rule."""

ROUTINE_SLACK: Millis = 2 * HOUR
"""Flight starts up to this much earlier or later from one day to the next. Our rule."""

BEFORE: Millis = 3 * HOUR
"""How long before a change handling of the same hive still speaks for a person. Our rule."""

VISIT: Millis = 90 * MINUTE
"""A round of a yard's hives: how far apart handling of two of them may lie. Our rule."""

SWAPPED_PART = 0.1
"""What one hive lost and another gained at the same time was carried over if the two differ by no more. Our rule."""

OFF_CAUSES = (Cause.OFF_SCALE, Cause.FAULT)
"""Causes of the steps by which a weight went to nothing."""

DROPPING_OUT: Millis = 7 * DAY
"""How long a scale that has dropped out once is held to do it again. Our rule."""


def gather(
    look: Look, change: Change, weight: Series, earlier: Sequence[Step], *, dearth: bool = False, wanders: bool = False
) -> Evidence:
    """Gather the evidence on one change of a hive's weight, from what is known now.

    `dearth`: the yard is in one; `wanders`: the scale is known to go up and down by itself.
    """
    onset = (change.before + change.after) // 2
    sun = look.sun
    entries = look.entries(change.before, change.after)
    usual = interval(weight.time)
    others = _others(look, change, onset, usual)
    rain = look.other(Quantity.RAIN, None)
    nest = look.other(Quantity.TEMPERATURE, look.hive)
    return Evidence(
        change=change,
        onset=onset,
        interval=usual,
        solar_hour=solar_hour(look.yard, onset),
        daylight=sun.dawn <= onset < sun.dusk,
        fitting_entry=any(_fits(entry, change) for entry in entries),
        weight_entry=any(entry.entry in WEIGHT_SIGN for entry in entries),
        visited=bool(entries),
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
        undoes=bool(undone_by(change, earlier)),
        off_scale_kg=look.rules.steps.off_scale_kg,
        dropped_out_before=_dropped_out(change, earlier) or _flickers(look, change),
        dead=_dead(weight, change),
        season_days=days_after_longest(look.yard, onset),
        dearth=dearth,
        wanders=wanders,
        swarmed=_swarmed(look, onset),
        losses_before=_losses_before(look),
    )


def _others(look: Look, change: Change, onset: Millis, usual: Millis) -> list[float]:
    """Return the change of each other hive over the same span, kg, between medians before and after."""
    found = []
    for hive in look.neighbours():
        series = look.other(Quantity.WEIGHT, hive)
        old = level(series, change.before - max(30 * MINUTE, usual), change.before + 1)
        new = level(series, change.after, look.now)
        if new is None:  # read just before this hive's own reading, and not again since
            new = level(series, onset, change.after)
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
    if any(change.before - BEFORE <= step.after <= change.before for step in unnatural(earlier)):
        return True
    return stirred(look.own(Quantity.WEIGHT).between(change.before - BEFORE, change.before + 1))


def _fits(entry: LogEntry, change: Change) -> bool:
    """Whether an entry says that such a change was made: by its direction, and its amount where one was given."""
    direction = WEIGHT_SIGN.get(entry.entry)
    if direction is None or (direction and direction * change.size < 0):
        return False
    return entry.amount is None or abs(abs(change.size) - entry.amount) <= max(1.5, 0.4 * entry.amount)


def _routine(look: Look, change: Change, earlier: Sequence[Step]) -> float:
    """Return the largest change of this sign and duration seen around the same hour on the days before, kg.

    The median over up to three days, without what hands and swarms did then: foragers leave at dawn, scales follow the
    sun.
    """
    span = max(change.lasted, 1)
    weight = without_jumps(without_spikes(look.own(Quantity.WEIGHT), 0.5), 0, jumps(earlier))
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


def undone_by(change: Change, earlier: Sequence[Step]) -> list[Step]:
    """Return the steps of the last day that this puts back, or takes off again: one visit, one question."""
    room = 0.15 + 0.1 * abs(change.size)
    return [step for step in earlier if step.after >= change.before - DAY and abs(step.size + change.size) <= room]


def _dropped_out(change: Change, earlier: Sequence[Step]) -> bool:
    """Whether the hive has been off its scale and back within the last days: only a loose wire does that."""
    gone = [s for s in earlier if s.cause in OFF_CAUSES and s.after >= change.before - DROPPING_OUT]
    return any(s.size > 0 and s.after > gone[0].after for s in earlier) if gone else False


def _flickers(look: Look, change: Change) -> bool:
    """Whether a weight has lately gone to nothing and come back by itself more than once, too short to be judged."""
    lately = look.own(Quantity.WEIGHT).between(change.before - BEFORE, change.before + 1)
    returns = falls(lately.value[::-1], look.rules.steps.off_scale_kg)  # read backwards, it falls where it came back
    return returns >= DROP_OUTS


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

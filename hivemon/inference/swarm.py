"""Did a swarm leave? Judged on the evidence of one step of the weight.

A swarm is 0.7 to 5 kg of bees gone within minutes, by day, in flying weather, and not back within an hour or so. The
nest may warm by 1.5-3.4 °C just before (Zacepins et al. 2016), cool by about two (Ferrari et al. 2008), or show
nothing, depending on where the sensor hangs: temperature may support, never decide.

What cannot be a swarm is ruled out by name. What is left is weighed: how much likelier is each piece of evidence when a
swarm left than when a person took something? The sum of these log likelihood ratios is the confidence.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from hivemon.inference.evidence import LATEST_RETURN, NEAR
from hivemon.model import HOUR, MINUTE, Kind, Millis
from hivemon.signals.steps import NOISE_FLOOR_KG, PLATEAU

if TYPE_CHECKING:
    from hivemon.inference.evidence import Evidence
    from hivemon.inference.look import Look
    from hivemon.inference.steps import Step
    from hivemon.model import Event
    from hivemon.rules import Rules

KG_PER_BEE = (130e-6, 160e-6)
"""A bee leaving with her honey load: 130-165 mg (Combs 1972; Otis 1982, from memory); trade packages 130 mg."""

LEAVING_HOURS = (8.5, 17.5)
"""Sun's hours between which swarms leave: mostly 10-15, later where a day clears late (Burgett & Morse 1974)."""

USUAL_HOURS = (9.5, 15.5)
"""Sun's hours of most swarms (Burgett & Morse 1974, from memory), with half an hour on either side."""

USUAL_KG = (1.2, 4.0)
"""Mass of most prime swarms: 9,000 to 25,000 bees at 130-160 mg (Fell et al. 1977, from memory)."""

SMALL_KG = 1.0
"""Prime swarms are hardly ever smaller: 5,000 to 7,000 bees are the least of them, 11,000 to 16,000 their mean (Fell et
al. 1977; Winston 1980, from memory)."""

EXIT_MINUTES = (3.0, 14.0)
"""Shortest and longest time in which a scale sees a swarm pour out: 5 to 20 minutes (Winston 1987; Seeley 2010, from
memory) without its first and last bees, a tenth of it or what noise hides at either end: they are few at a time."""

LONGEST_EXIT_MINUTES = 20.0
"""Longest time in which a swarm pours out (Winston 1987; Seeley 2010, from memory)."""

EVENLY = 0.8
"""Part of an even pouring that must be seen in its fastest interval: bursts make it more, noise less. Our rule."""

TIMES_ROUTINE = (2.2, 1.6)
"""How many times what the weight did in the same hours of the days before a swarm must weigh, and 0.3 kg more; less
where it was caught pouring out. Our rule."""

LEAST_CHANCE = 0.03
"""No departure is held to be less likely than this to look as it does. Our rule."""

LID_OFF_CELSIUS = -3.0
"""A nest that cools by more than this has been opened: Ferrari et al. saw 2 °C when a swarm left. Our rule."""

LID_OFF_POINTS = -15.0
"""Humidity falls this far under an open lid; bees alone can do it too (Sachs & Tautz 2017), so never by itself."""

WARM_UP_CELSIUS = (1.0, 5.0)
"""The warm-up before leaving, 1.5-3.4 °C (Zacepins et al. 2016, from memory), with room for the sensor's place."""

SEASON_DAYS = (45.0, 100.0)
"""Days after the longest day from which swarms are few, and from which they all but cease until the days grow again
(four to eight weeks of spring, a small late-summer peak in places: Fell et al. 1977, from memory)."""

SPRING_DAYS = (-140.0, -110.0)
"""Days before the longest day from which the first colonies are strong enough to swarm, and from which all may be:
February in the south. Our rule."""

AFTERSWARM_DAYS = (6.0, 16.0)
"""Days after a swarm in which a smaller one is to be expected: 7 to 14, mostly 8 to 10 (Winston 1987, from memory)."""

PIECEMEAL = (0.9, 0.1, 0.05)
"""In how many of a hundred unlogged losses of a swarm's size that go one way no reading, one, or more lie well between
the levels. A person lifts; what is taken out piece by piece begins with a lid or a super set aside, and shows as going
to and fro. Our rule."""

TAKEN_OFF = (0.65, 0.13, 0.05)
"""Of a person's losses that no reading, one, or more caught underway, the part by which a thing is gone that was laid
on before: it goes at once. Our rule."""

GAP_PART = 1.6
"""How many times longer than usual no reading came when it counts as a gap: whoever works at a hive moves its wires.
Our rule."""

GUSTS = -1.2
"""What wind says: swarms wait for calm (common practice), stones and lids fall off. Our rule."""

MOVED_CELSIUS = 0.35
"""A nest that cools by this much, and by more than on other days, has lost bees, or its lid: Ferrari et al. (2008) saw
2 °C when a swarm left, a sensor further off sees less. Our rule."""

SLIGHT_CELSIUS = 0.3
"""From where on a nest that warms says something, the more the warmer: at its edge a warm-up is felt less. Our rule."""

STILL = -0.8
"""What a nest says that stood still: a warm-up passes some sensors by, and what is taken off the lid all of them."""

AFTERSWARM_PART = 0.7
"""Most that an afterswarm weighs of the swarm before it (smaller: Winston 1987, from memory). Our rule."""

BACK_PART = 0.4
"""Part of a swarm that may be missing, or be too much, when the weight counts as back. Our rule."""

STRAGGLING: Millis = 15 * MINUTE
"""Longest rest between two bursts of one swarm, as readings show it: half of the longest exit (Winston 1987, from
memory) and the time between two readings. Our rule."""

SURE_AT_ONCE = 1.7
"""Log odds at which a swarm is said without waiting for more: five and a half to one."""

SURE_IN_COMPANY = 2.7
"""The same while somebody is at the hive or near it: fifteen to one."""


def why_not(e: Evidence, rules: Rules) -> str | None:
    """Return the named reason why a settled step is no swarm, or None when it is probably one."""
    rule = rules.swarm
    checks = (
        ("gain", e.size >= 0),
        ("too-small", -e.size < rule.least_kg + e.change.noise - NOISE_FLOOR_KG + max(-e.change.trend, 0.0)),
        ("too-much-for-bees", e.size < -rule.most_kg),
        ("dark", not e.daylight),
        ("wrong-hour", not LEAVING_HOURS[0] <= e.solar_hour <= LEAVING_HOURS[1]),
        ("too-cold-to-fly", e.outside is not None and e.outside < rule.flying_celsius),
        ("raining", e.rain is not None and e.rain > 1.0),
        ("happens-every-day", -e.size < TIMES_ROUTINE[e.change.underway > 1] * e.routine_kg + 0.3),
        ("not-at-rest-before", e.change.stood < PLATEAU),
        ("too-slow", e.change.lasted > e.seen_within(round(rule.longest_minutes * MINUTE))),
        ("by-degrees", e.by_degrees or abs(e.change.largest) < _least_part(e.interval) * abs(e.size)),
        ("weight-went-to-and-fro", e.overshot),
        ("hive-opened", _opened(e)),
        ("likelier-a-person", log_odds(e) < 0),
    )
    return next((reason for reason, holds in checks if holds), None)


def _least_part(interval: Millis) -> float:
    """Return the least part of a swarm that leaves between some reading and the next, with bursts and noise granted.

    Of what pours out evenly in the longest time an interval holds its share; no more than half where one reading
    parts it.
    """
    return EVENLY * min(interval / (LONGEST_EXIT_MINUTES * MINUTE), 0.5)


def _opened(e: Evidence) -> bool:
    """Whether nest temperature, or temperature and humidity together, say that the lid was off."""
    if e.nest_change is None:
        return False
    dried = e.humidity_change is not None and e.humidity_change <= LID_OFF_POINTS
    return e.nest_change <= LID_OFF_CELSIUS or (dried and e.nest_change <= LID_OFF_CELSIUS / 2)


@lru_cache(maxsize=256)
def chance_underway(interval: Millis) -> tuple[float, float, float]:
    """Return the chances that no reading, one, or more catch a departure underway, its length even over `EXIT_MINUTES`.

    A departure that lasts as long as x intervals holds the whole part of x readings, and one more with the chance of
    its fraction, since it begins at any moment between two readings.
    """
    lasts = np.linspace(*EXIT_MINUTES, 101) * MINUTE / interval
    none = float(np.clip(1 - lasts, 0, 1).mean())
    one = float(np.clip(1 - np.abs(lasts - 1), 0, 1).mean())
    return none, one, 1 - none - one


def weights(e: Evidence) -> dict[str, float]:
    """Return the log likelihood ratio, swarm against person, of each piece of evidence. 0: says nothing.

    The chances of a sudden loss follow from how long swarms take, the odds of another unlogged loss from how many
    there were (Laplace's rule of succession). The other ratios are our rule: how often each is seen in a hundred swarms
    and in a hundred unlogged losses of a swarm's size, judged from the trade and held against what three makers of
    seasons who share no code show alike; what speaks most is counted for less than they say. The bench checks the sum.
    """
    seen = 0 if e.change.reversals else min(e.change.underway, 2)  # what goes to and fro is carried, not pouring out
    left = chance_underway(max(e.interval, e.change.gap) if e.change.abrupt else e.interval)[seen]
    return {
        "suddenness": math.log(max(left, LEAST_CHANCE) / PIECEMEAL[seen]),
        "path": math.log(0.1 / 0.4) if e.change.reversals else 0.0,
        "season": _season(e),
        "hour": 0.5 if USUAL_HOURS[0] <= e.solar_hour <= USUAL_HOURS[1] else -0.9,
        "size": _size(e),
        "nest": _nest(e),
        "humidity": _humidity(e),
        "visit": _visit(e),
        "gap": -1.0 if e.change.gap > GAP_PART * e.interval else 0.0,
        "habit": -math.log(1 + e.losses_before),
        "swapped": (-2.5 if e.change.abrupt else -1.0) if e.swapped else 0.0,
        "afterswarm": _afterswarm(e),
        "put-on-before": _put_on_before(e.put_on_before, TAKEN_OFF[seen]),
        "wind": GUSTS if e.change.windy else 0.0,
        "seen": 4.0 if e.swarm_seen else 0.0,
    }


def _season(e: Evidence) -> float:
    """Return what the time of year says: spring for, late summer and dearth against, autumn and winter strongly."""
    days = e.season_days
    dearth = -0.7 if e.dearth else 0.0
    if days is None:
        return dearth
    if days > SEASON_DAYS[1]:
        return -2.5 + dearth
    return (-0.7 if days > SEASON_DAYS[0] else float(np.interp(days, SPRING_DAYS, (-2.5, 0.7)))) + dearth


def _size(e: Evidence) -> float:
    """Return what the mass says: for that of most prime swarms, against a small one where none went before."""
    mass = -e.size
    if mass < SMALL_KG and not _afterswarm_due(e):
        return -1.0
    return 0.2 if USUAL_KG[0] <= mass <= USUAL_KG[1] else -0.3


def _afterswarm_due(e: Evidence) -> bool:
    return e.swarmed is not None and AFTERSWARM_DAYS[0] <= e.swarmed.days <= AFTERSWARM_DAYS[1]


def _afterswarm(e: Evidence) -> float:
    """Return what a swarm some days ago says: a smaller one is to be expected, another as large is not."""
    if e.swarmed is None or not _afterswarm_due(e):
        return 0.0
    return 1.5 if -e.size <= AFTERSWARM_PART * e.swarmed.size else -0.5


def _visit(e: Evidence) -> float:
    """Return what a person's presence says: this hive in their hands shortly before, somebody at it or near; nobody."""
    if e.handled_before:
        return -3.0
    if e.company:
        return -2.0
    return 1.2 if e.others else 0.3


def _put_on_before(by_chance: float | None, taken_off: float) -> float:
    """Return what it says that a thing of this very weight lay on the hive: bees weigh as much `by_chance` only.

    `taken_off`: the part of a person's losses that are such a thing.
    """
    return 0.0 if by_chance is None else math.log(by_chance / (taken_off + (1 - taken_off) * by_chance))


def _humidity(e: Evidence) -> float:
    """Return what the hive's humidity says: it falls under an open lid, and stands still when bees leave by the door.

    A thing taken off the lid leaves it as it is, so that standing still speaks only where the loss took its time, or
    where a visit is logged, by which the hive was open.
    """
    if e.humidity_change is None:
        return 0.0
    if e.humidity_change <= LID_OFF_POINTS / 2:
        return -2.6 if e.humidity_change <= LID_OFF_POINTS else -0.4
    if e.humidity_change <= LID_OFF_POINTS / 3:
        return 0.0
    if e.visited:
        return 0.4
    return 0.0 if e.change.abrupt else 0.5


def _nest(e: Evidence) -> float:
    """Return what the nest's temperature says: bees who leave move it, mostly; a stone or a super that goes does not.

    It cools under an open lid, too, if somebody is about.
    """
    went = e.nest_excursion
    if went is None:
        return 0.0
    if went <= LID_OFF_CELSIUS:
        return -0.6
    if went > -MOVED_CELSIUS:
        return _warmed(e, went)
    return 0.0 if e.hands_about else _cooled(e.humidity_change)


def _warmed(e: Evidence, went: float) -> float:
    """Return what a nest says that warmed by so many °C, or stood still: a warm-up is hardly ever seen otherwise.

    A slight one is the day's own course where readings are rarer than it lasts, and may be hands' where they are about.
    """
    slight = went < WARM_UP_CELSIUS[0]
    if went > WARM_UP_CELSIUS[1] or (slight and e.interval > NEAR):
        return STILL
    said = float(np.interp(went, (SLIGHT_CELSIUS, WARM_UP_CELSIUS[0]), (STILL, 2.5)))
    return min(said, 0.0) if slight and e.hands_about else said


def _cooled(humidity_change: float | None) -> float:
    """Return what a nest that cools says where nobody is known to be about: under an open lid it dries, too."""
    if humidity_change is None:
        return 1.0
    if humidity_change <= LID_OFF_POINTS:
        return 0.0
    return 1.0 if humidity_change <= LID_OFF_POINTS / 2 else 1.5


def log_odds(e: Evidence) -> float:
    """Return the log odds that a loss which passed every other check is a swarm."""
    return sum(weights(e).values())


def confidence(e: Evidence) -> float:
    """Return the probability that belongs to the log odds, 0 to 1."""
    return 1 / (1 + math.exp(-log_odds(e)))


def tell(look: Look, e: Evidence, reason: str) -> Event:
    """Raise a swarm: size in kg (positive, the mass that left), bees as a range."""
    return look.tell(
        Kind.SWARM,
        onset=e.onset,
        size=-e.size,
        unit="kg",
        confidence=confidence(e),
        reason=reason,
        summary=_summary(-e.size, e.change.lasted),
        evidence={**e.numbers(), **_bees(-e.size)},
    )


def goes_on(e: Evidence, swarm: Event, left: Millis, rules: Rules) -> bool:
    """Whether a loss is the rest of the swarm that was said minutes before: bees pour out in bursts.

    `left`: when the swarm was out, as far as was known.
    """
    soon = e.change.before - left <= STRAGGLING
    return soon and e.size < 0 and (swarm.size or 0.0) - e.size <= rules.swarm.most_kg


def add(look: Look, swarm: Event, e: Evidence) -> None:
    """Add the rest to a swarm: its mass, its bees."""
    mass = (swarm.size or 0.0) - e.size
    lasted = round(swarm.evidence["minutes"] * MINUTE) + e.change.lasted
    numbers = {"new_kg": e.change.new, "minutes": lasted / MINUTE, **_bees(mass)}
    evidence = {**swarm.evidence, **{name: round(value, 3) for name, value in numbers.items()}}
    look.amend(swarm.id, size=round(mass, 3), summary=_summary(mass, lasted), evidence=evidence)


def _bees(mass: float) -> dict[str, float]:
    return {"bees_low": mass / KG_PER_BEE[1], "bees_high": mass / KG_PER_BEE[0]}


def _summary(mass: float, lasted: Millis) -> str:
    low, high = (round(bees, -3) for bees in _bees(mass).values())
    return f"{mass:.1f} kg left within {lasted // MINUTE} minutes: about {low:,.0f} to {high:,.0f} bees."


def taken_back(look: Look, swarm: Event, left: Millis, step: Step, level: float) -> str | None:
    """Return why a later step of the same hive, leading to `level` kg, undoes a swarm said before, in words, or None.

    `left`: when the swarm was out.
    """
    rule = look.rules.swarm
    lost = swarm.size or 0.0
    apart = step.before - left
    missing = swarm.evidence["old_kg"] - level
    if step.size > 0 and abs(missing) <= BACK_PART * lost and apart <= max(rule.return_minutes * MINUTE, LATEST_RETURN):
        return "the weight came back: the swarm returned, or something was lifted and put back"
    seen_pouring = swarm.evidence.get("underway", 0) > 0
    if step.size < 0 and apart <= HOUR and lost - step.size > rule.most_kg and not seen_pouring:
        return "more went soon after, more than a swarm weighs: somebody took it"
    return None

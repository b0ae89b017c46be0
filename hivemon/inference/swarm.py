"""Did a swarm leave? Judged on the evidence of one step of the weight.

A swarm is 0.7 to 5 kg of bees gone within minutes, by day, in flying weather, and not back within an hour or so. The nest
may warm by 1.5-3.4 °C just before (Zacepins et al. 2016), cool by about two (Ferrari et al. 2008), or show nothing,
depending on where the sensor hangs: temperature may support, never decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.model import HOUR, MINUTE, Kind, Millis

if TYPE_CHECKING:
    from hivemon.inference.evidence import Evidence
    from hivemon.inference.look import Look
    from hivemon.model import Event
    from hivemon.rules import Rules

KG_PER_BEE = (130e-6, 160e-6)
"""A bee leaving with her honey load: 130-165 mg (Combs 1972; Otis 1982, from memory); trade packages 130 mg."""

LEAVING_HOURS = (8.5, 17.5)
"""Sun's hours between which swarms leave: mostly 10-15, later where a day clears late (Burgett & Morse 1974)."""

LID_OFF_CELSIUS = -3.0
"""A nest that cools by more than this has been opened: Ferrari et al. saw 2 °C when a swarm left. Our rule."""

LID_OFF_POINTS = -15.0
"""Humidity falls this far under an open lid; bees alone can do it too (Sachs & Tautz 2017), so never by itself."""


def why_not(e: Evidence, rules: Rules) -> str | None:
    """Return the named reason why a settled step is no swarm, or None when it is probably one."""
    rule = rules.swarm
    checks = (
        ("gain", e.size >= 0),
        ("too-small", -rule.least_kg < e.size < 0),
        ("too-much-for-bees", e.size < -rule.most_kg),
        ("dark", not e.daylight),
        ("wrong-hour", not LEAVING_HOURS[0] <= e.solar_hour <= LEAVING_HOURS[1]),
        ("too-cold-to-fly", e.outside is not None and e.outside < rule.flying_celsius),
        ("raining", e.rain is not None and e.rain > 1.0),
        ("happens-every-day", -e.size < 1.8 * e.routine_kg + 0.3),
        ("too-slow", e.change.lasted > max(rule.longest_minutes * MINUTE, 1.2 * e.interval)),
        ("weight-went-to-and-fro", e.overshot),
        ("hive-opened", _opened(e)),
        ("what-was-put-on-came-off", e.put_on_before and e.abrupt),
        ("a-person-was-in-the-yard", e.visit_nearby and (e.abrupt or e.stirred)),
    )
    return next((reason for reason, holds in checks if holds), None)


def _opened(e: Evidence) -> bool:
    """Whether nest temperature, or temperature and humidity together, say that the lid was off."""
    if e.nest_change is None:
        return False
    person = e.visit_nearby or e.visited
    enough = LID_OFF_POINTS * (0.5 if person else 1.0)
    dried = person if e.humidity_change is None else e.humidity_change <= enough
    return e.nest_change <= LID_OFF_CELSIUS or (dried and e.nest_change <= LID_OFF_CELSIUS / 2)


def confidence(e: Evidence) -> float:
    """Return how likely a loss that passed every check is a swarm, 0 to 1. Weights are our rule, checked in the bench."""
    score = 0.7
    score += 0.1 if not e.abrupt else (-0.1 if e.fine_sampling else 0.0)
    score += 0.1 if e.nest_change is not None and 1.0 <= e.nest_change <= 5.0 else 0.0
    score += 0.05 if 9.5 <= e.solar_hour <= 15.5 else -0.05
    score += 0.05 if -e.size >= 1.2 else -0.05
    score += 0.15 if e.swarm_seen else 0.0
    score -= 0.1 if e.visit_nearby or e.visited else 0.0
    return score


def tell(look: Look, e: Evidence, reason: str) -> Event:
    """Raise a swarm: size in kg (positive, the mass that left), bees as a range."""
    mass = -e.size
    low, high = mass / KG_PER_BEE[1], mass / KG_PER_BEE[0]
    return look.tell(
        Kind.SWARM,
        onset=e.onset,
        size=mass,
        unit="kg",
        confidence=confidence(e),
        reason=reason,
        summary=f"{mass:.1f} kg left within {e.change.lasted // MINUTE} minutes: about "
        f"{round(low, -3):,.0f} to {round(high, -3):,.0f} bees.",
        evidence={**e.numbers(), "bees_low": low, "bees_high": high},
    )


def came_back(look: Look, lost: float, left: Millis, gained: float, back: Millis) -> bool:
    """Whether a gain is an earlier loss coming back: most of it, within the rule's minutes (two intervals if slower)."""
    rule = look.rules.swarm
    return lost < 0 and gained >= -0.6 * lost and back - left <= max(rule.return_minutes * MINUTE, 3 * HOUR)

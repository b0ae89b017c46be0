"""How much food a colony takes into winter: by climate, from sources that disagree.

The climate is told from the place alone and only roughly; `target_kg` under `[advice.winter]` says it better.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from hivemon.advice.words import marked

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene

_NEW_WORLD = (-170.0, -50.0)
"""Longitudes of the Americas: winters there are harder than at the same latitude in Europe."""
_FAR_NORTH, _MIDDLE = 43.0, 37.0
"""Degrees north in America between which the middle lies. Our rule: Minnesota and Michigan above, Georgia below."""
_MEDITERRANEAN, _COLD_EUROPE = 42.0, 50.0
"""Degrees north in Europe below which winters are mild, and from which bees winter as in the north. Our rule."""

_LATE_NORTH = 2.7
"""Use in late winter against that of early winter: 3-5 against 1-2 kg a month (Seeley & Visscher 1985, from memory)."""
_LATE_MILD = (1 + _LATE_NORTH) / 2
"""The same where winters are mild. Our rule: halfway to a use that stays even, as it nearly was in a warm winter
(Norrström et al. 2021)."""


class Source(NamedTuple):
    """Who says how much, kg."""

    name: str
    low: float
    high: float


class Target(NamedTuple):
    """Stores before winter, kg, and the sources for such a climate, which disagree."""

    kg: float
    sources: tuple[Source, ...]


_Climate = tuple[float, tuple[Source, ...]]

MILD: _Climate = (
    16.0,
    (
        Source(marked("Department of Agriculture, New Zealand, 1928"), 14.0, 14.0),
        Source(marked("extension services of the southern US"), 14.0, 18.0),
    ),
)
"""The department's notes of March 1928; Clemson and Georgia, from memory."""
EUROPE: _Climate = (
    22.0,
    (
        Source(marked("National Bee Unit, England"), 25.0, 25.0),
        Source(marked("the same in earlier years"), 18.0, 20.0),
    ),
)
"""The older figure is from memory."""
MIDDLE: _Climate = (
    27.0,
    (
        Source(marked("extension services of the Mid-Atlantic US"), 23.0, 27.0),
        Source(marked("extension service of Pennsylvania"), 27.0, 36.0),
    ),
)
"""From memory."""
HARD: _Climate = (
    36.0,
    (
        Source(marked("US Department of Agriculture, 1944"), 27.0, 32.0),
        Source(marked("extension services of the northern US"), 36.0, 45.0),
    ),
)
"""Circular 702 was read: 18 kg above and 9 to 14 kg below; extension (Minnesota, Michigan) from memory."""


def winter_target(scene: Scene) -> Target:
    """Return what to take into winter: as configured, else by the place."""
    usual, sources = _by_place(scene.yard.latitude, scene.yard.longitude)
    wanted = scene.limits.winter.target_kg
    return Target(usual if wanted is None else wanted, sources)


def late_winter_times(scene: Scene) -> float:
    """Return the use in late winter against that of early winter: as configured, else by the place."""
    wanted = scene.limits.winter.late_winter_times
    if wanted is not None:
        return wanted
    climate = _by_place(scene.yard.latitude, scene.yard.longitude)
    if climate is not EUROPE:
        return _LATE_MILD if climate is MILD else _LATE_NORTH
    north = min((scene.yard.latitude - _MEDITERRANEAN) / (_COLD_EUROPE - _MEDITERRANEAN), 1.0)
    return _LATE_MILD + (_LATE_NORTH - _LATE_MILD) * north


def _by_place(latitude: float, longitude: float) -> _Climate:
    if latitude < 0:
        return MILD
    if _NEW_WORLD[0] <= longitude <= _NEW_WORLD[1]:
        if latitude >= _FAR_NORTH:
            return HARD
        return MIDDLE if latitude >= _MIDDLE else MILD
    return EUROPE if latitude >= _MEDITERRANEAN else MILD

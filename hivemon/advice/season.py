"""What the calendar alone tells about a yard."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene

_BROODLESS_MONTHS = frozenset({11, 12, 1, 2})
"""Months with little or no brood in a temperate northern winter. Our rule; the south six months later."""
_TROPIC_DEGREES = 25.0
"""Nearer the equator than this bees may rear brood all year. Our rule."""


def broodless(scene: Scene) -> bool:
    """Whether it is the season in which a colony without brood is the rule."""
    if abs(scene.yard.latitude) < _TROPIC_DEGREES:
        return False
    month = scene.local(scene.now).month
    if scene.yard.latitude < 0:
        month = (month + 5) % 12 + 1
    return month in _BROODLESS_MONTHS

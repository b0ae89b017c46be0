"""How long food lasts through a winter in which the bees eat little at first and much when brood begins."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice.climate import late_winter_times
from hivemon.advice.season import spring
from hivemon.model import DAY

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.model import Millis

_BROOD_BEGINS, _FULL = 60.0, 30.0
"""Days before spring from which brood makes them eat more, and from which they eat as much as they will. Our rule."""
_FARTHEST = 366
"""Days: food that lasts longer lasts for ever."""


def lasts(scene: Scene, food: float, use: float) -> float:
    """Return the days that `food` kg lasts a hive which uses `use` kg a day now; 366 when longer than a year.

    Towards spring the use rises by `late_winter_times`; what it is now was seen over weeks, so in their middle. A hive
    that is fed by the flowers again is not foreseen.
    """
    coming = spring(scene)
    now = _times(scene, coming, scene.now - scene.limits.food.winter_use_days * DAY // 2)
    left = food
    for day in range(_FARTHEST):
        eaten = use * _times(scene, coming, scene.now + day * DAY) / now
        if left <= eaten:
            return day + max(left, 0.0) / max(eaten, 1e-6)
        left -= eaten
    return float(_FARTHEST)


def _times(scene: Scene, coming: Millis, when: Millis) -> float:
    """Return the use on a day against that of midwinter."""
    before = (coming - when) / DAY
    share = min(max((_BROOD_BEGINS - before) / (_BROOD_BEGINS - _FULL), 0.0), 1.0)
    return 1 + (late_winter_times(scene) - 1) * share

"""The words of one beekeeper: `words` bound to the yard's clock and the units of choice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice import words

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.model import Millis


class Voice:
    """Says times on the yard's clock, masses and temperatures in the beekeeper's units."""

    def __init__(self, scene: Scene) -> None:
        self._zone = scene.yard.zone
        self._units = scene.units
        self._now = scene.now

    def day(self, when: Millis, *, plus: float = 0) -> str:
        """Return the local date of a moment, or of the day so many whole days later."""
        return words.day(words.evening(when, self._zone, plus_days=plus) if plus else when, self._zone)

    def clock(self, when: Millis) -> str:
        """Return a local time of day."""
        return words.clock(when, self._zone)

    def weight(self, kg: float) -> str:
        """Return a mass."""
        return words.weight(kg, self._units)

    def weights(self, low: float, high: float) -> str:
        """Return a range of masses."""
        return words.weights(low, high, self._units)

    def volume(self, litres: float) -> str:
        """Return a volume."""
        return words.volume(litres, self._units)

    def temperature(self, celsius: float) -> str:
        """Return a temperature."""
        return words.temperature(celsius, self._units)

    def evening(self, when: Millis, *, plus: float = 0) -> Millis:
        """Return eight in the evening of that local day or so many whole days later, never one that is past."""
        moment = words.evening(when, self._zone, plus_days=plus)
        tonight = words.evening(self._now, self._zone)
        soonest = tonight if tonight > self._now else words.evening(self._now, self._zone, plus_days=1)
        return max(moment, soonest)

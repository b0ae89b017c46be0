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
        self._visits = frozenset(scene.yard.visit_days)

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

    def distance(self, metres: float) -> str:
        """Return a distance."""
        return words.distance(metres, self._units)

    def temperature(self, celsius: float) -> str:
        """Return a temperature."""
        return words.temperature(celsius, self._units)

    def evening(self, when: Millis, *, plus: float = 0) -> Millis:
        """Return eight in the evening of that local day or so many whole days later, never one that is past."""
        moment = words.evening(when, self._zone, plus_days=plus)
        tonight = words.evening(self._now, self._zone)
        soonest = tonight if tonight > self._now else words.evening(self._now, self._zone, plus_days=1)
        return max(moment, soonest)

    def visit(self, when: Millis) -> Millis:
        """Return the evening of a day on which the beekeeper can come: that day's, else the last one's before it.

        Where no visiting day lies between now and then, it is the first one after now: later is better than never.
        """
        wanted = self.evening(when)
        if not self._visits:
            return wanted
        evenings = [self.evening(self._now, plus=ahead) for ahead in range(-1, 367)]
        fit = [e for e in dict.fromkeys(evenings) if words.weekday(e, self._zone) in self._visits]
        return max((e for e in fit if e <= wanted), default=fit[0])

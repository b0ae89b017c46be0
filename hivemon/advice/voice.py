"""The words of one beekeeper: `words` bound to the yard's clock and the units of choice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hivemon.advice import words

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene
    from hivemon.model import Millis

_WEEK = 7


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
        return max(words.evening(when, self._zone, plus_days=plus), self._soonest())

    def visit(self, when: Millis, *, latest: Millis | None = None) -> Millis:
        """Return the evening of a day on which the beekeeper can come: that day's, else the last one's before it.

        Where no visiting day lies between now and then, it is the first one after now: later is better than never. Not
        so where the bees cannot wait: if that day is after `latest`, the day asked for stands, whatever its weekday.
        """
        wanted = self.evening(when)
        if not self._visits:
            return wanted
        before = (words.evening(wanted, self._zone, plus_days=-back) for back in range(_WEEK))
        after = (words.evening(self._soonest(), self._zone, plus_days=ahead) for ahead in range(_WEEK))
        first = next(e for e in after if self._fits(e))
        visit = next((e for e in before if e >= first and self._fits(e)), first)
        return wanted if latest is not None and visit > max(latest, wanted) else visit

    def visit_from(self, when: Millis) -> Millis:
        """Return the evening of the first day on which the beekeeper can come, not before that day."""
        evenings = (self.evening(when, plus=ahead) for ahead in range(_WEEK))
        return next(e for e in evenings if not self._visits or self._fits(e))

    def _soonest(self) -> Millis:
        """Return the next evening to come."""
        tonight = words.evening(self._now, self._zone)
        return tonight if tonight > self._now else words.evening(self._now, self._zone, plus_days=1)

    def _fits(self, evening: Millis) -> bool:
        return words.weekday(evening, self._zone) in self._visits

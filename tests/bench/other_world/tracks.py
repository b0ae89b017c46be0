"""What happens to one hive, gathered from all who have a hand in it, and the marks left by sudden things."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from .clock import Array, Clock


@dataclass
class Tracks:
    """A hive's sums: kg on the fast grid, °C and %RH pushed at the nest (fast), the events and visits of the hive."""

    hive: str
    clock: Clock
    mass: Array
    warm: Array
    damp: Array
    events: list[dict[str, Any]] = field(default_factory=list)
    handling: list[dict[str, Any]] = field(default_factory=list)
    off: list[tuple[int, int]] = field(default_factory=list)
    """Minutes in which the hive is not on its scale."""

    @classmethod
    def fresh(cls, hive: str, clock: Clock) -> Tracks:
        """Return tracks with nothing on them."""
        return cls(hive, clock, np.zeros(clock.minutes), np.zeros(clock.minutes), np.zeros(clock.minutes))

    def step(self, minute: int, kg: float) -> None:
        """Add a lasting change."""
        self.mass[minute:] += kg

    def ramp(self, minute: int, parts: Array) -> None:
        """Add changes minute by minute that last: `parts` kg, shape (minutes,)."""
        sums = np.cumsum(parts)[: max(self.clock.minutes - minute, 0)]
        self.mass[minute : minute + sums.size] += sums
        if sums.size:
            self.mass[minute + sums.size :] += sums[-1]

    def push(self, minute: int, degrees: float, *, rise: float, fall: float, damp: float = 0.0) -> None:
        """Push the nest by up to so many °C (and %RH), reached after `rise` minutes, gone with a lag of `fall`."""
        count = min(int(rise + 6 * fall), self.clock.minutes - minute)
        if count <= 0:
            return
        at = np.arange(count)
        shape = np.where(at < rise, at / max(rise, 1), np.exp(-(at - rise) / fall))
        self.warm[minute : minute + count] += degrees * shape
        self.damp[minute : minute + count] += damp * shape

    def event(self, kind: str, onset: float, end: float | None, size: float, unit: str, **more: Any) -> None:
        """Note a true event of this hive."""
        self.events.append(
            {"kind": kind, "hive": self.hive, "onset": onset, "end": end, "size": round(size, 3), "unit": unit, **more}
        )

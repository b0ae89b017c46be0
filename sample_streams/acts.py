"""One piece of handling as the sensors see it: the weight while somebody works, and the nest while the lid is off."""

from __future__ import annotations

from dataclasses import dataclass

from .effects import Bump, Effect, Levels, Settle, Step
from .grid import DAY, HOUR, Rng, ramp

LOGBOOK = {
    "inspect",
    "super-on",
    "super-off",
    "harvest",
    "feed",
    "split",
    "combine",
    "requeen",
    "mite-wash",
    "treat",
    "scale-reset",
    "moved",
    "note",
}


@dataclass(frozen=True)
class Act:
    """One handling: `start` and `end` seconds UTC, lasting change of the scale `kg`, and how it is logged.

    `action` is a logbook entry word, or `lid-load`, `lid-unload`, `relevel`, `lifted`, which no logbook word fits.
    `settles`: further lasting change by evaporation (kg, negative). `lifted`: kg taken off the scale for the time.
    """

    action: str
    start: float
    end: float
    kg: float
    open_hive: bool
    boxes: int
    cool: float
    logged: bool = True
    settles: float = 0.0
    mites: int | None = None
    lifted: float = 0.0

    def effects(self, rng: Rng) -> tuple[list[Effect], list[Effect], list[Effect]]:
        """Effects on (weight kg, nest temperature °C, nest humidity %RH)."""
        weight: list[Effect] = [Step(self.end, self.kg)]
        if self.lifted:
            weight.append(Levels((self.start, self.end), (-self.lifted,)))
        elif self.end - self.start > 60:
            weight.append(_chaos(rng, self.start, self.end, self.boxes if self.open_hive else 0))
        if self.settles:
            weight.append(Settle(self.end + 4 * HOUR, self.settles, rng.uniform(1.2, 3.0) * DAY))
        nest: list[Effect] = []
        humid: list[Effect] = []
        if self.open_hive:
            length = self.end - self.start
            nest.append(Bump(self.start, length, rng.uniform(1200, 3000), -self.cool * rng.uniform(0.4, 1.2)))
            humid.append(Bump(self.start, length, rng.uniform(900, 2400), -rng.uniform(8, 24)))
        return weight, nest, humid


def _chaos(rng: Rng, start: float, end: float, boxes: int) -> Levels:
    """Levels while somebody works: lid off, boxes off, frames out, hands and tools on; held 1 to 4 minutes each."""
    edges = [start]
    while edges[-1] < end:
        edges.append(edges[-1] + float(rng.uniform(60, 240)))
    edges[-1] = end
    if len(edges) == 2:
        edges = [start, (start + end) / 2, end]
    sizes = []
    off = 0.0
    for i in range(len(edges) - 1):
        if boxes and i < boxes:
            off -= float(rng.uniform(5, 16)) * (i > 0)
        lid = -float(rng.uniform(1.5, 5.0)) if boxes else -float(rng.uniform(0.5, 3.0))
        hands = float(rng.choice([0.0, rng.uniform(0.5, 6.0), -rng.uniform(1.0, 3.0)]))
        back = 1 - ramp(i / (len(edges) - 1), 0.6, 0.95)
        sizes.append(lid + hands + off * float(back))
    return Levels(tuple(edges), tuple(sizes))

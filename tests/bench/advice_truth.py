"""What a hive truly needed, day by day, from the model that made the season: room in the supers, food, flow.

A super is needed on the first day on whose evening the honey in the supers and the fresh nectar of that day fill their
room; it is full when ripe honey alone does. Fresh nectar takes the room that its own sugar share gives (mass balance
and sucrose densities, `hivemon.advice.room`, tested against published figures), 15 kg of honey fill a super, 85 % of
the gain goes into it: the model's own figures. A brood nest without supers has room for what its combs hold beside
brood, pollen and two empty frames (2.7 kg of honey and 6,900 cells a deep frame, extension).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from hivemon.advice.room import fresh_room_ratio
from sample_streams.colony import RIPE
from sample_streams.families import ALL
from sample_streams.handling import SUPER_KG
from sample_streams.plan import ActPlan
from sample_streams.yard import simulate

if TYPE_CHECKING:
    from sample_streams.plan import Scenario
    from sample_streams.yard import Yard

INTO_SUPERS = 0.85
HALF_YEAR = 180
FRAMES, FRAME_KG, FRAME_CELLS = 10, 2.7, 6900.0
POLLEN_FRAMES, EMPTY_FRAMES = 1.0, 2.0


@dataclass(frozen=True)
class Stretch:
    """A time in which a hive's boxes did not change: days of the season, from `first` to before `last`.

    `need` and `full`: the first days on whose evening room, or ripe honey alone, ran out; None when neither did.
    """

    hive: str
    supers: int
    first: int
    last: int
    need: int | None
    full: int | None


def scenario(name: str, seed: int, habit: str = "usual") -> Scenario:
    """Return a family's season with a beekeeper of some habit.

    `usual`; `unfed`: little in the hives at the start, and he never feeds; `rare`: he comes every four weeks, so that
    supers fill before he has put on the next; `quiet`: half a year from April, read every quarter of an hour.
    """
    if habit == "quiet":
        return replace(ALL[name](seed, HALF_YEAR, 15), first=date(2024, 4, 8))
    season = ALL[name](seed, None, None)
    if habit == "unfed":
        keeper = replace(season.keeper, feed_below=-1.0, feed_every=None)
        hives = tuple(replace(h, stores=0.45 * h.stores) for h in season.hives)
        return replace(season, keeper=keeper, hives=hives)
    if habit == "rare":
        # One super each goes on a few days into the first flow, as told by the scenario.
        first = season.land.blooms[0].day + 3 if season.land.blooms else season.days
        hives = tuple(h if h.weak else replace(h, acts=(*h.acts, ActPlan("super-on", first))) for h in season.hives)
        return replace(season, keeper=replace(season.keeper, inspect_every=28.0), hives=hives)
    return season


def true_yard(season: Scenario, seed: int) -> Yard:
    """Return the simulated yard."""
    return simulate(season, seed)


def day_of(yard: Yard, time: int) -> int:
    """Return the day of the season (solar days, from 0) of a moment in ms UTC."""
    return (time // 1000 - yard.grid.start) // 86_400


def stretches(yard: Yard, hive: str) -> list[Stretch]:
    """Return a hive's stretches of unchanged boxes, in order."""
    colony = yard.colonies[hive]
    life, boxes = colony.life, colony.plan.brood_boxes
    acts = {d: [a.action for a in life.acts if day_of(yard, round(a.start * 1000)) == d] for d in range(yard.grid.days)}
    supers, honey, first = colony.plan.supers, 0.0, 0
    need = full = None
    found = []
    for d in range(yard.grid.days):
        came_in = life.gross[d] * life.sugar[d] / RIPE
        gain = came_in + life.loot[d] - life.eaten[d] - life.robbed[d]
        honey = min(max(honey + INTO_SUPERS * gain, 0.0), life.stores[d]) if supers else 0.0
        room, held, share = _room(life, d, supers, boxes, honey)
        fresh = share * came_in * (fresh_room_ratio(min(max(float(life.sugar[d]), 0.2), 0.6)) - 1)
        need = d if need is None and held + fresh >= room else need
        full = d if full is None and held >= room else full
        changed = [a for a in acts[d] if a in ("super-on", "super-off", "harvest")]
        if changed:
            found.append(Stretch(hive, supers, first, d, need, full))
            for action in changed:
                supers = supers + 1 if action == "super-on" else 0 if action == "harvest" else max(supers - 1, 0)
                honey = 0.0 if action == "harvest" else honey
            need, full, first = None, None, d
    return [*found, Stretch(hive, supers, first, yard.grid.days, need, full)]


def _room(life, day: int, supers: int, brood_boxes: int, honey: float) -> tuple[float, float, float]:
    """Return room for honey, what is in it (kg), and the share of fresh nectar that goes there."""
    if supers:
        return SUPER_KG * supers, honey, INTO_SUPERS
    frames = FRAMES * brood_boxes - life.brood[day] / FRAME_CELLS - POLLEN_FRAMES - EMPTY_FRAMES
    return max(frames, 0.0) * FRAME_KG, float(life.stores[day]), 1.0


def food_days(yard: Yard, hive: str, day: int) -> float:
    """Return how many days the true stores of an evening lasted at what was eaten in the next five days."""
    life = yard.colonies[hive].life
    eaten = float(life.eaten[day + 1 : day + 6].mean()) if day + 1 < len(life.eaten) else 0.2
    return float(life.stores[day]) / max(eaten, 0.01)

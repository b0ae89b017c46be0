"""Draws shared by the families: places, climates, scales, hives, and seasons of forage."""

from __future__ import annotations

from dataclasses import dataclass, replace

from .forage import Bloom, Land
from .grid import Rng, rng_for
from .plan import HivePlan, Place, Probe, RobPlan, Scale, SwarmPlan
from .weather import Climate

Span = tuple[float, float]


def between(rng: Rng, span: Span) -> float:
    """A uniform draw."""
    return float(rng.uniform(*span))


def start(name: str, seed: int) -> Rng:
    """The generator from which a family draws its season."""
    return rng_for(seed, "family", name)


def north(rng: Rng, yard: str, latitude: Span = (46.0, 53.0)) -> Place:
    """An invented yard in the temperate north."""
    return Place(
        yard, yard.capitalize(), round(between(rng, latitude), 2), round(between(rng, (2.0, 14.0)), 2), "Europe/Berlin"
    )


def temperate(rng: Rng) -> Climate:
    """A temperate climate, from cool and wet to warm and dry."""
    return Climate(
        mean=between(rng, (9.5, 12.0)),
        season=between(rng, (6.5, 8.5)),
        swing=between(rng, (8.5, 12.0)),
        cloud=between(rng, (0.38, 0.56)),
        fronts=between(rng, (2.0, 3.0)),
        showers=between(rng, (1.2, 2.8)),
        shower_mm=between(rng, (1.5, 4.0)),
        wind=between(rng, (1.8, 3.2)),
    )


def fair_scale(rng: Rng) -> Scale:
    """A scale with a certified cell, fairly mounted."""
    return Scale(
        noise=between(rng, (4, 14)),
        resolution=float(rng.choice([1, 5, 10, 10, 20])),
        thermal=float(rng.normal(0, 4)),
        drift=float(rng.normal(0, 1.0)),
        creep=between(rng, (0.0001, 0.0008)),
        wind=between(rng, (5, 25)),
        lid=between(rng, (0.2, 0.3)),
        film=between(rng, (0.1, 0.5)),
        paint=between(rng, (0.5, 0.95)),
    )


def cheap_scale(rng: Rng) -> Scale:
    """An uncertified cell in the sun: tens of g/°C, up to about a kilogram between night and day."""
    sign = float(rng.choice([-1, 1]))
    return Scale(
        noise=between(rng, (10, 40)),
        resolution=float(rng.choice([10, 20, 50, 100])),
        thermal=sign * between(rng, (12, 30)),
        drift=float(rng.normal(0, 6.0)),
        creep=between(rng, (0.001, 0.004)),
        wind=between(rng, (20, 80)),
        film=between(rng, (0.1, 0.8)),
        lid=between(rng, (0.2, 0.32)),
        paint=between(rng, (0.2, 0.8)),
        sun_on_cell=between(rng, (0.006, 0.025)),
    )


def probe(rng: Rng) -> Probe:
    """A nest sensor of common quality."""
    return Probe(
        resolution=float(rng.choice([0.0625, 0.1, 0.01])),
        offset=float(rng.normal(0, 0.25)),
        rh_offset=float(rng.normal(0, 2.0)),
        rh_resolution=float(rng.choice([0.1, 0.5, 1.0])),
    )


def hive(rng: Rng, name: str, bees: Span = (20000, 34000), weak: bool = False) -> HivePlan:
    """A hive of usual (or weak) strength on a fair scale."""
    if weak:
        return HivePlan(
            name,
            bees=between(rng, (8000, 12500)),
            stores=between(rng, (6, 12)),
            laying=between(rng, (850, 1150)),
            weak=True,
            brood_boxes=1,
            vigour=between(rng, (0.6, 0.85)),
            set_point=between(rng, (34.1, 34.9)),
            scale=fair_scale(rng),
            probe=probe(rng),
        )
    return HivePlan(
        name,
        bees=between(rng, bees),
        stores=between(rng, (9, 18)),
        laying=between(rng, (1300, 1750)),
        brood_boxes=int(rng.integers(1, 3)),
        vigour=between(rng, (0.82, 1.15)),
        set_point=between(rng, (34.2, 35.0)),
        scale=fair_scale(rng),
        probe=probe(rng),
    )


def yard_of(rng: Rng, letter: str, count: int, weak: int = 0, bees: Span = (20000, 34000)) -> list[HivePlan]:
    """`count` hives named letter + number, the last `weak` of them weak."""
    return [hive(rng, f"{letter}{i + 1}", bees, weak=i >= count - weak) for i in range(count)]


def with_(plan: HivePlan, **changes: object) -> HivePlan:
    """The same hive with some fields changed."""
    return replace(plan, **changes)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Wish:
    """A season wanted: number of `flows`, days before the first (`lead`), their `length` in days, kg on a fine day.

    `dearth`: whether a lean time follows each. `background`: kg on a fine day otherwise.
    """

    flows: int = 1
    lead: Span = (7, 14)
    length: Span = (14, 28)
    kg: Span = (1.7, 3.6)
    dearth: bool = True
    background: Span = (0.38, 0.47)


def season(rng: Rng, days: int, wish: Wish) -> Land:
    """Forage with flows, each followed by a lean time where wanted, and quiet stretches between."""
    blooms, lean, day = [], [], between(rng, wish.lead)
    for _ in range(wish.flows):
        long = between(rng, wish.length)
        if day + 8 > days:
            break
        rise, fall = between(rng, (1.0, 3.0)), between(rng, (1.5, 4.0))
        blooms.append(Bloom(day, long, between(rng, wish.kg), rise, fall, between(rng, (0.26, 0.48))))
        day += long
        if wish.dearth:
            gap = between(rng, (0.0, 6.0))
            until = day + gap + between(rng, (14, 30))
            lean.append((day + gap, until))
            day = until
        day += between(rng, (7, 14))
    return Land(between(rng, wish.background), tuple(blooms), tuple(lean), between(rng, (0.12, 0.28)))


def last_flow_end(land: Land) -> float:
    """Scenario day on which the last flow is over."""
    return max((b.day + b.days for b in land.blooms), default=0.0)


def swarming(rng: Rng, hives: list[HivePlan], first: float, last: float, chance: float) -> list[HivePlan]:
    """Give some hives a swarm: a fifth of the swarms come back, a third are followed by afterswarms."""
    result = []
    for plan in hives:
        if rng.random() < chance and not plan.weak:
            returned = rng.random() < 0.2
            after = 0 if returned or rng.random() > 0.35 else int(rng.integers(1, 3))
            day = between(rng, (first, last))
            swarms = [SwarmPlan(day, returned=returned, after=after, requeens=rng.random() < 0.9)]
            if returned and rng.random() < 0.6:
                swarms.append(SwarmPlan(day + between(rng, (1.5, 4.0))))
            result.append(with_(plan, swarms=tuple(swarms)))
        else:
            result.append(plan)
    return result


def robbed(rng: Rng, hives: list[HivePlan], day: float, chance: float = 1.0) -> list[HivePlan]:
    """Let the last (weak) hive be robbed from about `day` on, for one to five days."""
    if rng.random() < chance:
        rob = RobPlan(
            int(day),
            int(rng.integers(1, 6)),
            between(rng, (0.08, 0.3)),
            between(rng, (0.2, 0.9)),
            between(rng, (8.0, 12.0)),
        )
        hives[-1] = with_(hives[-1], robbed=(rob,), stores=max(hives[-1].stores, 10.0))
    return hives

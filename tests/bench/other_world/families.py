"""The families: kinds of season as people who own hives know them. Each draws its own yard from a random generator."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from .forage import Bloom
from .plan import Fault, HivePlan, KeeperKind, LoggerKind, ScaleKind, SwarmWish, Trouble, YardPlan
from .sky import Climate

if TYPE_CHECKING:
    from collections.abc import Callable

Rng = np.random.Generator


def _bees(rng: Rng, low: float = 18000, high: float = 38000) -> float:
    return float(rng.uniform(low, high))


def _bloom(rng: Rng, first: tuple[float, float], length: tuple[float, float], peak: tuple[float, float]) -> Bloom:
    """Draw a bloom that comes within days or overnight."""
    start, long = rng.uniform(*first), rng.uniform(*length)
    up, down = rng.choice([0.3, 1, 2, 4]), rng.choice([0.3, 1, 2, 4])
    return Bloom(start, up, start + long, down, 1.4 * rng.uniform(*peak))


def _brood_trouble(rng: Rng, until: float) -> Trouble:
    """Draw a lost queen (replaced or not) or a heat that the colony cannot master."""
    if rng.random() < 0.5:
        return Trouble("thirst", int(rng.uniform(35, until)), int(rng.uniform(4, 11)), float(rng.uniform(0.6, 1)))
    return Trouble("queenless", int(rng.uniform(10, until - 30)), int(rng.choice([40, 50, 400])))


def desert_research(rng: Rng) -> YardPlan:
    """Research hives in a hot desert, 5 minutes: fed weekly, handled often, stormed on, big drops by day and back."""
    count, days = int(rng.integers(3, 6)), int(rng.integers(100, 140))
    hives = [
        HivePlan(
            f"d{n + 1}",
            _bees(rng, 9000, 34000),
            float(rng.uniform(24, 40)),
            scale=ScaleKind(0.01, 0.01, -float(rng.uniform(0.008, 0.05)), 0.06, 0.03),
        )
        for n in range(count)
    ]
    for hive in hives:
        hive.weak = hive.bees < 12000
        if rng.random() < 0.2:
            hive.troubles.append(Trouble("queenless", int(rng.uniform(20, 60)), 400))
        if rng.random() < 0.15:
            hive.troubles.append(Trouble("thirst", int(rng.uniform(10, 50)), int(rng.uniform(3, 9))))
    if rng.random() < 0.3:
        victim = hives[int(rng.integers(count))]
        victim.troubles.append(Trouble("robbed", int(rng.uniform(40, 90)), int(rng.uniform(2, 5)), 0.6))
    climate = Climate(30, (-1, -6), 16, 2.2, 0.2, 0.4, 17.5, 12, (0.1, 0.6), 0.01, 2.6)
    blooms = [_bloom(rng, (40, 70), (12, 22), (0.8, 2.4))] if rng.random() < 0.7 else []
    keeper = KeeperKind(
        7,
        22,
        float(rng.uniform(1.5, 3.5)),
        (0, int(days * rng.uniform(0.4, 1.0))),
        supers=False,
        swaps=int(rng.integers(0, 4)),
        log=str(rng.choice(["late", "sloppy", "none"])),
        rough=1.6,
    )
    logger = LoggerKind(5, 15, 0.01, 0.01, 0.004, 2, ((float(rng.uniform(30, 90)), float(rng.uniform(0.2, 3))),))
    return YardPlan(
        "mesa",
        32.2,
        -110.9,
        "America/Phoenix",
        date(2023, 6, int(rng.integers(1, 20))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.2, 0.1)),
        (1, 0.95, 1.0),
        keeper,
        logger,
        0,
        0.02,
    )


def mediterranean(rng: Rng) -> YardPlan:
    """Strong and weak hives on cheap scales that drift up to a kilogram a day with the sun, every 15 minutes."""
    count, days = int(rng.integers(4, 7)), int(rng.integers(130, 170))
    hives = []
    for n in range(count):
        weak = n > 1 and rng.random() < 0.4
        sign = float(rng.choice([-1, 1]))
        kind = ScaleKind(
            0.02, float(rng.choice([0.01, 0.05, 0.1])), sign * float(rng.uniform(0.006, 0.045)), 0.12, 0.05
        )
        hive = HivePlan(
            f"h{n + 1}",
            _bees(rng, 6000, 11000) if weak else _bees(rng),
            float(rng.uniform(40, 58)),
            weak,
            scale=kind,
            clumsy=float(rng.uniform(0.8, 1.8)),
        )
        if not weak and rng.random() < 0.35:
            hive.swarms.append(
                SwarmWish(int(rng.uniform(8, 45)), float(rng.uniform(1.2, 4.0)), int(rng.integers(0, 2)))
            )
        if weak and rng.random() < 0.65:
            hive.troubles.append(
                Trouble("robbed", int(rng.uniform(70, 120)), int(rng.uniform(2, 6)), float(rng.uniform(0.2, 1)))
            )
        if rng.random() < 0.15:
            hive.troubles.append(Trouble("poison", int(rng.uniform(15, 60)), 1, float(rng.uniform(0.3, 0.9))))
        if not hive.swarms and rng.random() < 0.3:
            hive.troubles.append(_brood_trouble(rng, 100))
        hives.append(hive)
    climate = Climate(24, (-9, -4), 12, 2.4, 0.3, 0.06, 16, 6, (0, 1), 0.05, 2.6)
    blooms = [_bloom(rng, (8, 18), (15, 30), (0.8, 2.5)), _bloom(rng, (60, 70), (12, 22), (0.6, 1.8))]
    keeper = KeeperKind(
        14, 14, harvest_days=(int(rng.uniform(92, 100)),), log=str(rng.choice(["late", "sloppy", "good"]))
    )
    return YardPlan(
        "cove",
        37.4,
        14.2,
        "Europe/Rome",
        date(2022, 4, int(rng.integers(1, 15))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.3, -0.12)),
        (1.15, 1, 0.9),
        keeper,
        LoggerKind(15, 25, 0.01, 0, 0.002, 1),
    )


def white_nights(rng: Rng) -> YardPlan:
    """A yard north of the polar circle: no dark in June, late snow, a short strong flow, brood that ends in autumn."""
    days = int(rng.integers(100, 125))
    hives = [HivePlan(f"n{n + 1}", _bees(rng, 14000, 28000), float(rng.uniform(30, 45))) for n in range(3)]
    for hive in hives:
        hive.troubles.append(Trouble("late", int(rng.uniform(72, 84)), 0))
        if rng.random() < 0.3:
            hive.swarms.append(SwarmWish(int(rng.uniform(25, 45)), float(rng.uniform(1.0, 3.0))))
    if rng.random() < 0.7:
        hives[1].troubles.append(
            Trouble("chilled", int(rng.uniform(8, 30)), int(rng.uniform(4, 9)), float(rng.uniform(0.5, 1)))
        )
    climate = Climate(15, (-11, -9), 9, 2.8, 0.55, 0.15, 15, 3, (0, 1), 0.16, 2.6)
    blooms = [_bloom(rng, (34, 48), (16, 30), (1.0, 3.0))]
    keeper = KeeperKind(16, 16, harvest_days=(int(rng.uniform(86, 92)),), log="good")
    return YardPlan(
        "fell",
        67.3,
        23.4,
        "Europe/Helsinki",
        date(2024, 5, int(rng.integers(14, 25))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.1, 0.1)),
        (1.35, 1.2, 0.8, 0.6),
        keeper,
        LoggerKind(10, 10),
        2.5,
    )


def tropical(rng: Rng) -> YardPlan:
    """A yard near the equator: no winter, rains, colonies that dwindle and walk out."""
    days = int(rng.integers(120, 170))
    hives = [HivePlan(f"t{n + 1}", _bees(rng, 9000, 24000), float(rng.uniform(16, 28))) for n in range(4)]
    for hive in hives:
        if rng.random() < 0.3:
            hive.swarms.append(
                SwarmWish(int(rng.uniform(15, 90)), float(rng.uniform(0.8, 2.2)), int(rng.integers(0, 3)))
            )
        elif rng.random() < 0.3:
            hive.troubles.append(Trouble("abscond", int(rng.uniform(40, 110)), int(rng.uniform(5, 13))))
    climate = Climate(24.5, (0.5, -0.5), 9, 0.8, 0.5, 0.7, 15.5, 9, (0.35, 0.75), 0.03, 1.4)
    blooms = [
        _bloom(rng, (12, 25), (15, 28), (0.6, 1.8)),
        _bloom(rng, (days * 0.78, days * 0.82), (12, 20), (0.5, 1.5)),
    ]
    keeper = KeeperKind(20, 12, log=str(rng.choice(["late", "sloppy", "none"])))
    return YardPlan(
        "grove",
        -3.4,
        36.7,
        "Africa/Dar_es_Salaam",
        date(2023, 2, int(rng.integers(1, 20))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.2, -0.05)),
        (1, 1),
        keeper,
        LoggerKind(10, 20, 0.02, 0, 0.003, 3),
    )


def hobby(rng: Rng) -> YardPlan:
    """One hive, hourly, no sensor outside, no logbook; half of them in the south of the world."""
    south, days = rng.random() < 0.5, int(rng.integers(110, 160))
    hive = HivePlan("garden", _bees(rng), float(rng.uniform(28, 42)), scale=ScaleKind(0.02, 0.05, 0.006, 0.05, 0.03))
    if rng.random() < 0.6:
        hive.swarms.append(SwarmWish(int(rng.uniform(15, 45)), float(rng.uniform(1.2, 3.5)), int(rng.integers(0, 2))))
    elif rng.random() < 0.7:
        hive.troubles.append(_brood_trouble(rng, 90))
    climate = Climate(18, (-6, -4), 11, 2.8, 0.5, 0.25, 16, 4, (0, 1), 0.25, 2.2)
    blooms = [_bloom(rng, (10, 25), (12, 24), (0.8, 2.5)), _bloom(rng, (55, 65), (10, 22), (0.6, 2.0))]
    where = (-37.8, 145.0, "Australia/Melbourne") if south else (48.6, 9.2, "Europe/Berlin")
    first = date(2023, 9, 25) if south else date(2023, 4, 18)
    keeper = KeeperKind(18, 20, harvest_days=(int(rng.uniform(85, 95)),), log="none", rough=1.4)
    return YardPlan(
        "lawn",
        *where,
        first,
        days,
        climate,
        [hive],
        blooms,
        float(rng.uniform(-0.25, 0.05)),
        (1.15, 1.0, 0.9),
        keeper,
        LoggerKind(60, 40, 0.01, outside=False),
        0,
        0.03,
    )


def migratory(rng: Rng) -> YardPlan:
    """A yard moved twice, from flow to flow; the logger drives along or is silent."""
    days = int(rng.integers(100, 125))
    moves = (int(rng.uniform(30, 38)), int(rng.uniform(66, 76)))
    hives = [HivePlan(f"m{n + 1}", _bees(rng), float(rng.uniform(30, 45))) for n in range(5)]
    hives[4].bees, hives[4].weak = 9000, True
    for hive in hives[:3]:
        if rng.random() < 0.25:
            hive.swarms.append(
                SwarmWish(int(rng.uniform(8, 40)), float(rng.uniform(1.5, 4)), returns=bool(rng.random() < 0.3))
            )
    gap = ((moves[0] + 0.9, 0.5),) if rng.random() < 0.5 else ()
    climate = Climate(19, (-6, -1), 12, 2.8, 0.45, 0.2, 16, 5, (0, 1), 0.2, 2.4)
    blooms = [
        _bloom(rng, (8, 14), (14, 20), (0.8, 2.5)),
        _bloom(rng, (moves[0] + 1, moves[0] + 6), (14, 22), (0.8, 3)),
        _bloom(rng, (moves[1] + 1, moves[1] + 6), (12, 20), (0.6, 2)),
    ]
    keeper = KeeperKind(
        13, 12, harvest_days=(moves[1] - 3,), moves=moves, log=str(rng.choice(["good", "late", "sloppy"]))
    )
    return YardPlan(
        "caravan",
        44.3,
        -0.6,
        "Europe/Paris",
        date(2024, 4, int(rng.integers(5, 20))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.25, 0.05)),
        (1.15, 1, 0.95),
        keeper,
        LoggerKind(10, 10, gaps=gap),
    )


def swarm_spring(rng: Rng) -> YardPlan:
    """A month and a half of spring, every minute: swarms, afterswarms, swarms that come back."""
    hives = [HivePlan(f"s{n + 1}", _bees(rng, 20000, 40000), float(rng.uniform(28, 45))) for n in range(4)]
    for hive in hives:
        if rng.random() < 0.75:
            back = bool(rng.random() < 0.3)
            day = int(rng.uniform(6, 26))
            hive.swarms.append(SwarmWish(day, float(rng.uniform(1.2, 5)), 0 if back else int(rng.integers(0, 3)), back))
            if back and rng.random() < 0.6:
                hive.swarms.append(
                    SwarmWish(day + int(rng.integers(1, 5)), float(rng.uniform(1.5, 4)), int(rng.integers(0, 2)))
                )
    climate = Climate(17, (-5, 1), 11, 2.8, 0.5, 0.3, 15.5, 4, (0, 1), 0.25, 2.0)
    keeper = KeeperKind(9, 16, split_days=(int(rng.uniform(10, 35)),), log=str(rng.choice(["good", "late"])))
    return YardPlan(
        "orchard-end",
        51.4,
        4.9,
        "Europe/Amsterdam",
        date(2024, 4, int(rng.integers(18, 30))),
        45,
        climate,
        hives,
        [_bloom(rng, (9, 20), (10, 18), (0.6, 2.2))],
        float(rng.uniform(-0.05, 0.1)),
        (1.2, 1.2),
        keeper,
        LoggerKind(1, 2, 0.003, 0, 0.001),
    )


_FAILURES = (
    ("weight", "stuck"),
    ("weight", "silent"),
    ("weight", "zero"),
    ("weight", "spikes"),
    ("weight", "corner"),
    ("weight", "creep"),
    ("weight", "jumpy"),
    ("temperature", "power-on"),
    ("temperature", "wire-off"),
    ("temperature", "stuck"),
    ("temperature", "pulled"),
    ("temperature", "silent"),
    ("humidity", "full"),
    ("humidity", "stuck"),
)


def failing(rng: Rng) -> YardPlan:
    """A yard whose sensors fail in many ways, whose rows come late, and whose hives get tipped over now and then."""
    days = int(rng.integers(90, 120))
    hives = [
        HivePlan(f"f{n + 1}", _bees(rng), float(rng.uniform(28, 42)), clumsy=float(rng.uniform(0.8, 1.8)))
        for n in range(4)
    ]
    for hive in hives:
        for _ in range(rng.integers(1, 4)):
            quantity, kind = _FAILURES[rng.integers(len(_FAILURES))]
            hive.faults.append(Fault(quantity, kind, float(rng.uniform(8, days - 15)), float(rng.gamma(1.2, 4) + 0.2)))
        if rng.random() < 0.25:
            hive.swarms.append(SwarmWish(int(rng.uniform(10, 50)), float(rng.uniform(1.2, 4))))
        elif rng.random() < 0.25:
            hive.troubles.append(_brood_trouble(rng, 80))
        if rng.random() < 0.2:
            hive.troubles.append(Trouble("tipped", int(rng.uniform(15, days - 10)), 1))
    climate = Climate(21, (-6, -3), 12, 3.0, 0.45, 0.25, 17, 7, (0, 1), 0.18, 3.2)
    gaps = tuple((float(rng.uniform(10, days - 10)), float(rng.gamma(1.0, 1.5))) for _ in range(3))
    blooms = [_bloom(rng, (10, 25), (12, 24), (0.8, 2.5)), _bloom(rng, (50, 60), (10, 20), (0.6, 2))]
    logger = LoggerKind(
        5,
        30,
        0.03,
        0.01,
        0.02,
        8,
        gaps,
        ((float(rng.uniform(25, 45)), 15), (float(rng.uniform(55, 75)), 10)),
        battery=True,
    )
    return YardPlan(
        "prairie",
        41.2,
        -93.6,
        "America/Chicago",
        date(2023, 5, int(rng.integers(1, 15))),
        days,
        climate,
        hives,
        blooms,
        float(rng.uniform(-0.25, 0)),
        (1.1, 1, 0.95),
        KeeperKind(14, 15, log="sloppy"),
        logger,
        0,
        0.04,
    )


def uneventful(rng: Rng) -> YardPlan:
    """A season in which nothing happens but weather, birds and now and then a look inside."""
    days = int(rng.integers(90, 130))
    hives = [
        HivePlan(f"q{n + 1}", _bees(rng, 20000, 30000), float(rng.uniform(32, 45)), clumsy=float(rng.uniform(0.8, 1.6)))
        for n in range(4)
    ]
    climate = Climate(19, (-3, -3), 11, 2.0, 0.45, 0.3, 16, 5, (0, 1), 0.2, 2.4)
    keeper = KeeperKind(16, 12, supers=False, log=str(rng.choice(["good", "late"])))
    return YardPlan(
        "fallow",
        48.2,
        11.6,
        "Europe/Berlin",
        date(2023, 5, int(rng.integers(10, 25))),
        days,
        climate,
        hives,
        [],
        0.28,
        (1, 1),
        keeper,
        LoggerKind(int(rng.choice([5, 10, 15])), 10),
        0,
        0.01,
    )


FAMILIES: dict[str, Callable[[Rng], YardPlan]] = {
    "desert-research": desert_research,
    "mediterranean": mediterranean,
    "white-nights": white_nights,
    "tropical": tropical,
    "hobby": hobby,
    "migratory": migratory,
    "swarm-spring": swarm_spring,
    "failing": failing,
    "uneventful": uneventful,
}
"""Every family by name."""

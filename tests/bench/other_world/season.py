"""Makes a season: a plan, weather, lives, sensors, truth, files."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

from . import folder, hive_truth, keeper, logger, yard_truth
from .clock import Array, Clock
from .families import FAMILIES
from .lived import Lived, live
from .measure import Board, measure
from .sky import watch

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from .plan import YardPlan


def make(family: str, seed: int, where: Path) -> dict[str, Any]:
    """Make one season of a family into a folder and return its truth, moments in RFC 3339.

    Raises KeyError for a family that does not exist.
    """
    rng = np.random.default_rng([seed, zlib.crc32(family.encode())])
    plan = FAMILIES[family](rng)
    clock = Clock(plan.first, plan.days, plan.latitude, plan.longitude)
    sky = watch(clock, plan.climate, rng)
    hives = live(plan, clock, sky, rng)
    lines = keeper.logbook([h.track for h in hives], plan.keeper, rng)
    board = measure(plan, clock, sky, hives, rng)
    truth = {"scenario": family, "seed": seed} | _truth(plan, clock, hives, board)
    rows = logger.arrive(board.rows, plan.logger, clock.minutes * 60, rng)
    folder.write(where, plan, clock, rows, board.streams, lines, truth)
    return truth


def _truth(plan: YardPlan, clock: Clock, hives: list[Lived], board: Board) -> dict[str, Any]:
    for hive in hives:
        track, name = hive.track, hive.plan.name
        hive_truth.brood(track, hive.nest, hive.plan)
        for act in track.handling:
            if abs(act["kg"]) >= 0.3 and not act["logged"]:
                track.event("unlogged-step", act["start"], act["end"], act["kg"], "kg", action=act["action"], note="")
        hive_truth.faults(track, hive.plan, clock.minutes)
        seconds = board.seconds(name, "weight"), board.seconds(name, "temperature")
        hive_truth.visible(track, *seconds, plan.logger)
    events = [e for hive in hives for e in hive.track.events] + _of_the_yard(clock, hives, board)
    acts = [a for hive in hives for a in hive.track.handling]
    return {
        "yard": plan.name,
        "start": clock.text(0),
        "end": clock.text(clock.minutes),
        "interval_minutes": plan.logger.interval,
        "interval_changes": [{"at": clock.text(day * 1440), "minutes": to} for day, to in plan.logger.changes],
        "hives": {h.plan.name: {"weak": h.plan.weak, "bees": round(h.plan.bees)} for h in hives},
        "events": [
            _dated(e, clock, ("onset", "end", "returned_at")) | {"yard": plan.name} for e in _sorted(events, "onset")
        ],
        "handling": [_dated(a, clock, ("start", "end")) for a in _sorted(acts, "start")],
        "gaps": [
            {"hive": None, "start": clock.text(day * 1440), "end": clock.text((day + days) * 1440)}
            for day, days in plan.logger.gaps
        ],
    }


def _of_the_yard(clock: Clock, hives: list[Lived], board: Board) -> list[dict[str, Any]]:
    """Return flows and dearths with minutes for moments."""
    working = [h for h in hives if not h.plan.weak and h.robbed[-1] <= 0] or hives
    own = np.array([yard_truth.daily(h.fare.stores) for h in working])
    every = np.array([yard_truth.daily(h.fare.stores - h.robbed) for h in hives])
    fed = np.array([yard_truth.daily(h.fare.stores - h.robbed + _drying(h, clock)) for h in working])
    variants: list[Array] = [np.median(g, axis=0) for g in (own, every, fed)]
    flying = yard_truth.flying_days(np.mean([h.fare.flight for h in hives], axis=0))
    dawn = 3 * 60
    found = yard_truth.judge(variants, flying, _blind(clock, working, board))
    for e in found:
        e["onset"] = e["onset"] * 1440 + dawn
        e["end"] = None if e["end"] is None else e["end"] * 1440 + dawn
    return found


def _drying(hive: Lived, clock: Clock) -> Array:
    """Return kg by which feed has dried, slow grid, as if over two and a half days."""
    total = np.zeros(clock.steps)
    for act in (a for a in hive.track.handling if a["settles_kg"]):
        after = np.arange(clock.steps) - act["end"] / 5
        total -= np.where(after > 0, act["settles_kg"] * (1 - np.exp(-np.clip(after, 0, None) / 720)), 0)
    return total


def _blind(clock: Clock, working: list[Lived], board: Board) -> NDArray[np.bool_]:
    """Tell on which hive days more than half of the working hives had no rows, a broken scale, or were carried."""
    unseen = np.zeros((len(working), clock.days - 1))
    for n, hive in enumerate(working):
        per_day = np.bincount(board.seconds(hive.plan.name, "weight") // 86400, minlength=clock.days)[: clock.days - 1]
        unseen[n] = per_day < 0.5 * np.median(per_day)
        for f in (f for f in hive.plan.faults if f.quantity == "weight"):
            unseen[n, int(f.day) : int(f.day + f.days) + 1] = 1
        for start, stop in hive.track.off:
            unseen[n, start // 1440 : stop // 1440 + 1] = 1
    blind: NDArray[np.bool_] = unseen.mean(axis=0) > 0.5
    return blind


def _sorted(items: list[dict[str, Any]], key: str) -> list[dict[str, Any]]:
    return sorted(items, key=lambda item: float(item[key]))


def _dated(item: dict[str, Any], clock: Clock, keys: tuple[str, ...]) -> dict[str, Any]:
    """Return an item with its minutes as moments."""
    return item | {k: clock.text(item[k]) for k in keys if item.get(k) is not None}

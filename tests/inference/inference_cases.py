"""Plain cases to judge: a swarm beyond doubt as evidence, and looks at small made-up streams."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np

from hivemon.config import YardSettings
from hivemon.inference.evidence import Evidence
from hivemon.inference.look import Look, by_hive
from hivemon.inference.windows import Windows
from hivemon.model import HOUR, MINUTE, Event, Kind, Series
from hivemon.rules import Rules
from hivemon.signals.steps import Change

YARD = YardSettings(id="y", latitude=50.0, longitude=0.0, timezone="UTC")
RULES = Rules()
DAWN = round(datetime(2024, 5, 20, 3, 20, tzinfo=UTC).timestamp() * 1000)
NOON = round(datetime(2024, 5, 20, 12, tzinfo=UTC).timestamp() * 1000)


def change(size: float, *, minutes: float = 10, underway: int = 2, old: float = 45.0, **more: Any) -> Change:
    """A change of level around noon."""
    fields: dict[str, Any] = {
        "before": NOON - round(minutes * MINUTE / 2),
        "after": NOON + round(minutes * MINUTE / 2),
        "stood": 2 * HOUR,
        "old": old,
        "new": old + size,
        "overshoot": 0.0,
        "reversals": 0,
        "underway": underway,
        "gap": min(round(minutes * MINUTE), 5 * MINUTE),
        "settled": 20 * MINUTE,
        "readings": 5,
        "noise": 0.03,
        "trend": 0.0,
        "astray": 0,
        "largest": size if underway == 0 else 0.7 * size,
        "windy": False,
        "gradual": False,
    }
    return Change(**{**fields, **more})


CHANGE_FIELDS = {*Change._fields, "minutes"} - {"before", "after", "new"}


def evidence(size: float = -2.2, **more: Any) -> Evidence:
    """A prime swarm at noon in May, five-minute sampling, four quiet neighbours; `more` changes single facts."""
    about_change = {name: more.pop(name) for name in CHANGE_FIELDS & more.keys()}
    fields: dict[str, Any] = {
        "change": change(size, **about_change),
        "onset": NOON,
        "interval": 5 * MINUTE,
        "solar_hour": 12.0,
        "daylight": True,
        "fitting_entry": False,
        "visited": False,
        "weight_entry": False,
        "swarm_seen": False,
        "others_kg": 0.05,
        "others": 4,
        "swapped": False,
        "visit_nearby": False,
        "handled_before": False,
        "routine_kg": 0.1,
        "nest_change": 0.3,
        "nest_routine": 0.1,
        "humidity_change": 1.0,
        "outside": 22.0,
        "rain": 0.0,
        "rain_until_now": 0.0,
        "rain_due": False,
        "put_on_before": None,
        "undoes": False,
        "off_scale_kg": 5.0,
        "dropped_out_before": False,
        "dead": False,
        "season_days": -32.0,
        "dearth": False,
        "wanders": False,
        "swarmed": None,
        "losses_before": 0,
    }
    return Evidence(**{**fields, **more})


def look(now: int = NOON, hive: str | None = "a", **more: Any) -> Look:
    """A look at a yard of which nothing is known but what is given: streams, events, days, logbook."""
    return Look(
        YARD,
        more.get("rules", RULES),
        now,
        hive,
        Windows(more.get("streams", {})),
        more.get("events", {}),
        more.get("days", {}),
        by_hive(more.get("logbook", ())),
    )


def series(start: int, values: Any, minutes: float = 5) -> Series:
    """Readings from `start` on."""
    values = np.asarray(values, float)
    return Series(start + (np.arange(len(values)) * minutes * MINUTE).astype(np.int64), values)


def hours(start: int, values: Any) -> Series:
    """Readings of which every hour has twelve, alike."""
    return series(start, np.repeat(np.asarray(values, float), 12))


def event(kind: Kind, onset: int, *, hive: str | None = "a", size: float | None = None) -> dict[str, Event]:
    """One event told before, by id."""
    id_ = f"y/{hive}/{kind.value}/{onset}"
    told = Event(
        id=id_,
        kind=kind,
        yard="y",
        hive=hive,
        onset=onset,
        onset_first=onset,
        raised=onset + HOUR,
        size=size,
        confidence=0.9,
        reason="told-before",
        summary="",
        evidence={"old_kg": 45.0},
    )
    return {id_: told}

"""Scenes for the tests of advice: an invented yard, one moment, and just what a decision looks at."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from hivemon.advice.scene import Scene
from hivemon.config import HiveSettings, YardSettings
from hivemon.model import DAY, HOUR, Entry, Event, HiveDay, Kind, LogEntry

ZONE = ZoneInfo("Europe/Brussels")
YARD = YardSettings(id="orchard", name="Orchard", latitude=51.2, longitude=3.4, timezone="Europe/Brussels")
LIME = HiveSettings(id="o1", yard="orchard", name="Lime", brood_boxes=2, tare_kg=26.5)
ASH = HiveSettings(id="o2", yard="orchard", name="Ash", brood_boxes=2, screened_floor=True)
PLAIN = HiveSettings(id="o3", yard="orchard", brood_boxes=1)
HIVES = (LIME, ASH, PLAIN)
YARD_KINDS = {Kind.FLOW_ONSET, Kind.FLOW_END, Kind.DEARTH_ONSET, Kind.DEARTH_END}
UNITS = {Kind.SWARM: "kg", Kind.ROBBING: "kg/h", Kind.OFF_SCALE: "kg", Kind.UNLOGGED_STEP: "kg"}


def at(text: str) -> int:
    """Return a moment on the yard's clock, "2026-06-06 12:00", as ms UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp() * 1000)


NOW = at("2026-06-06 12:00")


def event(kind: Kind, when: int, hive: str | None = "o1", size: float | None = None, **more) -> Event:
    """Return an event; `more` overrides any field. It is raised an hour after its onset unless said otherwise."""
    fields = {
        "id": f"{kind.value}-{hive}-{when}",
        "kind": kind,
        "yard": "orchard",
        "hive": None if kind in YARD_KINDS else hive,
        "onset": when,
        "onset_first": when,
        "raised": when + HOUR,
        "size": size,
        "unit": UNITS.get(kind, "kg/d"),
        "confidence": 0.75,
        "reason": "test",
        "summary": "",
    }
    return Event(**{**fields, **more})


def entry(kind: Entry, when: int, hive: str = "o1", amount: float | None = None, note: str = "") -> LogEntry:
    return LogEntry(time=when, hive=hive, entry=kind, amount=amount, note=note)


def days(gains: list[float | None], until: int = NOW, hive: str = "o1", **more) -> list[HiveDay]:
    """Return whole hive days with these net gains, the last of them ended at five in the morning before `until`."""
    local = datetime.fromtimestamp(until / 1000, ZONE)
    last_end = int(local.replace(hour=5, minute=0, second=0, microsecond=0).timestamp() * 1000)
    first = last_end - len(gains) * DAY
    return [
        HiveDay(
            yard="orchard",
            hive=hive,
            date=datetime.fromtimestamp((first + i * DAY) / 1000, ZONE).date().isoformat(),
            start=first + i * DAY,
            dusk=first + i * DAY + 17 * HOUR,
            end=first + (i + 1) * DAY,
            net_gain=gain,
            **{"coverage": 1.0, **more},
        )
        for i, gain in enumerate(gains)
    ]


def scene(**more) -> Scene:
    """Return the yard at noon on Saturday 6 June 2026 with nothing going on; `more` overrides any field."""
    return Scene(**{"yard": YARD, "hives": HIVES, "now": NOW, **more})

"""An invented yard's configuration, hive days, advisories and events, for the tests of the commands."""

import time

from hivemon.model import DAY, HOUR, Advisory, Event, HiveDay, Kind, Urgency

CONFIG = """
[[yard]]
id = "orchard"
name = "Orchard"
latitude = 51.2
longitude = 3.4
timezone = "Europe/Brussels"

[[hive]]
id = "o1"
yard = "orchard"
brood_boxes = 2

[[hive]]
id = "o2"
yard = "orchard"
name = "Blue hive"
"""

DAWN = 1_781_232_000_000  # 2026-06-12T02:40:00Z, 04:40 in Brussels


def day(hive: str, back: int = 0, *, gain: float | None = 0.0, night: float | None = -0.4, dawn: int = DAWN) -> HiveDay:
    """Return the hive day that ended at `dawn`, or `back` days before."""
    end = dawn - back * DAY
    return HiveDay(
        yard="orchard",
        hive=hive,
        date=time.strftime("%Y-%m-%d", time.gmtime((end - DAY) / 1000)),
        start=end - DAY,
        dusk=end - 6 * HOUR,
        end=end,
        dusk_weight=48.2,
        end_weight=None if night is None else 48.2 + night,
        overnight_change=night,
        net_gain=gain,
        coverage=1.0,
    )


def advisory(hive: str | None = "o1", *, urgency: Urgency = Urgency.TODAY, title: str = "Super due") -> Advisory:
    return Advisory(
        id=f"a-{hive}-{urgency.value}-{title}",
        yard="orchard",
        hive=hive,
        raised=DAWN - HOUR,
        updated=DAWN - HOUR,
        urgency=urgency,
        title=title,
        saw="It gained 9.1 kg in 5 days.",
        means="Nectar is coming in fast, and the top super will be full on Saturday.",
        could_also_be=["rain that soaked into the wood"],
        do=["Put an empty super on top.", "Log it."],
        do_by=DAWN + DAY,
        cautions=["A full super weighs up to 20 kg: lift with two."],
        events=["e1"],
    )


def event(**changes: object) -> Event:
    fields: dict[str, object] = {
        "id": "e1",
        "kind": Kind.SWARM,
        "yard": "orchard",
        "hive": "o1",
        "onset": DAWN - 10 * HOUR,
        "onset_first": DAWN - 10 * HOUR,
        "raised": DAWN - 9 * HOUR,
        "size": 2.1,
        "unit": "kg",
        "confidence": 0.9,
        "reason": "fast loss in flying weather without handling",
        "summary": "A swarm of about 15,000 bees left.",
        "evidence": {"loss_kg": 2.1, "minutes": 14.0},
    }
    return Event(**{**fields, **changes})  # type: ignore[arg-type]

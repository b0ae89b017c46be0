"""A scene for every text a beekeeper can get, and the golden files made from them.

python tests/advice/golden_cases.py --write    writes golden/*.txt anew; read each aloud before committing it
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
from advice_scenes import ASH, LIME, NOW, PLAIN, ZONE, at, days, entry, event, scene

from hivemon.advice import words
from hivemon.advice.decide import advise
from hivemon.config import HiveSettings, Language, UnitSettings
from hivemon.model import DAY, Advisory, Entry, Kind, Urgency

if TYPE_CHECKING:
    from hivemon.advice.scene import Scene

GOLDEN = Path(__file__).parent / "golden"
POUNDS = UnitSettings(weight="lb", temperature="F")

FLOW = event(Kind.FLOW_ONSET, at("2026-05-31 05:00"), size=1.1, evidence={"rate": 1.1, "rate_sd": 0.2, "hives": 3.0})
FLOW_END = event(Kind.FLOW_END, at("2026-06-03 05:00"), size=0.05)
DEARTH = event(Kind.DEARTH_ONSET, at("2026-06-01 05:00"), size=-0.24)
LONG_DEARTH = event(Kind.DEARTH_ONSET, at("2026-05-21 05:00"), size=-0.24)
SWARM = event(
    Kind.SWARM,
    at("2026-06-06 11:18"),
    size=2.1,
    confidence=0.85,
    evidence={"bees_low": 13125.0, "bees_high": 16154.0, "minutes": 12.0},
)
SUPER_ON = entry(Entry.SUPER_ON, at("2026-05-31 11:00"))


def swarm_ago(days_ago: float, **more):
    return event(Kind.SWARM, NOW - round(days_ago * DAY), size=2.1, **more)


def fault(reason: str, hive: str | None = "o1"):
    return event(Kind.SENSOR_FAULT, at("2026-06-04 05:00"), hive=hive, reason=reason)


def hungry(weight: float, hive=LIME, **more) -> Scene:
    """A dearth in which one hive, that eats 0.2 kg a day, weighs so much."""
    return scene(
        **{
            "hives": [hive],
            "events": [DEARTH],
            "weights": {hive.id: weight},
            "days": {hive.id: days([-0.2] * 7, hive=hive.id)},
            **more,
        },
    )


def wash(mites: float, days_ago: float = 1.0, hive: str = "o1"):
    return entry(Entry.MITE_WASH, NOW - round(days_ago * DAY), hive=hive, amount=mites, note="bees=300")


def yard_days(gains: dict[str, float], until: int, **more):
    """Three weeks of hives that gain so much a day, more and less by turns."""
    return {
        hive: days([gain + (0.1 if i % 2 else -0.1) for i in range(21)], until=until, hive=hive, **more)
        for hive, gain in gains.items()
    }


AUGUST, JULY, JANUARY = at("2026-08-29 06:00"), at("2026-07-18 06:00"), at("2026-01-10 07:00")
WEIGHED = HiveSettings(id="o3", yard="orchard", name="Elm", brood_boxes=1, tare_kg=16.0)

STILL_WEAK = Advisory(
    id="weak:orchard:o3:2026@20260710T040000Z", yard="orchard", hive="o3", raised=at("2026-07-10 06:00"),
    updated=at("2026-07-10 06:00"), urgency=Urgency.THIS_WEEK, title="", saw="", means="",
)  # fmt: skip

WARM = days([0.1] * 20, temperature_mean=34.6, temperature_swing=0.8)
LOOSE = days([0.1] * 20, temperature_mean=29.0, temperature_swing=6.0)

CASES: dict[str, tuple[str, Scene]] = {
    # supers and the flow
    "first-super": ("super", scene(hives=[LIME], events=[FLOW], days={"o1": days([0.2, 0.9, 1.0, 1.1, 0.8, 1.2])})),
    "next-super": (
        "super",
        scene(hives=[LIME], events=[FLOW], logbook=[SUPER_ON], days={"o1": days([0.9, 0.8, 0.9, 1.1, 0.8, 1.2])}),
    ),
    "next-super-after-swarm-pounds": (
        "super",
        scene(
            hives=[PLAIN],
            units=POUNDS,
            events=[FLOW, event(Kind.SWARM, at("2026-05-28 12:00"), hive="o3", size=2.0)],
            logbook=[entry(Entry.SUPER_ON, at("2026-05-31 11:00"), hive="o3")],
            days={"o3": days([1.3] * 6, hive="o3")},
        ),
    ),
    "supers-full": (
        "super",
        scene(hives=[LIME], events=[FLOW], logbook=[SUPER_ON], days={"o1": days([2.4, 2.6, 2.5, 2.4, 2.6, 2.5])}),
    ),
    "super-fill-unknown": (
        "super",
        scene(
            hives=[HiveSettings(id="o1", yard="orchard", name="Lime", supers=1)],
            events=[FLOW],
            days={"o1": days([0.9, 0.8, 0.9, 1.1, 0.8, 1.2])},
        ),
    ),
    "supers-nearly-full": (
        "super",
        scene(
            hives=[LIME],
            logbook=[entry(Entry.SUPER_ON, at("2026-05-01 11:00"))],
            days={"o1": days([0.4] * 36)},
            events=[event(Kind.FLOW_ONSET, at("2026-05-04 05:00")), event(Kind.FLOW_END, at("2026-05-20 05:00"))],
        ),
    ),
    "flow-on": ("flow", scene(events=[FLOW])),
    "flow-over": ("flow-over", scene(events=[FLOW, FLOW_END], logbook=[SUPER_ON])),
    "flow-over-then-dearth": (
        "flow-over",
        scene(events=[FLOW, FLOW_END, event(Kind.DEARTH_ONSET, at("2026-06-05 05:00"), size=-0.2)], logbook=[SUPER_ON]),
    ),
    # swarms
    "swarm": ("swarm", scene(events=[SWARM])),
    "swarm-no-numbers": (
        "swarm",
        scene(hives=[PLAIN], events=[event(Kind.SWARM, at("2026-06-06 11:18"), hive="o3", confidence=0.6)]),
    ),
    "after-swarm-wait": ("after-swarm", scene(events=[swarm_ago(2)])),
    "after-swarm-eggs": ("after-swarm", scene(events=[swarm_ago(18)])),
    "after-swarm-eggs-late": ("after-swarm", scene(events=[swarm_ago(27)])),
    "after-swarm-queen-failed": ("after-swarm", scene(events=[swarm_ago(32)], days={"o1": LOOSE})),
    "after-swarm-brood-back": ("after-swarm", scene(events=[swarm_ago(32)], days={"o1": WARM})),
    "swarm-taken-back": (
        "swarm",
        scene(
            events=[swarm_ago(0.05, withdrawn=NOW, withdrawn_because="the weight came back within the hour")],
        ),
    ),
    "swarm-next-morning": ("swarm", scene(events=[SWARM], now=at("2026-06-07 05:30"))),
    "after-swarm-queen-given": (
        "after-swarm",
        scene(events=[swarm_ago(12)], logbook=[entry(Entry.REQUEEN, at("2026-06-04 14:00"))]),
    ),
    "after-swarm-no-eggs": (
        "after-swarm",
        scene(events=[swarm_ago(20)], logbook=[entry(Entry.INSPECT, at("2026-06-04 14:00"), note="no eggs yet")]),
    ),
    "nest-room": (
        "nest-room",
        scene(
            now=at("2026-05-23 05:30"),
            events=[event(Kind.FLOW_ONSET, at("2026-05-17 05:00"), size=0.6)],
            days={
                "o1": days([1.1] * 6, until=at("2026-05-23 05:30")),
                "o2": days([0.5] * 6, until=at("2026-05-23 05:30"), hive="o2"),
            },
        ),
    ),
    # mites
    "mites-above-with-supers": ("mites", scene(logbook=[SUPER_ON, wash(8)])),
    "mites-after-swarm": ("mites", scene(logbook=[wash(8)], events=[swarm_ago(26)])),
    "mites-high-pounds": ("mites", scene(logbook=[wash(24)], units=POUNDS)),
    "mites-in-several": ("mites", scene(logbook=[SUPER_ON, wash(8), wash(11, hive="o2"), wash(2, hive="o3")])),
    "mites-count-again": ("few-mites", scene(logbook=[wash(4)])),
    "mites-few": ("few-mites", scene(logbook=[wash(1)])),
    "mites-few-in-several": ("few-mites", scene(logbook=[wash(4), wash(1, hive="o2"), wash(0, hive="o3")])),
    "count-mites-first": ("count-mites", scene(days={"o1": days([0.1] * 20)})),
    "count-mites": ("count-mites", scene(days={"o1": days([0.1] * 20)}, logbook=[wash(2, days_ago=31)])),
    "recheck-mites": (
        "recheck-mites",
        scene(logbook=[entry(Entry.TREAT, at("2026-05-26 12:00"), hive=h.id) for h in (LIME, ASH)]),
    ),
    # strong and weak, winter
    "weak-hive": (
        "weak",
        scene(now=JULY, days=yard_days({"o1": 0.3, "o2": 0.6, "o3": -0.1}, JULY, morning_dip=0.25)),
    ),
    "weak-hive-in-brood-and-flight": (
        "weak",
        scene(
            now=JULY,
            days={
                **yard_days({"o1": 0.3, "o2": 0.3}, JULY, morning_dip=0.4, temperature_swing=0.8),
                **yard_days({"o3": 0.27}, JULY, morning_dip=0.1, temperature_swing=2.4),
            },
        ),
    ),
    "weak-hive-looked-at": (
        "weak",
        scene(
            now=JULY,
            days=yard_days({"o1": 0.3, "o2": 0.6, "o3": -0.1}, JULY, morning_dip=0.25),
            logbook=[entry(Entry.INSPECT, at("2026-07-17 12:00"), hive="o3")],
            open=[STILL_WEAK],
        ),
    ),
    "colonies-for-winter": ("colonies", scene(now=at("2026-07-21 06:00"))),
    "winter-stores": (
        "winter-stores",
        scene(hives=[LIME, WEIGHED, ASH], now=AUGUST, weights={"o1": 46.0, "o3": 31.0, "o2": 45.0}),
    ),
    "winter-stores-pounds": (
        "winter-stores",
        scene(hives=[LIME], now=at("2026-09-08 06:00"), weights={"o1": 46.0}, units=POUNDS),
    ),
    "winter-stores-tare-unknown": ("winter-stores", scene(hives=[ASH], now=AUGUST, weights={"o2": 45.0})),
    "winter-stores-supers-on": (
        "winter-stores",
        scene(
            hives=[ASH, PLAIN],
            now=AUGUST,
            weights={"o2": 45.0, "o3": 45.0},
            logbook=[entry(Entry.SUPER_ON, at("2026-08-01 11:00"), hive="o3")],
        ),
    ),
    "winter-food": (
        "winter-food",
        scene(
            hives=[LIME],
            now=JANUARY,
            weights={"o1": 35.7},
            days={"o1": days([-0.16] * 20, until=JANUARY)},
        ),
    ),
    # dearth and food
    "dearth": (
        "dearth",
        scene(
            hives=[LIME, ASH],
            events=[DEARTH],
            weights={"o1": 44.0, "o2": 48.0},
            days={"o1": days([-0.2] * 7), "o2": days([-0.2] * 7, hive="o2")},
        ),
    ),
    "dearth-lasting": ("dearth", scene(events=[LONG_DEARTH])),
    "dearth-lasting-in-heat": ("dearth", scene(events=[LONG_DEARTH], outside_celsius=37.0)),
    "dearth-food-short": ("dearth", hungry(35.0)),
    "dearth-in-heat": ("dearth", scene(events=[DEARTH], outside_celsius=37.0)),
    "feed-short": ("feed", hungry(35.0)),
    "feed-starving": ("feed", hungry(32.2)),
    "feed-starving-pounds": ("feed", hungry(32.2, units=POUNDS)),
    "feed-fondant": ("feed", hungry(35.0, outside_celsius=8.0)),
    "look-for-food": ("look-for-food", hungry(35.0, hive=ASH)),
    "look-for-food-lighter-than-guessed": ("look-for-food", hungry(29.0, hive=ASH)),
    "look-for-food-after-harvest": (
        "look-for-food",
        hungry(35.0, logbook=[SUPER_ON, entry(Entry.HARVEST, at("2026-06-02 10:00"))]),
    ),
    "keep-honey": ("keep-honey", hungry(43.0, logbook=[SUPER_ON])),
    # heat and robbing
    "heat-one-hive": ("heat", scene(events=[event(Kind.BROOD_HOT, at("2026-06-06 09:00"), size=38.6)])),
    "heat-one-hive-hot-day": (
        "heat",
        scene(events=[event(Kind.BROOD_HOT, at("2026-06-06 09:00"), size=38.6)], outside_celsius=37.0, units=POUNDS),
    ),
    "heat-yard": (
        "heat",
        scene(
            events=[
                event(Kind.BROOD_HOT, at("2026-06-06 09:00"), size=38.6),
                event(Kind.BROOD_HOT, at("2026-06-06 10:00"), hive="o3", size=39.1),
            ],
        ),
    ),
    "robbing": ("robbing", scene(events=[event(Kind.ROBBING, at("2026-06-06 10:00"), size=0.16)])),
    "robbing-in-heat": (
        "robbing",
        scene(events=[event(Kind.ROBBING, at("2026-06-06 10:00"), size=0.16)], outside_celsius=37.0),
    ),
    "robbing-in-heat-screened": (
        "robbing",
        scene(events=[event(Kind.ROBBING, at("2026-06-06 10:00"), hive="o2", size=0.16)], outside_celsius=37.0),
    ),
    "robbed-yesterday": ("robbing", scene(events=[event(Kind.ROBBING, at("2026-06-05 14:00"), size=0.16)])),
    # brood
    "brood-cold": ("brood", scene(events=[event(Kind.BROOD_COLD, at("2026-06-05 02:00"), size=29.4)])),
    "brood-deserted": (
        "brood",
        scene(
            events=[
                swarm_ago(2),
                event(Kind.BROOD_COLD, at("2026-06-05 02:00"), size=16.6, reason="colder-than-any-rest-of-bees"),
            ]
        ),
    ),
    "brood-cold-for-all": (
        "brood",
        scene(
            hives=[LIME],
            events=[
                event(Kind.BROOD_COLD, at("2026-06-05 02:00"), size=29.4),
                event(Kind.BROOD_COLD, at("2026-06-05 03:00"), hive="o2", size=30.0),
            ],
        ),
    ),
    "brood-unsteady": ("brood", scene(events=[event(Kind.BROOD_UNSTABLE, at("2026-06-03 05:00"), size=4.0)])),
    "brood-gap-after-split": (
        "brood",
        scene(
            events=[event(Kind.BROOD_UNSTABLE, at("2026-06-03 05:00"), size=4.0)],
            logbook=[entry(Entry.SPLIT, at("2026-05-20 14:00"))],
        ),
    ),
    "brood-gap-after-swarm-seen": (
        "brood",
        scene(
            events=[event(Kind.BROOD_UNSTABLE, at("2026-06-03 05:00"), size=4.0)],
            logbook=[entry(Entry.SWARM_SEEN, at("2026-05-20 14:00"))],
        ),
    ),
    "brood-gap-after-new-queen": (
        "brood",
        scene(
            events=[event(Kind.BROOD_COLD, at("2026-06-03 05:00"), size=30.0)],
            logbook=[entry(Entry.REQUEEN, at("2026-05-20 14:00"))],
        ),
    ),
    "brood-recovered": (
        "brood",
        scene(
            events=[
                event(Kind.BROOD_COLD, at("2026-06-03 05:00"), size=30.0),
                event(Kind.BROOD_RECOVERED, at("2026-06-05 05:00"), size=34.8),
            ],
        ),
    ),
    # sensors and the scale
    "scale-stuck": ("sensor", scene(events=[fault("weight-stuck")])),
    "scale-silent": ("sensor", scene(events=[fault("weight-silent")])),
    "node-silent": ("sensor", scene(events=[fault(f"{q}-silent") for q in ("weight", "temperature", "humidity")])),
    "scale-of-two-devices": ("sensor", scene(events=[fault("weight-two-devices")])),
    "brood-thermometer-power-on": ("sensor", scene(events=[fault("temperature-power-on-value")])),
    "scale-of-no-hive": ("sensor", scene(events=[fault("weight-no-hive")])),
    "weight-wanders": ("sensor", scene(events=[fault("weight-wanders")])),
    "humidity-silent": ("sensor", scene(events=[fault("humidity-silent")])),
    "battery-low": ("sensor", scene(events=[fault("battery-low", hive="o3")])),
    "rain-gauge-silent": ("sensor", scene(events=[fault("rain-silent", hive=None)])),
    "sensor-of-unknown-kind": ("sensor", scene(events=[fault("odd-thing")])),
    "off-scale": ("off-scale", scene(events=[event(Kind.OFF_SCALE, at("2026-06-06 10:40"), size=0.4)])),
    "back-on-scale": (
        "off-scale",
        scene(events=[event(Kind.OFF_SCALE, at("2026-06-06 10:40"), size=0.4)], weights={"o1": 41.0}),
    ),
    **{
        f"step-{name}": ("step", scene(events=[event(Kind.UNLOGGED_STEP, at("2026-06-05 15:10"), size=size)]))
        for name, size in {
            "fed": 2.0,
            "box-on": 6.8,
            "big-on": 22.0,
            "little-off": -3.1,
            "box-off": -19.0,
            "unknown": None,
        }.items()
    },
    **{
        f"step-of-visit-{name}": (
            "step",
            scene(
                events=[event(Kind.UNLOGGED_STEP, at("2026-06-05 15:10"), size=size, reason="visit-tells-no-amount")],
                logbook=[entry(Entry.INSPECT, at("2026-06-05 15:00"))],
            ),
        )
        for name, size in {"box-on": 6.8, "little-off": -3.1}.items()
    },
}


def golden(language: Language) -> Path:
    """Return the folder of a language's golden files."""
    return GOLDEN if language == "en" else GOLDEN / language


def wanted(name: str, language: Language = "en") -> Advisory:
    """Return the one advisory of a case in a language."""
    topic, staged = CASES[name]
    staged = replace(staged, yard=msgspec.structs.replace(staged.yard, language=language))
    found = [a for a in advise(staged) if a.id.startswith(f"{topic}:")]
    assert len(found) == 1, f"{name}: {[a.id for a in advise(staged)]}"
    return found[0]


def written(advisory: Advisory, language: Language = "en") -> str:
    """Return an advisory as a person reads it."""
    with words.speaking(language):
        by = f"{words.day(advisory.do_by, ZONE)} {words.clock(advisory.do_by, ZONE)}" if advisory.do_by else ""
    lines = [
        advisory.title,
        f"[{advisory.urgency.value}{', closes it' if advisory.closed else ''}]",
        "",
        f"Saw: {advisory.saw}",
        f"Means: {advisory.means}",
        *(f"Could also be: {text}" for text in advisory.could_also_be),
        *(f"Do: {text}" for text in advisory.do),
        *([f"By: {by}"] if by else []),
        *(f"Caution: {text}" for text in advisory.cautions),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write the golden files when asked to."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="write golden/*.txt anew")
    if not parser.parse_args().write:
        parser.error("nothing to do without --write")
    GOLDEN.mkdir(exist_ok=True)
    for language in words.LANGUAGES:
        golden(language).mkdir(exist_ok=True)
        for old in golden(language).glob("*.txt"):
            old.unlink()
        for name in CASES:
            text = written(wanted(name, language), language)
            (golden(language) / f"{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()

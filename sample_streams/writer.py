"""Write a recording: readings.csv.gz, logbook.csv, hivemon.toml, truth.json and daily.csv.gz into a folder.

The same scenario and seed give the same bytes (gzip without time stamp or file name).
"""

from __future__ import annotations

import gzip
import io
import json
from typing import TYPE_CHECKING

import numpy as np

from .grid import DAY, HOUR, rng_for
from .judge import daily_gain, document, stamp
from .record import DECIMALS, Readings, Series, record, scale_of
from .sun import crossings
from .yard import Yard, simulate

if TYPE_CHECKING:
    from pathlib import Path

    from .plan import Scenario

AMOUNTS = ("super-on", "super-off", "harvest", "feed", "split")  # logbook entries whose amount is kg
HEADER = "time,yard,hive,quantity,value\n"


def packed(data: bytes, level: int) -> bytes:
    """Gzip without time or name, so that equal data give equal bytes."""
    buffer = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", fileobj=buffer, mtime=0, compresslevel=level) as out:
        out.write(data)
    return buffer.getvalue()


def _lines(series: Series, yard: str, offset_hours: int) -> list[str]:
    """Rows of one series as text."""
    times = np.datetime_as_string((series.said + offset_hours * HOUR).astype("datetime64[s]")).tolist()
    zone = f"{offset_hours:+03d}:00" if offset_hours else "Z"
    middle = f"{zone},{yard},{series.hive},{series.quantity},"
    form = f"%.{DECIMALS[series.quantity]}f\n"
    return [time + middle + form % value for time, value in zip(times, series.values.tolist(), strict=True)]


def readings_text(readings: Readings, yard: str, offset_hours: int = 0) -> str:
    """The readings file in order of arrival."""
    lines: list[str] = []
    for series in readings.series:
        lines += _lines(series, yard, offset_hours)
    order = np.argsort(np.concatenate([s.arrival for s in readings.series]), kind="stable")
    return HEADER + "".join([lines[i] for i in order.tolist()])


def logbook_text(yard: Yard, seed: int) -> str:
    """The beekeeper's logbook: times to about an hour, amounts rough, some missing; in order of writing."""
    keeper = yard.scenario.keeper
    rng = rng_for(seed, yard.scenario.name, "logbook")
    rows = []
    for hive, colony in yard.colonies.items():
        for act in colony.life.acts:
            off = rng.normal(0, 0.6) * keeper.late * HOUR
            amount, note, blank = "", "", rng.random() < keeper.blank
            rough = 1 + rng.normal(0, keeper.rough)
            if not act.logged:
                continue
            written = round((act.start + off) / 900) * 900
            if act.action in AMOUNTS and not blank:
                amount = f"{round(abs(act.kg) * rough * 2) / 2:g}"
            if act.action == "mite-wash":
                amount, note = str(act.mites), "bees=300"
            rows.append((written, scale_of(yard, hive, act.start), act.action, amount, note))
    text = "".join(f"{stamp(w)},{hive},{entry},{amount},{note}\n" for w, hive, entry, amount, note in sorted(rows))
    return "time,hive,entry,amount,note\n" + text


def config_text(scenario: Scenario) -> str:
    """The smallest useful hivemon.toml."""
    place = scenario.place
    text = (
        f'[[yard]]\nid = "{place.yard}"\nname = "{place.name}"\nlatitude = {place.latitude}\n'
        f'longitude = {place.longitude}\ntimezone = "{place.timezone}"\n'
    )
    for hive in scenario.hives:
        text += f'\n[[hive]]\nid = "{hive.hive}"\nyard = "{place.yard}"\nbrood_boxes = {hive.brood_boxes}\n'
    return text


def daily_text(yard: Yard) -> str:
    """True parts of each hive day by colony: gains, night, stores, bees, brood, flight, rain.

    A colony that was moved to another scale keeps its first name here.
    """
    dusks = crossings(yard.grid, yard.weather.height, rising=False)
    head = "dawn,hive,net_gain,forage_gain,foraging_gain,overnight_change,stores,bees,brood,flying_hours,rain\n"
    out = [head]
    rain = np.diff(np.interp(yard.dawns, yard.grid.t, np.cumsum(yard.weather.rain)))
    for hive, colony in yard.colonies.items():
        own, life = colony.natural.own, colony.life
        net, forage = daily_gain(yard, colony.natural.total), daily_gain(yard, own)
        day = np.interp(dusks, yard.grid.t, own) - np.interp(yard.dawns, yard.grid.t, own)
        out += [
            f"{stamp(yard.dawns[d])},{hive},{net[d]:.3f},{forage[d]:.3f},{day[d]:.3f},{forage[d] - day[d]:.3f},"
            f"{life.stores[d]:.2f},{life.bees[d]:.0f},{life.brood[d]:.0f},{yard.forage.hours[d]:.1f},{rain[d]:.1f}\n"
            for d in range(yard.grid.days - 1)
        ]
    return "".join(out)


def write(scenario: Scenario, seed: int, folder: Path, level: int = 4) -> dict[str, int]:
    """Make a recording in `folder` (created if missing). Returns counts: rows, events, days."""
    yard = simulate(scenario, seed)
    readings = record(yard, seed)
    folder.mkdir(parents=True, exist_ok=True)
    truth = document(yard, readings, seed)
    text = readings_text(readings, scenario.place.yard, scenario.sampling.offset_hours)
    (folder / "readings.csv.gz").write_bytes(packed(text.encode(), level))
    (folder / "daily.csv.gz").write_bytes(packed(daily_text(yard).encode(), 9))
    (folder / "logbook.csv").write_text(logbook_text(yard, seed), encoding="utf-8")
    (folder / "hivemon.toml").write_text(config_text(scenario), encoding="utf-8")
    (folder / "truth.json").write_text(json.dumps(truth, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return {
        "rows": sum(len(s.said) for s in readings.series),
        "events": len(truth["events"]),
        "days": int((yard.grid.end - yard.grid.start) // DAY),
    }

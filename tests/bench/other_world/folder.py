"""Writes a season as files: readings, logbook, configuration and truth."""

from __future__ import annotations

import gzip
import json
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from .clock import Clock
    from .keeper import Line
    from .logger import Rows
    from .plan import YardPlan

DIGITS = {
    "weight": 3,
    "temperature": 2,
    "humidity": 1,
    "battery": 2,
    "outside-temperature": 1,
    "outside-humidity": 0,
    "rain": 1,
}


def write(
    folder: Path,
    plan: YardPlan,
    clock: Clock,
    rows: Rows,
    streams: list[tuple[str, str]],
    lines: list[Line],
    truth: dict[str, Any],
) -> None:
    """Write the four files. `streams` names (hive or empty, quantity) by number."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "readings.csv.gz").write_bytes(gzip.compress(_readings(plan, clock, rows, streams), 1, mtime=0))
    (folder / "logbook.csv").write_text(_logbook(clock, lines))
    (folder / "hivemon.toml").write_text(_config(plan))
    (folder / "truth.json").write_text(json.dumps(truth, indent=1, default=_plain))


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else str(value)


def _readings(plan: YardPlan, clock: Clock, rows: Rows, streams: list[tuple[str, str]]) -> bytes:
    start = np.datetime64(clock.origin.replace(tzinfo=None), "s")
    times = np.datetime_as_string(start + rows.second.astype("timedelta64[s]")).tolist()
    heads = [f"Z,{plan.name},{hive},{quantity}," for hive, quantity in streams]
    forms = [f"%.{DIGITS[quantity]}f" for _, quantity in streams]
    body = [
        time + heads[stream] + forms[stream] % value
        for time, stream, value in zip(times, rows.stream.tolist(), rows.value.tolist(), strict=True)
    ]
    return ("time,yard,hive,quantity,value\n" + "\n".join(body) + "\n").encode()


def _logbook(clock: Clock, lines: list[Line]) -> str:
    rows = [
        f"{clock.text(minute)},{hive},{entry},{'' if amount is None else f'{amount:g}'},{note}"
        for minute, hive, entry, amount, note in lines
    ]
    return "\n".join(["time,hive,entry,amount,note", *rows]) + "\n"


def _config(plan: YardPlan) -> str:
    yard = (
        f'[[yard]]\nid = "{plan.name}"\nname = "{plan.name.title()}"\nlatitude = {plan.latitude:.2f}\n'
        f'longitude = {plan.longitude:.2f}\ntimezone = "{plan.timezone}"\n'
    )
    hives = [
        f'\n[[hive]]\nid = "{hive.name}"\nyard = "{plan.name}"\nbrood_boxes = {1 if hive.weak else 2}\n'
        for hive in plan.hives
    ]
    return yard + "".join(hives)

"""The four files of a season."""

from __future__ import annotations

import gzip
import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from pathlib import Path

    from .places import Family
    from .sky import Grid

Column = tuple[str, str, NDArray[Any], NDArray[Any], str]
"""Hive (empty: the yard), quantity, times (ms), values, format of the value."""


def moment(ms: int) -> str:
    """Return a moment (ms UTC) as RFC 3339 in UTC, to the second."""
    return datetime.fromtimestamp(round(ms / 1000), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def readings(path: Path, yard: str, columns: list[Column]) -> None:
    """Write readings in order of time; values that are not numbers are left out."""
    times, texts = [], []
    for hive, quantity, at, value, form in columns:
        ok = np.isfinite(value)
        times.append(at[ok])
        middle = f",{yard},{hive},{quantity},"
        texts.append([middle + form % v for v in value[ok].tolist()])
    when = np.concatenate(times) // 1000
    order = np.argsort(when, kind="stable")
    lines = np.concatenate([np.array(t, dtype=object) for t in texts])[order].tolist()
    stamps = np.datetime_as_string(when[order].astype("datetime64[s]")).tolist()
    body = "\n".join([s + "Z" + line for s, line in zip(stamps, lines, strict=True)])
    with path.open("wb") as raw, gzip.GzipFile(fileobj=raw, mode="wb", compresslevel=1, mtime=0) as out:
        out.write(f"time,yard,hive,quantity,value\n{body}\n".encode())


def logbook(path: Path, names: list[str], lines: list[tuple[int, int, str, float | None, str]]) -> None:
    """Write the logbook in order of time."""
    rows = [
        f"{moment(ms)},{names[h]},{entry},{'' if kg is None else kg},{note}"
        for ms, h, entry, kg, note in sorted(lines, key=lambda x: x[:3])
    ]
    path.write_text("\n".join(["time,hive,entry,amount,note", *rows]) + "\n")


def settings(path: Path, family: Family, names: list[str], boxes: list[int]) -> None:
    """Write the smallest useful configuration."""
    text = f'[[yard]]\nid = "{family.yard}"\nname = "{family.yard.title()}"\n'
    text += f'latitude = {family.latitude:.2f}\nlongitude = {family.longitude:.2f}\ntimezone = "{family.timezone}"\n'
    for name, count in zip(names, boxes, strict=True):
        text += f'\n[[hive]]\nid = "{name}"\nyard = "{family.yard}"\nbrood_boxes = {count}\n'
    path.write_text(text)


def truth(
    path: Path, head: dict[str, Any], rows: list[dict[str, Any]], g: Grid, names: list[str], yard: str
) -> dict[str, Any]:
    """Write the truth, with steps turned into moments and hives into names, and return it."""
    events = []
    for row in rows:
        r = dict(row)
        for old, new in (("at", "onset"), ("stop", "end"), ("from", "loosening_from"), ("back", "returned_at")):
            if old in r:
                step = r.pop(old)
                r[new] = None if step is None else moment(g.ms(step))
        r["hive"] = None if r["hive"] is None else names[r["hive"]]
        events.append(r | {"yard": yard})
    events.sort(key=lambda r: r["onset"])
    whole = head | {"events": events}
    path.write_text(json.dumps(whole, indent=1))
    return whole

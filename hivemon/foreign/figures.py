"""Numbers as people write them: decimal point or comma, thousands, a unit behind; and what stands for nothing."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.foreign.sheet import Cell

NOTHING = frozenset(
    {"", "-", "--", "---", "?", "nan", "n/a", "na", "#n/a", "null", "none", "error", "err", "#wert!", "#value!"}
)
"""What recorders and spreadsheets write where nothing was measured."""
_NUMBER = re.compile(r"([+-]?(?:\d[\d.,'\u00a0\u202f ]*)?\d)(?:[eE]([+-]?\d+))?\s*([A-Za-z°%]{0,5})\Z|([+-]?[.,]\d+)\Z")


def is_nothing(cell: Cell) -> bool:
    """Tell whether a cell says that there is no value."""
    return cell is None or (isinstance(cell, str) and cell.strip().lower() in NOTHING)


def looks_numeric(cell: Cell) -> bool:
    """Tell whether a cell is a number in any notation."""
    return number(cell, ".") is not None or number(cell, ",") is not None


def unit_behind(cell: Cell) -> str:
    """Return the unit behind a number, as in `48.2 kg`; empty when there is none."""
    found = _NUMBER.match(cell.strip()) if isinstance(cell, str) else None
    return (found.group(3) or "") if found else ""


def decimal_signs(cells: Iterable[Cell]) -> set[str]:
    """Return which decimal signs the cells allow: one where they show it, both where it cannot be told, none if mixed.

    `1.234` may be a thousand or one and a bit; `48.2` cannot be a thousand, `1.234,5` shows both.
    """
    allowed = {".", ","}
    told = False
    for text in {cell for cell in cells if isinstance(cell, str)}:
        if not (found := _NUMBER.match(text.strip())):
            continue
        body = found.group(1) or found.group(4)
        possible = {sign for sign in ".," if _reads(body, sign)}
        if possible and set(body) & {".", ","}:
            told = True
            allowed &= possible
    return allowed if told else {"."}


def _reads(body: str, sign: str) -> bool:
    """Tell whether a number can be read with this decimal sign, the other standing between thousands."""
    other = "," if sign == "." else "."
    whole, _, part = body.partition(sign)
    if sign in part or other in part:
        return False
    groups = re.split(rf"[{re.escape(other)}'\u00a0\u202f ]", whole.lstrip("+-"))
    return len(groups) == 1 or (1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:]))  # noqa: PLR2004


def number(cell: Cell, sign: str) -> float | None:
    """Return a cell's number, read with this decimal sign; None when it is none."""
    if isinstance(cell, float):
        return cell
    return _number(cell, sign) if isinstance(cell, str) else None


@lru_cache(maxsize=65_536)
def _number(text: str, sign: str) -> float | None:
    """Read text as a number; the same few thousand values come again and again."""
    found = _NUMBER.match(text.strip())
    if found is None:
        return None
    body = found.group(1) or found.group(4)
    if not _reads(body, sign):
        return None
    other = "," if sign == "." else "."
    plain = re.sub(rf"[{re.escape(other)}'\u00a0\u202f ]", "", body).replace(sign, ".")
    return float(f"{plain}e{found.group(2)}" if found.group(2) else plain)

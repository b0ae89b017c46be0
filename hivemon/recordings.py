"""Where the bundled recordings are: beside the package when installed, in `sample_streams` in a source checkout."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from hivemon.errors import UsageError

_HERE = Path(__file__).parent
_PLACES = (_HERE / "recordings", _HERE.parent / "sample_streams" / "recordings")

PLAYED = "played"
"""Under this note in the store a demo leaves the name of the season it played: its readings are of another year."""


class Recording(NamedTuple):
    """The files of one invented season."""

    name: str
    config: Path
    readings: Path
    logbook: Path


def names() -> list[str]:
    """Return the names of the recordings that are here, in alphabetical order."""
    return sorted({path.parent.name for place in _PLACES for path in place.glob("*/readings.csv.gz")})


def find(name: str) -> Recording:
    """Return a recording; raises UsageError naming those that are here."""
    for place in _PLACES:
        folder = place / name
        if (folder / "readings.csv.gz").is_file():
            return Recording(name, folder / "hivemon.toml", folder / "readings.csv.gz", folder / "logbook.csv")
    raise UsageError(f"there is no recording {name!r}", hint=f"recordings: {', '.join(names()) or 'none'}")

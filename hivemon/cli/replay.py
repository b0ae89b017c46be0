"""`hivemon replay`: a readings file through the same fold as the daemon's; no broker, no server, no store."""

import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, load_settings
from hivemon.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from hivemon.cli.reading import BadRows, Counted
    from hivemon.replay import LastVersions


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(replay)


def replay(
    readings: Annotated[Path, typer.Option("--readings", help="The readings file (CSV, gzip or not).")],
    out: Annotated[Path, typer.Option("--out", help="Where the events go, one JSON object a line.")],
    config: ConfigOption = None,
    logbook: Annotated[Path | None, typer.Option("--logbook", help="The logbook file (CSV).")] = None,
    advice: Annotated[Path | None, typer.Option("--advice", help="Where the advice goes, as the events do.")] = None,
    days: Annotated[Path | None, typer.Option("--days", help="Where the hive days go, as the events do.")] = None,
) -> None:
    """Judge a readings file as the daemon would have.

    Writes down every event and advisory it would have said, in its last version, ordered by when it was raised.
    """
    from hivemon.cli import reading
    from hivemon.intake.ahead import Ahead
    from hivemon.intake.files import read_logbook, read_readings
    from hivemon.model import advisory_to_json, event_to_json, hive_day_to_json

    settings = load_settings(config)
    for given in (readings, *([logbook] if logbook else [])):
        reading.must_exist(given)
    for wanted in (out, advice, days):
        reading.must_be_writable(wanted)
    began = time.monotonic()
    bad, bad_entries = reading.BadRows(readings), reading.BadRows(logbook or Path())
    entries = read_logbook(logbook, rejected=bad_entries) if logbook else []
    counted = reading.Counted(settings)
    with (
        reading.progress(readings, "replaying") as tell,
        Ahead(counted(read_readings(readings, rejected=bad, progress=tell, doubled=counted.doubled))) as batches,
    ):
        # The fold takes half a second to import: meanwhile the reading has begun.
        from hivemon.replay import LastVersions
        from hivemon.replay import replay as folded

        last = LastVersions()
        for change in folded(settings, batches, entries):
            last.take(change)
    _write(out, map(event_to_json, last.events))
    if advice is not None:
        _write(advice, map(advisory_to_json, last.advisories))
    if days is not None:
        _write(days, map(hive_day_to_json, last.days))
    for told in (bad, bad_entries, counted):
        told.report()
    screen.aside(_summary(counted, bad, last, time.monotonic() - began))


def _write(path: Path, objects: "Iterable[dict[str, Any]]") -> None:
    from hivemon.files import write_json_lines

    try:
        write_json_lines(path, objects)
    except OSError as error:
        raise InputError(
            f"cannot write {path}: {error.strerror}", hint="look at the folder's rights and room"
        ) from error


def _summary(counted: "Counted", bad: "BadRows", last: "LastVersions", seconds: float) -> str:
    """Return the closing line: rows, bad rows, time, events by kind."""
    kinds = Counter(event.kind.value for event in last.events if event.withdrawn is None)
    by_kind = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items())) or "none"
    taken_back = sum(event.withdrawn is not None for event in last.events)
    withdrawn = f" ({taken_back} taken back)" if taken_back else ""
    return (
        f"{counted.readings:,} readings in {seconds:.1f} s, {counted.doubles:,} doubled rows, {bad.count:,} bad rows. "
        f"Events: {by_kind}{withdrawn}. Advice: {len(last.advisories)}."
    )

"""`hivemon replay`: a readings file through the same fold as the daemon's; no broker, no server, no store."""

import time
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, load_settings
from hivemon.errors import InputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from hivemon.archive import Outcome
    from hivemon.cli.reading import BadRows, Counted
    from hivemon.replay import LastVersions


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(replay)


def replay(
    readings: Annotated[
        Path, typer.Option("--readings", help="The readings file (CSV, gzip or not), or a folder of recordings.")
    ],
    out: Annotated[Path, typer.Option("--out", help="Where the events go, one JSON object a line; or a folder.")],
    config: ConfigOption = None,
    logbook: Annotated[Path | None, typer.Option("--logbook", help="The logbook file (CSV).")] = None,
    advice: Annotated[Path | None, typer.Option("--advice", help="Where the advice goes, as the events do.")] = None,
    days: Annotated[Path | None, typer.Option("--days", help="Where the hive days go, as the events do.")] = None,
    cluster: Annotated[
        str | None, typer.Option("--cluster", help="For a folder: a Dask scheduler, tcp://HOST:8786, or `local`.")
    ] = None,
) -> None:
    """Judge a readings file as the daemon would have.

    Writes down every event and advisory it would have said, in its last version, ordered by when it was raised. Of a
    folder, each folder in it with readings.csv(.gz) is judged, with its own hivemon.toml and logbook.csv.
    """
    if readings.is_dir() or cluster is not None:
        _replay_folder(readings, out, config, cluster, given=(logbook, advice, days))
        return
    from hivemon.cli import reading
    from hivemon.intake.ahead import Ahead
    from hivemon.intake.files import read_logbook, read_readings
    from hivemon.intake.moments import latest
    from hivemon.model import advisory_to_json, event_to_json, hive_day_to_json

    settings = load_settings(config)
    for given in (readings, *([logbook] if logbook else [])):
        reading.must_exist(given)
    for wanted in (out, advice, days):
        reading.must_be_writable(wanted)
    began = time.monotonic()
    bad, bad_entries = reading.BadRows(readings), reading.BadRows(logbook or Path())
    until = latest()
    entries = read_logbook(logbook, rejected=bad_entries, latest=until) if logbook else []
    counted = reading.Counted(settings)
    with (
        reading.progress(readings, "replaying") as tell,
        Ahead(
            counted(read_readings(readings, rejected=bad, progress=tell, doubled=counted.doubled, latest=until))
        ) as batches,
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


def _replay_folder(
    folder: Path, out: Path, config: Path | None, cluster: str | None, given: "tuple[Path | None, ...]"
) -> None:
    """Judge every recording of a folder; raises InputError at the end when some could not be judged."""
    from hivemon import archive

    if not folder.is_dir():
        raise UsageError("a cluster judges a folder of recordings", hint=f"{folder} is none")
    if any(given):
        hint = "each recording's logbook.csv is read; events, advice and days are written below --out"
        raise UsageError("--logbook, --advice and --days are for a single file", hint=hint)
    tasks = archive.recordings(folder, out, config)
    began, failed, readings = time.monotonic(), 0, 0
    for outcome in archive.one_by_one(tasks) if cluster is None else archive.on_cluster(tasks, cluster):
        failed, readings = failed + bool(outcome.error), readings + outcome.readings
        screen.aside(_line(outcome))
    seconds = time.monotonic() - began
    screen.aside(f"{len(tasks) - failed} of {len(tasks)} recordings, {readings:,} readings in {seconds:.1f} s: {out}")
    if failed:
        raise InputError(f"{failed} of {len(tasks)} recordings could not be judged", hint="the reasons stand above")


def _line(outcome: "Outcome") -> str:
    if outcome.error:
        return f"{outcome.name}: not judged: {outcome.error}"
    told = f"{outcome.readings:,} readings in {outcome.seconds:.1f} s, {outcome.bad:,} bad rows"
    return f"{outcome.name}: {told}, {outcome.events} events, {outcome.advisories} advisories"


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

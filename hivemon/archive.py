"""An archive judged anew: a folder with a folder for each recording, one after the other or on a Dask cluster.

A recording is a folder with `readings.csv` (or `.csv.gz`) and, where there are any, `hivemon.toml` and `logbook.csv`.
Each is one task of its own: files in, files out, nothing shared. So a worker that dies costs the time it had spent; its
recording is judged again elsewhere, and each result is written whole or not at all.
"""

from __future__ import annotations

import time
from collections import Counter
from contextlib import nullcontext
from typing import TYPE_CHECKING, Any, NamedTuple

from hivemon.config import load
from hivemon.errors import HivemonError, InputError, LinkError, UsageError
from hivemon.files import write_json_lines
from hivemon.intake.files import read_logbook, read_readings
from hivemon.intake.moments import latest
from hivemon.model import advisory_to_json, event_to_json, hive_day_to_json
from hivemon.replay import LastVersions, replay

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from hivemon.config import Settings

RETRIES = 3
"""How often a recording may take a worker with it before it is given up."""
CONNECT_SECONDS = 15
LOCAL = "local"
"""In place of a cluster's address: one of processes on this machine, for as long as it takes."""


class Recording(NamedTuple):
    """One task. Paths are absolute, and the same for every worker."""

    name: str
    config: Path
    readings: Path
    logbook: Path | None
    out: Path


class Outcome(NamedTuple):
    """What became of a recording; `error` is empty, or why there is no result. Rows that were no readings: `bad`."""

    name: str
    seconds: float = 0.0
    readings: int = 0
    bad: int = 0
    events: int = 0
    advisories: int = 0
    error: str = ""


def recordings(folder: Path, out: Path, config: Path | None) -> list[Recording]:
    """Return the recordings below a folder, by name; results go to folders of the same names below `out`.

    `config` serves those that bring no `hivemon.toml`. Raises InputError when there is none, or one has no
    configuration.
    """
    found = []
    for place in sorted(path.parent for path in folder.glob("*/readings.csv*") if path.suffix in (".csv", ".gz")):
        readings = next(place / name for name in ("readings.csv.gz", "readings.csv") if (place / name).exists())
        own, logbook = place / "hivemon.toml", place / "logbook.csv"
        used = own if own.exists() else config
        if used is None:
            raise InputError(f"{place} has no hivemon.toml", hint="put one there, or name one for all with --config")
        kept = logbook.absolute() if logbook.exists() else None
        found.append(Recording(place.name, used.absolute(), readings.absolute(), kept, (out / place.name).absolute()))
    if not found:
        hint = "it should hold a folder for each recording, with readings.csv.gz in it"
        raise InputError(f"there is no recording in {folder}", hint=hint)
    return found


def judge(recording: Recording) -> Outcome:
    """Judge one recording and write its events, advice and hive days; what is wrong with its files is in the outcome.

    The same recording always gives the same bytes, once its last time has come: what lies ahead is left out. Runs in a
    worker's process.
    """
    began = time.monotonic()
    try:
        settings = load(recording.config)
        last, counts = _folded(recording, settings)
        recording.out.mkdir(parents=True, exist_ok=True)
        write_json_lines(recording.out / "events.jsonl", map(event_to_json, last.events))
        write_json_lines(recording.out / "advice.jsonl", map(advisory_to_json, last.advisories))
        write_json_lines(recording.out / "days.jsonl", map(hive_day_to_json, last.days))
    except HivemonError as error:
        return Outcome(recording.name, error=f"{error}; {error.hint}" if error.hint else str(error))
    except OSError as error:
        return Outcome(recording.name, error=f"cannot write {recording.out}: {error.strerror}")
    events = sum(event.withdrawn is None for event in last.events)
    seconds = time.monotonic() - began
    return Outcome(recording.name, seconds, counts["readings"], counts["bad"], events, len(last.advisories))


def _folded(recording: Recording, settings: Settings) -> tuple[LastVersions, Counter[str]]:
    counts: Counter[str] = Counter()
    known = {yard.id for yard in settings.yard}

    def bad(_number: int, _reason: str, _row: str) -> None:
        counts["bad"] += 1

    until = latest()

    def counted() -> Iterator[Any]:
        for batch in read_readings(recording.readings, rejected=bad, latest=until):
            counts["readings"] += sum(len(s.time) for yard in known & set(batch) for s in batch[yard].values())
            yield batch

    entries = read_logbook(recording.logbook, rejected=bad, latest=until) if recording.logbook else []
    last = LastVersions()
    for change in replay(settings, counted(), entries):
        last.take(change)
    return last, counts


def one_by_one(tasks: Sequence[Recording]) -> Iterator[Outcome]:
    """Judge recordings here, yielding each outcome."""
    yield from map(judge, tasks)


def on_cluster(tasks: Sequence[Recording], address: str) -> Iterator[Outcome]:
    """Judge recordings on a Dask cluster, yielding outcomes as they come; a lost worker's are judged again.

    Args:
        tasks: Their paths must be the same for every worker: a shared folder.
        address: Of the scheduler, as `tcp://192.0.2.7:8786` or `tls://...`; or `local`.

    Raises:
        UsageError: Dask is not installed.
        LinkError: The scheduler cannot be reached.
    """
    dask = _dask()
    local = address == LOCAL
    with dask.LocalCluster(threads_per_worker=1, dashboard_address=None) if local else nullcontext(address) as cluster:
        try:
            client = dask.Client(cluster, timeout=CONNECT_SECONDS)
        except (OSError, ValueError) as error:
            hint = "look at the address, and whether the scheduler runs: `dask scheduler`, `dask worker ADDRESS`"
            raise LinkError(f"no cluster at {address}: {error}", hint=hint) from error
        with client:
            futures = {client.submit(judge, task, pure=False, retries=RETRIES): task.name for task in tasks}
            for future in dask.as_completed(futures):
                try:
                    yield future.result()
                except dask.KilledWorker:
                    yield Outcome(futures[future], error=f"{RETRIES + 1} workers died of it, most likely of its size")
                except Exception as error:  # noqa: BLE001 - whatever it is, the other recordings go on
                    yield Outcome(futures[future], error=f"{type(error).__name__}: {error}")
                future.release()


def _dask() -> Any:
    """Return Dask's distributed part, which is an extra, slow to import and typed by halves."""
    try:
        import distributed  # noqa: PLC0415
    except ImportError as error:
        hint = "pip install 'hivemon[cluster]'"
        raise UsageError("a cluster needs Dask, which is not installed", hint=hint) from error
    return distributed

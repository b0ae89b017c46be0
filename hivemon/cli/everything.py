"""`hivemon export --everything`: all that a user owns, as files that other programs read."""

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from hivemon.store import Store

FILES = {
    "readings": "readings.csv.gz",
    "means": "means.csv.gz",
    "logbook": "logbook.csv",
    "events": "events.jsonl",
    "advice": "advice.jsonl",
    "days": "days.jsonl",
    "answers": "answers.jsonl",
    "messages": "messages.jsonl",
}
"""What is written by `--everything`, and under which name."""

_MEANS = ("start", "yard", "hive", "quantity", "readings", "mean", "low", "high")


def make_folder(folder: Path) -> dict[str, Path]:
    """Make a folder for everything; raises InputError where it cannot be, or where it holds one of the files."""
    from hivemon.errors import InputError

    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise InputError(f"cannot make the folder {folder}: {error.strerror}", hint="name another") from error
    there = [name for name in FILES.values() if (folder / name).exists()]
    if there:
        raise InputError(f"{folder / there[0]} is there already", hint="name a folder that is empty or not there yet")
    return {what: folder / name for what, name in FILES.items()}


def write_means(store: "Store", path: Path, yards: "Sequence[str]") -> int:
    """Write the 15-minute means of these yards as CSV (RFC 4180), gzip where the name ends in .gz; return the rows.

    They reach back further than the readings, which are thinned out after `raw_days`.
    """
    import gzip

    from hivemon.files import whole_file

    written = 0
    with whole_file(path) as raw:
        out = gzip.GzipFile(filename="", mode="wb", fileobj=raw, mtime=0) if path.suffix == ".gz" else raw
        with io.TextIOWrapper(out, encoding="utf-8", newline="") as text:
            rows = csv.writer(text)
            rows.writerow(_MEANS)
            for yard in yards:
                for row in _mean_rows(store, yard):
                    rows.writerow(row)
                    written += 1
            text.flush()
            if out is raw:
                text.detach()
    return written


def _mean_rows(store: "Store", yard: str) -> "Iterator[tuple[Any, ...]]":
    """Yield one stream after the other, so that memory holds one."""
    from hivemon.model import rfc3339

    for stream in store.latest(yard) | store.means(yard):
        means = store.means(yard, streams=[stream]).get(stream)
        if means is None:
            continue
        columns = (means.start, means.n, means.mean, means.low, means.high)
        for start, n, mean, low, high in zip(*(column.tolist() for column in columns), strict=True):
            numbers = (f"{number:.9g}" for number in (mean, low, high))
            yield rfc3339(start), yard, stream.hive or "", stream.quantity.value, n, *numbers


def answers(store: "Store") -> "Iterator[dict[str, Any]]":
    """Yield every answer that was given to an advisory, oldest first within each."""
    from hivemon.model import rfc3339

    for advisory in sorted(store.answers()):
        for given in store.answer_history(advisory):
            yield {
                "advisory": advisory,
                "time": rfc3339(given.time),
                "answer": given.answer.value,
                "remark": given.remark,
            }


def messages(store: "Store") -> "Iterator[dict[str, Any]]":
    """Yield every message to people, oldest first, sent or waiting."""
    from hivemon.model import rfc3339

    for message in reversed(store.messages(2**62)):
        yield {
            "created": rfc3339(message.created),
            "sent": None if message.sent is None else rfc3339(message.sent),
            "channel": message.channel,
            "yard": message.yard,
            "title": message.title,
            "text": message.text,
            "advisories": message.advisories,
        }

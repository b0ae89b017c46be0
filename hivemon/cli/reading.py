"""Reading big files in front of a person: progress, bad rows by number and reason, rows of unknown yards."""

import contextlib
import re
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from hivemon.cli import screen
from hivemon.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from hivemon.config import Settings
    from hivemon.intake.files import Batch

SHOWN = 20
"""Bad rows told one by one; the rest are counted by reason."""


_NUMBERS = re.compile(r"\d+([.,]\d+)*")


class BadRows:
    """Collects the rows that could not be used."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._first: list[tuple[int, str]] = []
        self._reasons: Counter[str] = Counter()
        self._alike: dict[str, str] = {}
        """The first of the reasons that differ in their numbers alone."""

    def __call__(self, number: int, reason: str, row: str) -> None:
        """Take one: its line number in the file, from 1, why, and its text."""
        del row  # the number finds it, and it may be long
        self._reasons[self._alike.setdefault(_NUMBERS.sub("0", reason), reason)] += 1
        if len(self._first) < SHOWN:
            self._first.append((number, reason))

    @property
    def count(self) -> int:
        """How many there were."""
        return self._reasons.total()

    def lines(self) -> list[str]:
        """Return what to say of them: each of the first, then the rest by reason; nothing when there were none."""
        said = [f"{self._path}, row {number}: {reason}" for number, reason in self._first]
        if self.count > SHOWN:
            said.append(f"... and {self.count - SHOWN:,} more bad rows; in all:")
            said += [f"  {count:,} like: {reason}" for reason, count in self._reasons.most_common(SHOWN)]
        return said

    def report(self) -> None:
        """Say them on standard error."""
        for line in self.lines():
            screen.aside(line)


class Counted:
    """Passes batches on, counting readings and leaving out yards that are not configured."""

    def __init__(self, settings: "Settings") -> None:
        self._known = {yard.id for yard in settings.yard}
        self.readings = 0
        self.doubles = 0
        self.unknown: Counter[str] = Counter()

    def __call__(self, batches: "Iterable[Batch]") -> "Iterator[Batch]":
        """Yield the batches without unknown yards."""
        for batch in batches:
            known = {}
            for yard, streams in batch.items():
                count = sum(series.time.size for series in streams.values())
                if yard in self._known:
                    self.readings += count
                    known[yard] = streams
                else:
                    self.unknown[yard] += count
            if known:
                yield known

    def doubled(self, count: int) -> None:
        """Take note of rows that only said again what another row said."""
        self.doubles += count

    def report(self) -> None:
        """Say on standard error what was left out."""
        known = ", ".join(sorted(self._known))
        for yard, count in self.unknown.items():
            screen.aside(f"{count:,} readings of yard {yard!r} left out: the configuration has {known}")


def must_exist(path: Path) -> None:
    """Raise InputError when there is no such file."""
    if path.is_dir():
        raise InputError(f"{path} is a folder", hint="name the file in it")
    if not path.is_file():
        raise InputError(f"there is no file {path}", hint="look at its name and folder")


def must_be_writable(path: Path | None) -> None:
    """Raise InputError when the folder of a file to be written is not there; better now than after the work."""
    if path is not None and not path.absolute().parent.is_dir():
        raise InputError(f"there is no folder {path.absolute().parent} to write {path.name} into", hint="make it first")


@contextlib.contextmanager
def progress(path: Path, what: str) -> "Iterator[Callable[[int], None]]":
    """Show on standard error how much of a file has been read, when a person looks; yields the function to tell it."""
    if not screen.progress_wanted():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TaskProgressColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    with bar:
        task = bar.add_task(what, total=path.stat().st_size)
        yield lambda done: bar.update(task, completed=done)


@contextlib.contextmanager
def working(what: str) -> "Iterator[None]":
    """Show on standard error that work without a known end goes on, when a person looks."""
    if not screen.progress_wanted():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(what):
        yield

"""Making a store's files as a power cut leaves them, and judging what becomes of them."""

import shutil
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import NamedTuple

from processes import run

from hivemon.errors import StoreError
from hivemon.model import MINUTE, Quantity, Stream
from hivemon.store import Store
from hivemon.store.witness import Witness

T0 = 1_750_000_000_000
SECTOR = 512
PAGE = 4096
FRAME = 24 + PAGE
"""A frame of the write-ahead log: a header of 24 bytes and a page (sqlite.org/fileformat2.html, section 4.1)."""
COMMITS = 60
WHOLE, SAID, SILENT = "everything is there", "it says what is lost", "LOST IN SILENCE"

WRITER = """
from hivemon.store.witness import Witness
store = Store.open(path)
store._db.run("PRAGMA wal_autocheckpoint = 0")
for number in range(60):
    with store.transaction():
        rows = [Reading(T0 + (number * 40 + n) * MINUTE, "orchard", "o1", Quantity.WEIGHT, 50.0) for n in range(40)]
        store.add_readings(rows)
        store.add_entry("orchard", LogEntry(time=T0, hive="o1", entry=Entry.NOTE, note=f"entry {number} " + "x" * 300))
        store.outbox_put([f"n v={number}i"], T0)
    if number == 30:
        store._db.run("PRAGMA wal_checkpoint(TRUNCATE)")
Witness(path).beat(store, T0)
import shutil
for end in ("", "-wal", ".witness"):
    shutil.copy(f"{path}{end}", f"{path.parent}/kept{end}")
store._db.run("PRAGMA wal_checkpoint(FULL)")
shutil.copy(path, f"{path.parent}/after")
die()
"""


class Case(Enum):
    """What the power cut met."""

    LOG_CUT = "the log is cut off"
    LOG_TORN = "the log's last frames are half written"
    CHECKPOINT_TORN = "a checkpoint has written some sectors of the database; the log is whole"
    DATABASE_CUT = "the database's last page is cut off, and no log has it"
    DATABASE_TORN = "the database's last pages hold zeros or another page's half, and no log has them"

    @property
    def allowed(self) -> set[str]:
        """With the log whole nothing may be missing; else what is missing must be said."""
        return {WHOLE} if self is Case.CHECKPOINT_TORN else {WHOLE, SAID}


class Cut(NamedTuple):
    """Files after a power cut; `what` tells it in words."""

    what: str
    database: bytes
    log: bytes


class Base(NamedTuple):
    """The files before: database and log, and the database after a checkpoint of that log."""

    database: bytes
    log: bytes
    after: bytes
    witness: bytes


def built(folder: Path) -> Base:
    """Have a process commit and die; return its files."""
    path = folder / "hivemon.db"
    run(WRITER, path, killed=True)
    return Base(*((folder / name).read_bytes() for name in ("kept", "kept-wal", "after", "kept.witness")))


def cases(base: Base, kind: Case, chance, count: int) -> Iterator[Cut]:
    """Yield that many cuts of a kind, at random places."""
    for _ in range(count):
        yield _MAKERS[kind](base, chance)


def _log_cut(base: Base, chance) -> Cut:
    length = chance.randrange(len(base.log))
    return Cut(f"log of {length} bytes", base.database, base.log[:length])


def _log_torn(base: Base, chance) -> Cut:
    log = bytearray(base.log)
    first = len(log) - chance.randint(1, 6) * FRAME
    torn = [at for at in range(first, len(log), SECTOR) if chance.random() < 0.5]
    for at in torn:
        log[at : at + SECTOR] = bytes(min(SECTOR, len(log) - at))
    return Cut(f"log torn at {torn}", base.database, bytes(log))


def _checkpoint_torn(base: Base, chance) -> Cut:
    size = chance.choice([len(base.database), len(base.after)])
    database = bytearray(base.database.ljust(size, b"\0")[:size])
    share = chance.random()
    for at in range(0, size, SECTOR):
        if chance.random() < share:
            database[at : at + SECTOR] = base.after[at : at + SECTOR]
    return Cut(f"{share:.2f} of the sectors written", bytes(database), base.log)


def _database_cut(base: Base, chance) -> Cut:
    gone = chance.randint(1, 2 * PAGE)
    return Cut(f"{gone} bytes gone", base.after[:-gone], b"")


def _database_torn(base: Base, chance) -> Cut:
    database = bytearray(base.after)
    at = len(database) - chance.randint(1, 12) * PAGE
    half = chance.choice([slice(at, at + PAGE), slice(at, at + PAGE // 2), slice(at + PAGE // 2, at + PAGE)])
    other = chance.randrange(len(database) // PAGE) * PAGE
    length = half.stop - half.start
    database[half] = chance.choice([bytes(length), b"\xff" * length, bytes(database[other : other + length])])
    return Cut(f"page at {at}, {half}", bytes(database), b"")


_MAKERS = {
    Case.LOG_CUT: _log_cut,
    Case.LOG_TORN: _log_torn,
    Case.CHECKPOINT_TORN: _checkpoint_torn,
    Case.DATABASE_CUT: _database_cut,
    Case.DATABASE_TORN: _database_torn,
}


def judged(base: Base, cut: Cut, folder: Path) -> str:
    """Open the files of a cut and say what became of it; the folder is gone afterwards."""
    folder.mkdir()
    path = folder / "hivemon.db"
    path.write_bytes(cut.database)
    if cut.log:
        Path(f"{path}-wal").write_bytes(cut.log)
    Witness(path).path.write_bytes(base.witness)
    try:
        with Store.open(path) as store:
            if store.check() or Witness(path).lost(store):
                return SAID
            return WHOLE if _complete(store) else SILENT
    except StoreError as error:
        return SAID if error.hint else SILENT
    finally:
        shutil.rmtree(folder)


def _complete(store: Store) -> bool:
    """Whether every commit is there, whole."""
    series = store.series("orchard")[Stream("o1", Quantity.WEIGHT)]
    notes = [entry.note.split(" x")[0] for entry in store.entries()]
    lines = [line for batch in store.outbox_peek(10**6) for line in batch.lines]
    return (
        series.time.tolist() == [T0 + n * MINUTE for n in range(40 * COMMITS)]
        and set(series.value.tolist()) == {50.0}
        and sorted(notes) == sorted(f"entry {n}" for n in range(COMMITS))
        and lines == [f"n v={n}i" for n in range(COMMITS)]
    )

"""Store and forward: the last readings in a file of fixed size, kept until the broker has acknowledged them.

The file begins with two cursors (sequence number, CRC), written in turn, so that a power cut spoils one at most; then
come the slots (sequence number, session, time, four values, CRC). A cut while a slot is written costs that one reading;
a cut before a cursor is written costs a repeat, which hivemon recognises. Every write closes the file, since that is
what makes a flash file system keep it.
"""

import os
import struct
from binascii import crc32

CURSOR = "<II"
SLOT = "<IIIffffI"
HEAD = 2 * struct.calcsize(CURSOR)
SIZE = struct.calcsize(SLOT)
DATED = 0
"""The session of a slot whose time is Unix seconds; others count seconds of an unset clock in that session."""


class Ring:
    """The readings not yet acknowledged, oldest first; when full, the oldest gives way and is counted.

    `overwritten` and `undated` count what was lost since the node woke: to a full ring, and to a power cut before the
    clock was set.
    """

    def __init__(self, path, slots=4096):
        """Open the ring, or create one of `slots` readings. An existing file keeps its own size."""
        self.path = path
        self.overwritten = 0
        self.undated = 0
        try:
            length = os.stat(path)[6]
        except OSError:
            length = 0
        if length < HEAD + SIZE:
            _create(path, slots)
            length = HEAD + slots * SIZE
        self.slots = (length - HEAD) // SIZE
        self._find_ends()

    def __len__(self):
        """Return how many slots lie between the oldest not acknowledged and the newest."""
        return self._next - self._first

    def add(self, session, time, values):
        """Keep one reading: `values` are four numbers, None where a sensor gave nothing."""
        numbers = [float("nan") if value is None else value for value in values]
        self._write(self._next, session, time, numbers)
        self._next += 1
        if self._next - self._first > self.slots:
            self._first += 1
            self.overwritten += 1

    def pending(self, most, session):
        """Return up to `most` readings to send as (number, Unix seconds, values), oldest first.

        Ends before a reading of this `session` that waits for the clock. One of an earlier session without a time is
        passed over: nobody can say any more when it was.
        """
        found = []
        with open(self.path, "rb") as file:
            for number in range(self._first, self._next):
                slot = _read(file, number, self.slots)
                if slot is None:
                    continue
                if slot[0] == session != DATED or len(found) == most:
                    break
                if slot[0] == DATED:
                    found.append((number, slot[1], slot[2]))
        return found

    def acknowledge(self, number):
        """Forget readings up to and including `number`."""
        if number < self._first:
            return
        with open(self.path, "rb") as file:
            for passed in range(self._first, number + 1):
                slot = _read(file, passed, self.slots)
                self.undated += slot is not None and slot[0] != DATED
        self._first = number + 1
        cursor = struct.pack("<I", self._first)
        with open(self.path, "r+b") as file:
            file.seek(self._cursor * (HEAD // 2))
            file.write(cursor + struct.pack("<I", crc32(cursor)))
        self._cursor = 1 - self._cursor

    def date(self, session, seconds):
        """Give the readings of a session Unix times, now that setting the clock has moved it by `seconds`."""
        waiting = []
        with open(self.path, "rb") as file:
            for number in range(self._first, self._next):
                slot = _read(file, number, self.slots)
                if slot is not None and slot[0] == session != DATED:
                    waiting.append((number, slot[1], slot[2]))
        for number, time, values in waiting:
            self._write(number, DATED, time + seconds, [float("nan") if v is None else v for v in values])

    def newest_session(self):
        """Return the highest session in the ring, so that a node whose power was cut can take the next."""
        newest = DATED
        with open(self.path, "rb") as file:
            for number in range(max(1, self._next - self.slots), self._next):
                slot = _read(file, number, self.slots)
                newest = newest if slot is None else max(newest, slot[0])
        return newest

    def _find_ends(self):
        """Find the oldest and the newest slot and which cursor to write next."""
        newest = 0
        with open(self.path, "rb") as file:
            cursors = [_checked(file.read(HEAD // 2), CURSOR) for _ in range(2)]
            for place in range(self.slots):
                file.seek(HEAD + place * SIZE)
                slot = _checked(file.read(SIZE), SLOT)
                if slot is not None and slot[0] % self.slots == place:
                    newest = max(newest, slot[0])
        known = [0 if cursor is None else cursor[0] for cursor in cursors]
        self._cursor = 0 if known[0] <= known[1] else 1
        self._next = max(newest + 1, known[0], known[1])
        self._first = max(1, known[0], known[1], self._next - self.slots)

    def _write(self, number, session, time, numbers):
        body = struct.pack(SLOT[:-1], number, session, time, *numbers)
        with open(self.path, "r+b") as file:
            file.seek(HEAD + number % self.slots * SIZE)
            file.write(body + struct.pack("<I", crc32(body)))


def _create(path, slots):
    """Write an empty ring beside and rename it, so that there is a whole one or none."""
    with open(path + ".new", "wb") as file:
        file.write(bytes(HEAD))
        for _ in range(slots):
            file.write(bytes(SIZE))
    os.rename(path + ".new", path)


def _read(file, number, slots):
    """Return (session, time, values) of a slot, or None where a cut spoiled it."""
    file.seek(HEAD + number % slots * SIZE)
    slot = _checked(file.read(SIZE), SLOT)
    if slot is None or slot[0] != number:
        return None
    return slot[1], slot[2], [None if value != value else value for value in slot[3:7]]  # noqa: PLR0124 - NaN


def _checked(raw, form):
    """Unpack bytes that end in their own CRC-32; None where it does not fit. Zeros alone are an empty place."""
    if len(raw) != struct.calcsize(form) or not any(raw):
        return None
    numbers = struct.unpack(form, raw)
    return numbers if numbers[-1] == crc32(raw[:-4]) else None

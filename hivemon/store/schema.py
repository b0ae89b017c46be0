"""The tables, each with what its columns hold. Times are milliseconds UTC; `hive` is '' for the yard's own."""

from __future__ import annotations

FIRST: tuple[str, ...] = (
    # Which migrations this file has had; user_version holds the highest number.
    """CREATE TABLE migration (
        number INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        applied INTEGER NOT NULL
    ) STRICT""",
    """CREATE TABLE series (
        id INTEGER PRIMARY KEY,
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        quantity TEXT NOT NULL,
        UNIQUE (yard, hive, quantity)
    ) STRICT""",
    # One row a reading, without a rowid: the key is the row. `stamped` is 1 when the time is that of receipt.
    """CREATE TABLE reading (
        series INTEGER NOT NULL REFERENCES series (id),
        time INTEGER NOT NULL,
        value REAL NOT NULL,
        stamped INTEGER NOT NULL DEFAULT 0,
        PRIMARY KEY (series, time)
    ) STRICT, WITHOUT ROWID""",
    # What is left of readings that have been thinned out. `first` and `last` are the times of the first and last
    # reading in the window, in ms after `start`: a reading between them has been counted.
    """CREATE TABLE mean (
        series INTEGER NOT NULL REFERENCES series (id),
        start INTEGER NOT NULL,
        n INTEGER NOT NULL,
        mean REAL NOT NULL,
        low REAL NOT NULL,
        high REAL NOT NULL,
        first INTEGER NOT NULL,
        last INTEGER NOT NULL,
        PRIMARY KEY (series, start)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE entry (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        time INTEGER NOT NULL,
        entry TEXT NOT NULL,
        amount REAL,
        note TEXT NOT NULL,
        struck INTEGER NOT NULL DEFAULT 0
    ) STRICT""",
    "CREATE INDEX entry_by_yard ON entry (yard, time)",
    # Everything that was ever done to a logbook entry; `change` is added, corrected or struck.
    """CREATE TABLE entry_history (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id INTEGER NOT NULL REFERENCES entry (id),
        change TEXT NOT NULL,
        recorded INTEGER NOT NULL,
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        time INTEGER NOT NULL,
        entry TEXT NOT NULL,
        amount REAL,
        note TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX entry_history_by_id ON entry_history (id, number)",
    "CREATE INDEX entry_history_by_hive ON entry_history (yard, hive, time)",
    # `body` is the whole event as MessagePack, which keeps every float exactly; the columns are there to search by.
    """CREATE TABLE event (
        id TEXT PRIMARY KEY,
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        kind TEXT NOT NULL,
        raised INTEGER NOT NULL,
        withdrawn INTEGER,
        summary TEXT NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX event_by_yard ON event (yard, raised)",
    """CREATE TABLE event_history (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id TEXT NOT NULL REFERENCES event (id),
        recorded INTEGER NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX event_history_by_id ON event_history (id, number)",
    """CREATE TABLE advisory (
        id TEXT PRIMARY KEY,
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        raised INTEGER NOT NULL,
        closed INTEGER,
        title TEXT NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX advisory_by_yard ON advisory (yard, raised)",
    """CREATE TABLE advisory_history (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id TEXT NOT NULL REFERENCES advisory (id),
        recorded INTEGER NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX advisory_history_by_id ON advisory_history (id, number)",
    """CREATE TABLE hive_day (
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        date TEXT NOT NULL,
        start INTEGER NOT NULL,
        body BLOB NOT NULL,
        PRIMARY KEY (yard, hive, date)
    ) STRICT, WITHOUT ROWID""",
    # `size` is the payload's full length; only its beginning is kept.
    """CREATE TABLE quarantine (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        received INTEGER NOT NULL,
        reason TEXT NOT NULL,
        topic TEXT NOT NULL,
        payload BLOB NOT NULL,
        size INTEGER NOT NULL
    ) STRICT""",
    # `body` is a zlib-compressed MessagePack list of line-protocol lines.
    """CREATE TABLE outbox (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        created INTEGER NOT NULL,
        points INTEGER NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX outbox_size ON outbox (points, created)",
    """CREATE TABLE snapshot (
        yard TEXT NOT NULL,
        time INTEGER NOT NULL,
        body BLOB NOT NULL,
        PRIMARY KEY (yard, time)
    ) STRICT""",
    """CREATE TABLE adopted (
        yard TEXT NOT NULL,
        hive TEXT NOT NULL,
        time INTEGER NOT NULL,
        PRIMARY KEY (yard, hive)
    ) STRICT, WITHOUT ROWID""",
    # Small facts one process leaves for another, such as how the sender fares.
    """CREATE TABLE note (
        name TEXT PRIMARY KEY,
        text TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
)

NOTICES: tuple[str, ...] = (
    # What people were last told of an advisory. `at_once` is 1 when a message of its own ever went out, `closed` when
    # they were told that it is over; `body` is the advisory as it was told, as MessagePack.
    """CREATE TABLE told (
        advisory TEXT PRIMARY KEY,
        time INTEGER NOT NULL,
        at_once INTEGER NOT NULL,
        closed INTEGER NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    # Every answer ever given; the last one counts. `body` is the advisory as it stood then.
    """CREATE TABLE answer (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        advisory TEXT NOT NULL,
        time INTEGER NOT NULL,
        answer TEXT NOT NULL,
        remark TEXT NOT NULL,
        body BLOB NOT NULL
    ) STRICT""",
    "CREATE INDEX answer_by_advisory ON answer (advisory, number)",
    # One row a message and channel; it waits while `sent` is null. `date` is the local day of a morning note.
    """CREATE TABLE message (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        channel TEXT NOT NULL,
        created INTEGER NOT NULL,
        yard TEXT NOT NULL,
        sort TEXT NOT NULL,
        date TEXT NOT NULL,
        urgent INTEGER NOT NULL,
        reason TEXT NOT NULL,
        title TEXT NOT NULL,
        body TEXT NOT NULL,
        advisories TEXT NOT NULL,
        attempts INTEGER NOT NULL DEFAULT 0,
        tried INTEGER,
        sent INTEGER
    ) STRICT""",
    "CREATE INDEX message_waiting ON message (channel, id) WHERE sent IS NULL",
    "CREATE INDEX message_note ON message (yard, date) WHERE sort = 'note'",
)

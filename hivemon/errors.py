"""Every error hivemon raises on purpose, grouped by what the person at the keyboard can do about it.

HivemonError          carries `hint` (what to do next) and `exit_code` (what the command returns)
├── UsageError    2   the command was asked for something that cannot be: ask differently
├── ConfigError   3   hivemon.toml says something it must not: correct the file
├── InputError    4   a file to be read is missing or not in the agreed form: correct or name another
├── StoreError    5   the database cannot be opened, read or written: look at the disk and its rights
└── LinkError     6   a broker or a time-series server cannot be reached or refuses: look at address and password

Unusable              one message or row that cannot become a reading; it goes to quarantine, the work goes on
"""

from __future__ import annotations


class HivemonError(Exception):
    """Something a person can mend.

    Args:
        message: What is wrong and where, with the numbers.
        hint: What to do about it, as one sentence; may be empty.
    """

    exit_code = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


class UsageError(HivemonError):
    """The command was asked for something that cannot be."""

    exit_code = 2


class ConfigError(HivemonError):
    """The configuration says something it must not."""

    exit_code = 3


class InputError(HivemonError):
    """A file to be read is missing or not in the agreed form."""

    exit_code = 4


class StoreError(HivemonError):
    """The database cannot be opened, read or written."""

    exit_code = 5


class LinkError(HivemonError):
    """A broker or a time-series server cannot be reached, or refuses."""

    exit_code = 6


class Unusable(Exception):  # noqa: N818 - it describes the message, not a failure of the program
    """One message or row that cannot become a reading, with the reason in plain words."""

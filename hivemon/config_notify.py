"""What hivemon.toml says about messages to people: when they may go out, and over which channels."""

from __future__ import annotations

import re
from datetime import date, time
from typing import Annotated, Literal, NamedTuple

import msgspec
from msgspec import Meta

from hivemon.config_secret import secret

ChannelName = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*\Z", max_length=64)]
"""What a person calls a channel; it stands in the name of an environment variable."""


class QuietHours(NamedTuple):
    """From one local time of day to another, over midnight where the second is the earlier one."""

    begin: time
    end: time


class Absence(NamedTuple):
    """The first and the last day of a holiday, both on it; the yard's own dates."""

    first: date
    last: date


class NotifySettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """When messages may go out. Times of day and dates are those of the yard a message is about."""

    morning: str = "06:30"
    """When the morning note goes out."""
    quiet: str = "21:00/06:30"
    """Between these only what is urgent (`now`) goes out; "" for no quiet hours."""
    away: list[str] = []
    """Holidays, first and last day: only what is urgent (`now`) goes out."""
    repeat_hours: Annotated[float, Meta(gt=0, le=168)] = 12.0
    """Hours that an advisory that has changed waits before it goes out again, unless it has become more urgent."""
    failing_hours: Annotated[float, Meta(gt=0, le=168)] = 1.0
    """Hours that a channel must have failed before the others say so."""

    @property
    def morning_time(self) -> time:
        """When the morning note goes out, local time."""
        return time_of_day(self.morning)

    @property
    def quiet_hours(self) -> QuietHours | None:
        """The quiet hours, local time; None when there are none."""
        return quiet_hours(self.quiet)

    @property
    def absences(self) -> list[Absence]:
        """The holidays."""
        return [absence(text) for text in self.away]


class ChannelSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A way to reach people.

    `apprise`: mail, messengers and webhooks by an Apprise address, which holds secrets and so comes from `url_file` or
    the environment. `mqtt`: retained messages on `topic` of the broker that brings the readings. `file`: every message
    is appended to `path`.
    """

    name: ChannelName
    kind: Literal["apprise", "mqtt", "file"]
    url_file: str | None = None
    topic: str = "hivemon"
    """Messages go to `<topic>/<yard>/note` and `<topic>/<yard>/advice`."""
    path: str | None = None
    form: Literal["text", "json"] = "text"
    """How a file is written: as text to read, or one JSON object a line."""

    @property
    def variable(self) -> str:
        """The environment variable that may hold the address."""
        return f"HIVEMON_CHANNEL_{re.sub('[^A-Z0-9]', '_', self.name.upper())}"

    def address(self) -> str:
        """Read the Apprise address from its file or the environment; empty when there is none. Raises ConfigError."""
        return secret(self.url_file, self.variable, "channel.url_file") or ""


def time_of_day(text: str) -> time:
    """Read "06:30"; raises ValueError."""
    if not re.fullmatch(r"\d\d:\d\d", text):
        raise ValueError(f"{text!r} is no time of day")
    return time.fromisoformat(text)


def quiet_hours(text: str) -> QuietHours | None:
    """Read "21:00/06:30", or "" for none; raises ValueError."""
    if not text:
        return None
    begin, slash, end = text.partition("/")
    if not slash:
        raise ValueError(f"{text!r} has no slash between its two times")
    hours = QuietHours(time_of_day(begin), time_of_day(end))
    if hours.begin == hours.end:
        raise ValueError(f"{text!r} begins when it ends")
    return hours


def absence(text: str) -> Absence:
    """Read "2026-07-01/2026-07-14"; raises ValueError."""
    if not re.fullmatch(r"\d{4}-\d\d-\d\d/\d{4}-\d\d-\d\d", text):
        raise ValueError(f"{text!r} is no first and last day")
    first, _, last = text.partition("/")
    found = Absence(date.fromisoformat(first), date.fromisoformat(last))
    if found.last < found.first:
        raise ValueError(f"{text!r} ends before it begins")
    return found

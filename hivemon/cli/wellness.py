"""What is well and what is not, from the store's facts: the judgement behind `hivemon health`. Pure functions."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from hivemon.cli.display import local, span
from hivemon.daemon import slow_clocks
from hivemon.daemon.twins import NOTE as TWINS
from hivemon.daemon.twins import describe as describe_twins
from hivemon.intake.link import LinkState, explain_refused
from hivemon.model import DAY, HOUR, Millis
from hivemon.notify.state import NOTE as CHANNELS
from hivemon.notify.state import ChannelState
from hivemon.recordings import PLAYED
from hivemon.store.daemon_state import WRITTEN_EVERY
from hivemon.store.sender_state import NOTE, describe
from hivemon.store.witness import LOST

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from hivemon.config import Settings
    from hivemon.config_notify import NotifySettings
    from hivemon.daemon import DaemonStatus
    from hivemon.store import Quarantined, StoreFacts, StreamFacts, Waiting

DISK_LEAST = 200 * 1024 * 1024
"""Bytes that must be free; a year of ten hives takes about this much. Our rule."""

SILENT: Millis = 3 * HOUR
"""A node that says nothing for this long is worth a look; nodes usually speak every 5 to 15 minutes. Our rule."""

BACKLOG: Millis = DAY
"""A copy to InfluxDB that lags this far is worth a look. Our rule."""

HUNG: Millis = 8 * WRITTEN_EVERY
"""A daemon that has not written its status for this long has stopped working. Our rule."""

QUARANTINE_RECENT: Millis = DAY
"""Messages set aside within this time still matter. Our rule."""


LOST_RECENT: Millis = 30 * DAY
"""What a disk has lost is told for this long. Our rule."""


class Finding(NamedTuple):
    """One thing looked at: whether it is well, what it is, and what to do when it is not."""

    well: bool
    what: str
    hint: str = ""


class Seen(NamedTuple):
    """What a look at the machine gave: the store's facts, the last messages set aside, and the daemon's last status.

    `alive` is whether a daemon works on the store now; `waiting` are the messages to people that wait, by channel.
    """

    facts: StoreFacts
    quarantined: Sequence[Quarantined]
    status: DaemonStatus | None
    alive: bool
    waiting: Mapping[str, Waiting] = MappingProxyType({})


def judge(seen: Seen, settings: Settings, now: Millis) -> list[Finding]:
    """Look at the daemon, the store, the disk, every hive's readings, messages set aside and the copy to InfluxDB."""
    facts, quarantined = seen.facts, seen.quarantined
    return [
        _daemon(seen, now),
        *_store(facts),
        *_lost(facts, now),
        *_hives(seen, settings, now),
        *_twins(facts),
        *_slow_clocks(facts),
        *_quarantine(facts, quarantined, now),
        *_outbox(facts, settings, now),
        *_channels(seen, settings, now),
    ]


def _daemon(seen: Seen, now: Millis) -> Finding:
    """Judge by what the daemon last said of itself, and by whether it still says anything; a demo's may be over."""
    start = "`hivemon run` starts it; as a service it starts with the machine"
    status = seen.status
    if not seen.alive:
        over = PLAYED in seen.facts.notes and status is not None and not status.running
        return Finding(over, f"daemon: {_ended(status, now)}{', as the demo was over' if over else ''}", start)
    if status is None or not status.running:
        return Finding(True, "daemon: starting")
    if now - status.written > HUNG:
        hint = "its disk comes first, see below" if seen.facts.disk_read_only else "stop it and start it again"
        return Finding(False, f"daemon: has said nothing for {span(now - status.written)}", hint)
    if status.trouble:
        return Finding(False, f"daemon: {status.trouble}", "nothing that was acknowledged is lost; it goes on trying")
    if trouble := _link(status, now):
        return trouble
    came = f"{status.messages:,} messages since its start"
    return Finding(True, f"daemon: running for {span(max(now - status.started, 0))}, {came}")


def _link(status: DaemonStatus, now: Millis) -> Finding | None:
    """Say what is wrong with the link, if anything."""
    if status.link is not LinkState.UP:
        since = span(max(now - status.link_since, 0))
        what = f"daemon: no link to the broker for {since}: {status.link_reason or status.link.value}"
        return Finding(False, what, "look at [broker] in the configuration, and at the broker")
    if status.link_refused:
        return Finding(False, f"daemon: {explain_refused(status.link_refused)}", "without it those readings never come")
    return None


def _ended(status: DaemonStatus | None, now: Millis) -> str:
    """Say whether it has never run, was stopped in order, or broke off."""
    if status is None:
        return "has never run"
    ago = f"{span(max(now - status.written, 0))} ago"
    return f"not running, last heard of {ago}" if status.running else f"stopped {ago}"


def _store(facts: StoreFacts) -> Iterator[Finding]:
    if facts.integrity:
        yield Finding(
            False,
            f"store {facts.path}: {facts.integrity[0]}",
            "stop hivemon, then `hivemon restore`",
        )
    else:
        counted = "" if facts.readings is None else f", {facts.readings:,} readings"
        yield Finding(True, f"store {facts.path}: {megabytes(facts.size + facts.wal_size)}{counted}")
    if facts.disk_read_only:
        hint = "the system log says why; `hivemon backup` copies the store to another disk, then fsck or a new disk"
        yield Finding(False, "disk: it may only be read now, so nothing new is kept", hint)
    free = f"disk: {megabytes(facts.disk_free)} free"
    yield Finding(facts.disk_free >= DISK_LEAST, free, "make room, or lower raw_days in [store]")


def _lost(facts: StoreFacts, now: Millis) -> Iterator[Finding]:
    """Tell for a while what a disk has lost behind our back."""
    said, _, text = facts.notes.get(LOST, "").partition(" ")
    if text and now - int(said) <= LOST_RECENT:
        hint = "the disk does not keep what it says it keeps: another one, or power that does not fail; see CONTRACT.md"
        yield Finding(False, f"store: {text}", hint)


def _hives(seen: Seen, settings: Settings, now: Millis) -> Iterator[Finding]:
    """Judge each hive by its newest reading of any quantity; its own sensors' faults are events, not health.

    The readings of a demo are of another year, so there it is enough that there are some.
    """
    facts = seen.facts
    played = facts.notes.get(PLAYED)
    hint = "look at its battery and its network" if seen.alive else "start the daemon first"
    for yard in settings.yard:
        for hive in _hives_of(facts, settings, yard.id):
            newest = _newest(s for s in facts.streams if (s.yard, s.hive) == (yard.id, hive))
            name = f"hive {settings.find_hive(hive, yard.id).title} ({yard.title})"
            if newest is None:
                where = f"its node should publish to hives/{yard.id}/{hive}"
                yield Finding(False, f"{name}: no reading ever", where)
            elif now - newest > SILENT and played:
                said = f"{name}: played up to {local(newest, yard.zone)} of the invented season {played}"
                yield Finding(True, said)
            else:
                said = f"{name}: newest reading {local(newest, yard.zone)}, {span(max(now - newest, 0))} ago"
                yield Finding(now - newest <= SILENT, said, hint)


def _hives_of(facts: StoreFacts, settings: Settings, yard: str) -> list[str]:
    configured = [hive.id for hive in settings.hives_of(yard)]
    adopted = sorted({s.hive for s in facts.streams if s.yard == yard and s.hive is not None} - set(configured))
    return [*configured, *adopted]


def _newest(streams: Iterator[StreamFacts]) -> Millis | None:
    return max((stream.last for stream in streams if stream.last is not None), default=None)


def _twins(facts: StoreFacts) -> Iterator[Finding]:
    for place, levels in (TWINS.among(facts.notes) or {}).items():
        hint = "give each its own topic and client id; if there is only one, look for a loose contact at its scale"
        yield Finding(False, describe_twins(place, levels), hint)


def _slow_clocks(facts: StoreFacts) -> Iterator[Finding]:
    for place, minutes in (slow_clocks.NOTE.among(facts.notes) or {}).items():
        hint = "set it to UTC (it may keep local time, or have changed to winter time), or let it send no time at all"
        yield Finding(False, slow_clocks.describe(place, minutes), hint)


def _quarantine(facts: StoreFacts, quarantined: Sequence[Quarantined], now: Millis) -> Iterator[Finding]:
    recent = [message for message in quarantined if now - message.received <= QUARANTINE_RECENT]
    if not facts.quarantined:
        yield Finding(True, "messages set aside: none")
    elif not recent:
        yield Finding(True, f"messages set aside: {facts.quarantined:,} ever, none in the last day")
    else:
        newest = recent[0]
        what = f"messages set aside: {facts.quarantined:,} ever; the newest, from {newest.topic!r}: {newest.reason}"
        hint = "`hivemon health --set-aside` shows them; `hivemon setup --sensors` finds devices that speak otherwise"
        yield Finding(False, what, hint)


def _outbox(facts: StoreFacts, settings: Settings, now: Millis) -> Iterator[Finding]:
    if settings.influx is None:
        return
    what = f"copy to InfluxDB: {describe(facts.notes.get(NOTE.name), now)}"
    if not facts.outbox_points or facts.outbox_oldest is None:
        yield Finding(True, what)
        return
    age = now - facts.outbox_oldest
    waits = f"{what}; {facts.outbox_points:,} points wait, the oldest for {span(max(age, 0))}"
    yield Finding(age <= BACKLOG, waits, f"is {settings.influx.url} up, and the token right? Nothing is lost meanwhile")


def _channels(seen: Seen, settings: Settings, now: Millis) -> Iterator[Finding]:
    states = CHANNELS.among(seen.facts.notes) or {}
    for channel in settings.channel:
        state = states.get(channel.name, ChannelState())
        yield channel_finding(channel.name, state, seen.waiting.get(channel.name), settings.notify, now)


def channel_finding(
    name: str, state: ChannelState, waiting: Waiting | None, notify: NotifySettings, now: Millis
) -> Finding:
    """Judge a channel to people by whether it takes messages."""
    state = state.seen_at(now)
    waits = f"; messages that wait: {waiting.messages:,}" if waiting is not None else ""
    if state.since is None:
        last = "none sent yet" if state.last_sent is None else f"the last {span(max(now - state.last_sent, 0))} ago"
        return Finding(True, f"messages over {name}: {last}{waits}")
    failing = max(now - state.since, 0)
    what = f"messages over {name}: it has not worked for {span(failing)}: {state.detail}{waits}"
    return Finding(failing < notify.failing_hours * HOUR, what, "`hivemon channels --test` tries it; nothing is lost")


def megabytes(size: int) -> str:
    """Return a size as people say it."""
    if size >= 1024**3:
        return f"{size / 1024**3:.1f} GB"
    return f"{size / 1024**2:.1f} MB"

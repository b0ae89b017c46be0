"""What can be wrong in [notify] and [[channel]] beyond types: times, dates, keys out of place, topics in the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from paho.mqtt.matcher import MQTTMatcher

from hivemon import config_notify

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.config import Settings
    from hivemon.config_notify import ChannelSettings
    from hivemon.config_words import ConfigFile, Path

_KEYS = {"apprise": {"url_file"}, "mqtt": {"topic"}, "file": {"path", "form"}}
"""The keys that a kind of channel has beside `name` and `kind`."""


def check_notify(file: ConfigFile, settings: Settings) -> None:
    """Check what types alone cannot. Raises ConfigError; no address is ever repeated in it."""
    notify = settings.notify
    _readable(file, ("notify", "morning"), notify.morning, config_notify.time_of_day, 'write it like "06:30"')
    hint = 'write it like "21:00/06:30", or "" for none'
    _readable(file, ("notify", "quiet"), notify.quiet, config_notify.quiet_hours, hint)
    for index, text in enumerate(notify.away):
        hint = 'write the first and the last day, like "2026-07-01/2026-07-14"'
        _readable(file, ("notify", "away", index), text, config_notify.absence, hint)
    names = [channel.name for channel in settings.channel]
    for index, channel in enumerate(settings.channel):
        if (first := names.index(channel.name)) != index:
            message = f'the name "{channel.name}" is taken by number {first + 1}'
            raise file.wrong(("channel", index, "name"), message, hint="give each channel its own name")
        _check_channel(file, ("channel", index), channel, settings)


def _readable(file: ConfigFile, path: Path, text: str, read: Callable[[str], Any], hint: str) -> None:
    try:
        read(text)
    except ValueError as error:
        key = next(str(step) for step in reversed(path) if isinstance(step, str))
        raise file.wrong(path, f'"{text}" cannot be used for {key}', hint=hint) from error


def _check_channel(file: ConfigFile, path: Path, channel: ChannelSettings, settings: Settings) -> None:
    given = set(file.raw["channel"][path[-1]]) - {"name", "kind"}
    for key in sorted(given - _KEYS[channel.kind]):
        hint = f'with kind = "{channel.kind}" there is {" and ".join(sorted(_KEYS[channel.kind]))}'
        raise file.wrong((*path, key), f'{key} is of no use with kind = "{channel.kind}"', hint=hint)
    if channel.url_file is not None and "://" in channel.url_file:
        message = "url_file holds an address itself; it should name a file"
        hint = "addresses hold secrets: write it into a file of its own and name that in url_file"
        raise file.wrong((*path, "url_file"), message, hint=hint)
    if channel.kind == "file" and not channel.path:
        raise file.wrong(path, "a file needs a path", hint='add path = "notes.txt"')
    if channel.kind == "mqtt":
        _check_topic(file, (*path, "topic"), channel.topic, settings)


def _check_topic(file: ConfigFile, path: Path, topic: str, settings: Settings) -> None:
    """Refuse a topic whose messages would come back in as readings."""
    if not topic or any(sign in topic for sign in "#+ ") or topic.startswith(("/", "$")) or topic.endswith("/"):
        message = f'topic = "{topic}" cannot stand before /<yard>/note'
        raise file.wrong(path, message, hint='leave it out ("hivemon"), or drop #, +, spaces and outer /')
    readings = settings.broker.topic if settings.broker is not None else "hives"
    heard: Any = MQTTMatcher()  # type: ignore[no-untyped-call]
    for wanted in (f"{readings}/+/+", f"{readings}/+", *(device.topic for device in settings.device)):
        heard[wanted] = True
    yards = [yard.id for yard in settings.yard]
    own = [f"{topic}/test", f"{topic}/trouble", *(f"{topic}/{yard}/{leaf}" for yard in yards for leaf in _LEAVES)]
    if any(True in heard.iter_match(one) for one in own):
        message = f'topic = "{topic}" would send messages where readings come in'
        raise file.wrong(path, message, hint='leave it out ("hivemon"), or take another')


_LEAVES = ("note", "advice")

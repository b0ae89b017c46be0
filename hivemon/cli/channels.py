"""`hivemon channels`: how each channel to people fares, and a test message over each."""

import json
import time
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, JsonOption, load_settings, open_store
from hivemon.errors import LinkError, UsageError

if TYPE_CHECKING:
    from hivemon.config import Settings
    from hivemon.config_notify import ChannelSettings


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(channels)


def channels(
    config: ConfigOption = None,
    test: Annotated[bool, typer.Option("--test", help="Send a test message now; exits with 6 if one fails.")] = False,
    channel: Annotated[str | None, typer.Option("--channel", help="Only this channel.")] = None,
    as_json: JsonOption = False,
) -> None:
    """How the channels to people fare; --test tries them.

    A message that a channel does not take waits until it does; nothing is lost.
    """
    settings = load_settings(config)
    wanted = _wanted(settings, channel)
    if test:
        _test(settings, wanted)
    elif not wanted:
        screen.tell("No channel is configured: add a [[channel]] to hivemon.toml to be told things.")
    else:
        _show(settings, wanted, as_json=as_json)


def _wanted(settings: "Settings", name: str | None) -> "list[ChannelSettings]":
    found = [one for one in settings.channel if name in (None, one.name)]
    if name is not None and not found:
        known = ", ".join(one.name for one in settings.channel) or "none"
        raise UsageError(f"there is no channel {name!r}", hint=f"known channels: {known}")
    return found


def _test(settings: "Settings", wanted: "list[ChannelSettings]") -> None:
    from hivemon.advice.texts import messages as texts
    from hivemon.advice.words import speaking
    from hivemon.notify.channels import make_channel
    from hivemon.store import Message, Sort

    if not wanted:
        raise UsageError("no channel is configured", hint="add a [[channel]] to hivemon.toml")
    now = int(time.time() * 1000)
    place = settings.yard[0]
    failed = []
    for one in wanted:
        with speaking(settings.language):
            title, text = texts.trial_title(), texts.trial_text(one.name, now, place.zone)
        message = Message(created=now, yard=place.id, sort=Sort.TEST, title=title, text=text)
        fault = make_channel(one, settings).send(message)
        screen.tell(f"{one.name}: {fault or 'it took the test message'}")
        if fault:
            failed.append(one.name)
    if failed:
        raise LinkError(f"{len(failed)} of {len(wanted)} channels failed", hint="what is said above; then try again")


def _show(settings: "Settings", wanted: "list[ChannelSettings]", *, as_json: bool) -> None:
    from hivemon.cli.wellness import channel_finding
    from hivemon.notify.state import NOTE, ChannelState

    with open_store(settings) as store:
        states, waiting = NOTE.read(store) or {}, store.messages_waiting()
    now = int(time.time() * 1000)
    if as_json:
        objects = [
            {
                "name": one.name,
                "kind": one.kind,
                "works": states.get(one.name, ChannelState()).seen_at(now).since is None,
                "waiting": waiting[one.name].messages if one.name in waiting else 0,
            }
            for one in wanted
        ]
        screen.say(json.dumps(objects, indent=2))
        return
    for one in wanted:
        state = states.get(one.name, ChannelState())
        screen.tell(channel_finding(one.name, state, waiting.get(one.name), settings.notify, now).what)

"""The part of `hivemon setup` that listens: what is heard, what it probably is, and how the hives look first."""

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import typer

from hivemon.cli import screen
from hivemon.errors import InputError, LinkError, Unusable, UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hivemon.config import BrokerSettings, Settings
    from hivemon.intake.link import Message
    from hivemon.model import Reading
    from hivemon.recognise.devices import Overheard

LEVELS = ("sure", "likely", "all", "none")
"""What `--take` knows: how sure a proposal must be to be written without anybody being asked."""
CHOICE = "HIVE,QUANTITY or HIVE,QUANTITY,UNIT (for the yard's own: yard,QUANTITY)"


class Sorted(NamedTuple):
    """Messages by whether the configuration understands them: their readings, and by topic why others are not."""

    readings: "list[Reading]"
    refused: dict[str, str]
    others: "list[Message]"


def find_devices(
    config: Path, yard: str | None, seconds: float, maps: "Sequence[str]", take: str, *, ask: bool
) -> None:
    """Listen, propose a map for what no configuration knows, write what is taken, and show how the hives look."""
    from hivemon.config import load
    from hivemon.recognise.devices import device_table, overhear, unreadable

    settings = load(config)
    where = _yard_of(settings, yard)
    said = dict(_split(text) for text in maps)
    messages = _hear(settings, seconds)
    heard = sort_out(settings, messages)
    found = overhear(heard.others, settings, where)
    _show_refused(heard.refused, unreadable(heard.others))
    if unknown := sorted(set(said) - {str(one.key) for one in found}):
        raise UsageError(f"--map {unknown[0]}: nothing was heard there", hint=_heard_hint(found))
    taken = [one for one in (_decide(o, settings, said.get(str(o.key)), take, ask=ask) for o in found) if one]
    if taken:
        _append(config, [device_table(one, where) for one in taken])
        screen.say(f"Wrote {len(taken)} [[device]] table{'s' * (len(taken) > 1)} into {config}.")
        settings = load(config)
    _first_status(settings, where, sort_out(settings, messages).readings, messages)


def sort_out(settings: "Settings", messages: "Sequence[Message]") -> Sorted:
    """Tell what the configuration understands from what it does not."""
    from hivemon.intake.senml import resolve
    from hivemon.intake.translate import Translator

    translator = Translator(settings)
    sorted_ = Sorted([], {}, [])
    devices = {device.topic for device in settings.device}
    root = f"{settings.broker.topic.strip('/') if settings.broker else 'hives'}/"
    for message in messages:
        try:
            got = translator.translate(message.topic, message.payload, message.received)
        except Unusable as error:
            if message.topic.startswith(root):
                sorted_.refused[message.topic] = str(error)
            try:
                senml = message.topic.startswith(root) and resolve(message.payload, message.received)
            except Unusable:
                senml = False
            if not senml:
                sorted_.others.append(message)
        else:
            if message.topic in devices:  # it may hold more than what is mapped
                sorted_.others.append(message)
            sorted_.readings.extend(got.readings)
            if got.refused:
                sorted_.refused[message.topic] = "; ".join(got.refused)
    return sorted_


def _yard_of(settings: "Settings", yard: str | None) -> str:
    """Return the yard whose devices are looked for, by id or name; the only one needs no naming."""
    fitting = [one.id for one in settings.yard if yard in (None, one.id, one.name)]
    if len(fitting) == 1:
        return fitting[0]
    known = ", ".join(one.id for one in settings.yard)
    what = f"there is no yard {yard!r}" if yard else "there are several yards"
    raise UsageError(what, hint=f"say with --yard whose sensors to look for: {known}")


def _split(text: str) -> tuple[str, str]:
    """Split `--map KEY=CHOICE`."""
    key, sign, choice = text.rpartition("=")
    if not sign or not key:
        raise UsageError(f"--map {text}: no = in it", hint=f"write TOPIC=CHOICE or TOPIC#/POINTER=CHOICE: {CHOICE}")
    return key, choice


def _heard_hint(found: "Sequence[Overheard]") -> str:
    return "heard: " + (", ".join(str(one.key) for one in found[:8]) or "nothing that needs a map")


def _hear(settings: "Settings", seconds: float) -> "list[Message]":
    """Listen at the configured broker, or at hivemon's own: that of a running daemon, or one for the meantime."""
    from hivemon.intake.hearing import Hearing

    with ExitStack() as stack:
        broker = settings.broker or own_broker(settings, stack)
        link = stack.enter_context(Hearing(broker))
        screen.say(f"Listening for {seconds:g} s at {broker.host}:{broker.actual_port}; Ctrl-C when it is enough.")
        messages = link.listen(seconds, _tell if screen.progress_wanted() else None)
    if screen.progress_wanted():
        screen.aside("")
    topics = len({message.topic for message in messages})
    screen.say(f"Heard {len(messages)} messages on {topics} topics." if messages else "Heard nothing.")
    if not messages:
        screen.tell(_silence(settings))
    return messages


def _tell(messages: int, topics: int) -> None:
    sys.stderr.write(f"\r  {messages} messages on {topics} topics so far ")
    sys.stderr.flush()


def _silence(settings: "Settings") -> str:
    """Say what it may mean that nothing was heard."""
    seldom = "Many nodes speak every 5 to 15 minutes: listen longer with --listen 900."
    if settings.broker is not None:
        return f"{seldom} Or the broker hides it: it keeps quiet about what its access rules forbid this user."
    if settings.embedded.bind in ("127.0.0.1", "localhost", "::1"):
        return (
            f'{seldom} hivemon\'s own broker hears this machine alone until bind = "0.0.0.0" stands under [embedded].'
        )
    return f"{seldom} Sensors must publish to this machine's address in your network."


def own_broker(settings: "Settings", stack: ExitStack) -> "BrokerSettings":
    """Return the address of hivemon's own broker; starts one while nobody listens on its port."""
    from hivemon.config import BrokerSettings
    from hivemon.intake.broker import EmbeddedBroker

    bind, port = settings.embedded.bind, settings.embedded.port
    try:
        stack.enter_context(EmbeddedBroker(bind, port))
    except LinkError:
        screen.tell(f"Port {port} is taken already, by a running hivemon or another broker: listening there.")
    else:
        screen.tell(f"hivemon's own broker runs meanwhile on {bind}, port {port}: let the sensors publish to it.")
    return BrokerSettings(host="127.0.0.1" if bind in ("0.0.0.0", "::") else bind, port=port, tls=False)  # noqa: S104


def _show_refused(refused: dict[str, str], mute: list[str]) -> None:
    for topic, reason in sorted(refused.items()):
        screen.say(f"{topic}: not understood: {reason}")
    for topic in mute:
        if topic not in refused:
            screen.say(f"{topic}: no number in it, so it cannot be mapped")


def _decide(one: "Overheard", settings: "Settings", said: str | None, take: str, *, ask: bool) -> "Overheard | None":
    """Show one stream of numbers and return what to write for it; None to leave it."""
    from hivemon.recognise.ranges import ANSWERABLE

    screen.say("\n".join(describe(one)))
    if said is not None:
        return _as_said(one, said, settings, f"--map {one.key}")
    if isinstance(one.reading, str) and one.reading not in ANSWERABLE:
        return None
    if not ask:
        return _by_level(one, take)
    default = "y" if one.sureness is not None and not one.note else "n"
    while True:
        answer = typer.prompt(f"  Take it? y, n, or {CHOICE}", default=default).strip()
        try:
            if answer.lower() in ("n", "no"):
                return None
            if answer.lower() in ("y", "yes") and one.sureness is not None:
                return one
            return _as_said(one, answer, settings, "")
        except UsageError as error:
            screen.say(f"  {error}; {error.hint}")


def _by_level(one: "Overheard", take: str) -> "Overheard | None":
    """Take a proposal that is sure enough, when nobody can be asked; say how to take one that is not."""
    enough = {"sure": ["sure"], "likely": ["sure", "likely"], "all": ["sure", "likely", "a guess"], "none": []}[take]
    if one.sureness is not None and one.sureness.value in enough and not one.note:
        screen.say("    taken")
        return one
    screen.say(f"    left out; to take it: --map {str(one.key)!r}=HIVE,QUANTITY,UNIT")
    return None


def _as_said(one: "Overheard", text: str, settings: "Settings", where: str) -> "Overheard":
    """Read a person's HIVE,QUANTITY,UNIT; raises UsageError saying what is wrong with it."""
    from hivemon.intake.names import is_id
    from hivemon.intake.units import can_convert
    from hivemon.model import HIVE_QUANTITIES, Quantity
    from hivemon.recognise.devices import chosen

    parts = [part.strip() for part in text.split(",")]
    prefix = f"{where}: " if where else ""
    if len(parts) not in (2, 3):
        raise UsageError(f"{prefix}{text!r} is not understood", hint=f"write {CHOICE}")
    hive, quantity, unit = [*parts, ""][:3]
    if quantity not in set(Quantity):
        raise UsageError(f"{prefix}{quantity!r} is no quantity", hint=f"one of {', '.join(Quantity)}")
    found = Quantity(quantity)
    if (hive == "yard") is (found in HIVE_QUANTITIES) or not is_id(hive):
        whose = "a hive's: write its id" if found in HIVE_QUANTITIES else "the yard's: write yard"
        raise UsageError(f"{prefix}{hive!r} cannot be: {quantity} is {whose}", hint=f"write {CHOICE}")
    if not can_convert(unit, found):
        raise UsageError(
            f"{prefix}{quantity} in {unit!r} is not understood", hint="kg, g, lb, Cel, degF, %RH, V, mV, mm"
        )
    given = chosen(one, None if hive == "yard" else hive, found, unit, settings.units)
    if isinstance(given.reading, str):
        raise UsageError(f"{prefix}{given.reading}", hint="leave it out for now")
    return given


def describe(one: "Overheard") -> list[str]:
    """Return what was heard, what it probably is, how sure that is, and why, as lines."""
    low, high = min(one.values), max(one.values)
    span = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    every = f", every {one.seconds:.0f} s" if one.seconds else ""
    lines = [f"{one.key}: {span}{every}"]
    if isinstance(one.reading, str):
        return [*lines, f"    {one.reading}"]
    whose = "the yard's" if one.placed is None else f"{one.placed.hive}'s" if one.placed.hive else "some hive's"
    sure = one.sureness.value if one.sureness else "not enough to go by"
    lines.append(f"    {whose} {one.reading.quantity.value} in {one.reading.form.title} ({sure}): {one.reading.why}")
    if one.placed is not None:
        lines.append(f"    {one.placed.why}")
    if one.note:
        lines.append(f"    but {one.note}")
    return lines


def _append(config: Path, tables: list[str]) -> None:
    """Add tables at the end of the configuration, checked as `load` will, whole or not at all."""
    from hivemon.config import parse
    from hivemon.files import write_whole

    text = config.read_text(encoding="utf-8-sig").rstrip("\n") + "\n\n" + "\n".join(tables)
    parse(text, where=str(config))
    try:
        write_whole(config, text.encode())
    except OSError as error:
        raise InputError(f"cannot write {config}: {error.strerror}", hint="look at the rights of its folder") from error


def _first_status(settings: "Settings", yard: str, readings: "list[Reading]", messages: "Sequence[Message]") -> None:
    """Show each hive's last values as they will be stored, what is doubtful about its weights, and what comes next."""
    import numpy as np

    from hivemon.cli.display import quantity_text
    from hivemon.model import Quantity
    from hivemon.recognise.plausible import doubts

    if not messages:
        return
    last = {(r.hive, r.quantity): r.value for r in readings if r.yard == yard}
    units = {Quantity.WEIGHT: "kg", Quantity.TEMPERATURE: "Cel", Quantity.HUMIDITY: "%RH", Quantity.BATTERY: "V"}
    known = [hive.id for hive in settings.hives_of(yard)]
    screen.say("\nThe hives as they are now:")
    for hive in [*known, *sorted({hive for hive, _ in last if hive} - set(known))]:
        shown = [quantity_text(last[hive, q], unit, settings.units) for q, unit in units.items() if (hive, q) in last]
        screen.say(f"  {hive}: {', '.join(shown) or 'not heard'}")
        weights = [r.value for r in readings if (r.yard, r.hive, r.quantity) == (yard, hive, Quantity.WEIGHT)]
        for doubt in doubts(np.array(weights), settings.rules.steps) if weights else []:
            screen.say(f"    {doubt}")
        if hive not in known:
            screen.say("    not in the configuration: taken in all the same; a [[hive]] for it gives it name and boxes")

"""`hivemon calibrate`: known masses and what a scale shows with them become scale and offset; how good they are."""

import re
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.options import ConfigOption, find_config, load_settings
from hivemon.errors import ConfigError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from hivemon.config import DeviceSettings
    from hivemon.recognise.calibration import Line, Point
    from hivemon.recognise.devices import Key

FORM = "write MASS=NUMBER, like 20=516000 or 44lb=516000, with several numbers as 20=516000,516030"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(calibrate)


def calibrate(
    points: Annotated[
        list[str] | None,
        typer.Option("--point", help="A known mass and what the scale shows: 20=516000; at least two, one may be 0."),
    ] = None,
    checks: Annotated[
        list[str] | None,
        typer.Option("--check", help="A mass that has no part in the sum and shows how good it is: 40=946700."),
    ] = None,
    device: Annotated[
        str | None,
        typer.Option("--device", help="The [[device]] meant: TOPIC or TOPIC#/POINTER, as `hivemon setup` names it."),
    ] = None,
    live: Annotated[
        float | None,
        typer.Option("--live", min=1, max=3600, help="Take the numbers from the device, listening so many seconds."),
    ] = None,
    shown: Annotated[
        bool,
        typer.Option("--shown", help="The numbers are kg as hivemon shows them, not the device's own."),
    ] = False,
    capacity: Annotated[float | None, typer.Option("--capacity", min=1, help="Of the load cells together, kg.")] = None,
    write: Annotated[bool, typer.Option("--write", help="Write scale and offset into that [[device]].")] = False,
    config: ConfigOption = None,
) -> None:
    """Known masses into a scale's two numbers, and how good they are.

    Weigh the bare stand and one or two known masses of 20 kg or more (lift with two), as firmware-notes/calibration.md
    shows step by step. On a terminal it asks for them; with --live it listens to the device meanwhile. Tell the logbook
    afterwards: hivemon log add HIVE scale-reset.
    """
    from hivemon.recognise.calibration import fit, judge

    ask = sys.stdin.isatty()
    known = _device(config, device) if device else None
    if (write or shown or live) and known is None:
        raise UsageError("which device is not said", hint="name it: --device TOPIC or --device TOPIC#/POINTER")
    masses = [point for text in points or [] for point in _points(text, "--point")]
    if not masses:
        if not ask:
            raise UsageError("no masses were given", hint=f"give --point at least twice: {FORM}")
        masses = _asked(_from_device(config, _key(device or ""), live) if live and device else _typed)
    tests = [point for text in checks or [] for point in _points(text, "--check")]
    line = fit(masses)
    screen.say("\n".join(report(line, masses, tests)))
    for sentence in judge(line, masses, tests, capacity):
        screen.tell(sentence)
    if shown and known is not None:
        line = _on_top(line, known)
    _result(line, known, find_config(config) if write else None)


def _points(text: str, option: str) -> "list[Point]":
    """Read `20=516000,516030`; raises UsageError."""
    mass, sign, numbers = text.partition("=")
    if not sign:
        raise UsageError(f"{option} {text}: no = in it", hint=FORM)
    return _pairs(mass, numbers, option)


def _pairs(mass: str, numbers: str, where: str) -> "list[Point]":
    from hivemon.intake.names import is_number
    from hivemon.intake.units import KG_PER_POUND
    from hivemon.recognise.calibration import Point

    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(kg|lb)?\s*", mass)
    if not found:
        raise UsageError(f"{where}: {mass.strip()!r} is no mass", hint=FORM)
    kg = float(found.group(1).replace(",", ".")) * (KG_PER_POUND if found.group(2) == "lb" else 1.0)
    parts = [part for part in re.split(r"[,\s]+", numbers.strip()) if part]
    bad = [part for part in parts if not is_number(part)]
    if bad or not parts:
        raise UsageError(f"{where}: {(bad or [numbers])[0]!r} is no number", hint=FORM)
    return [Point(kg, float(part)) for part in parts]


def _asked(numbers: "Callable[[str], str]") -> "list[Point]":
    """Ask for masses until two are there and the person says that it is enough."""
    found: list[Point] = []
    screen.tell("Level stand, warmed up for 15 minutes, loaded and unloaded once. Begin with the bare stand: mass 0.")
    while True:
        enough = len({point.kg for point in found}) > 1
        question = "Mass on the stand in kg (Enter: that was all)?" if enough else "Mass on the stand in kg?"
        mass = typer.prompt(question, default="" if enough else None, show_default=False).strip()
        if enough and not mass:
            return found
        try:
            _pairs(mass, "0", "that")
            found += _pairs(mass, numbers(mass), "that")
        except UsageError as error:
            screen.say(f"  {error}; {error.hint}")


def _typed(mass: str) -> str:
    """Ask for what the scale shows."""
    return str(typer.prompt(f"What the scale shows with {mass} kg (several with commas)?"))


def _from_device(config: Path | None, key: "Key", seconds: float) -> "Callable[[str], str]":
    """Return what asks for a mass to be put on and then listens to the device."""
    from hivemon.cli.finding import own_broker
    from hivemon.intake.hearing import Hearing
    from hivemon.recognise.devices import numbers_of

    settings = load_settings(config)

    def heard(mass: str) -> str:
        typer.prompt(f"Put {mass} kg on it, step back, then Enter", default="", show_default=False)
        with ExitStack() as stack:
            link = stack.enter_context(Hearing(settings.broker or own_broker(settings, stack), [key.topic]))
            fresh = [message for message in link.listen(seconds) if not message.retained]
        found = [number for message in fresh for where, number, _ in numbers_of(message) if where == key]
        screen.say(f"  heard {len(found)}: {', '.join(f'{number:.10g}' for number in found[-5:]) or 'nothing'}")
        if not found:
            raise UsageError(f"nothing came on {key} within {seconds:g} s", hint="listen longer: --live 900")
        return ",".join(repr(number) for number in found)

    return heard


def _key(text: str) -> "Key":
    from hivemon.recognise.devices import Key

    topic, sign, pointer = text.partition("#")
    return Key(topic, pointer if sign else None)


def _device(config: Path | None, text: str) -> "DeviceSettings":
    """Find the device that is meant; raises ConfigError naming those there are."""
    from hivemon.model import Quantity

    key = _key(text)
    scales = [one for one in load_settings(config).device if one.quantity is Quantity.WEIGHT]
    for one in scales:
        if (one.topic, one.pointer) == (key.topic, key.pointer or ""):
            return one
    known = ", ".join(f"{one.topic}#{one.pointer}" if one.pointer else one.topic for one in scales)
    hint = f"scales there: {known}" if known else "`hivemon setup --sensors` finds and writes it"
    raise ConfigError(f"there is no scale {text!r} among the [[device]] tables", hint=hint)


def _on_top(line: "Line", known: "DeviceSettings") -> "Line":
    """Put a line for kg as shown on top of the device's own scale, offset and unit."""
    from hivemon.intake.units import to_own_unit

    step = to_own_unit(1.0, known.unit or "", known.quantity)
    scale = line.scale * step * known.scale
    return line._replace(scale=scale, offset=line.scale * step * known.offset + line.offset)


def report(line: "Line", points: "Sequence[Point]", checks: "Sequence[Point]") -> list[str]:
    """Return the worksheet: each mass, what was shown, what that is by the line, its miss; then how good it is."""
    from hivemon.recognise.calibration import HIVE_KG, misses

    lines = [f"{'mass, kg':>10} {'shown':>12} {'by the line':>12} {'miss, kg':>9}"]
    for what, group in (("", points), ("  check", checks)):
        for point, miss in zip(group, misses(line, group), strict=True):
            lines.append(
                f"{point.kg:>10.3f} {point.shown:>12.10g} {line.kilograms(point.shown):>12.3f} {miss:>+9.3f}{what}"
            )
    lines.append("")
    if line.noise is None or line.scale_error is None or line.offset_error is None:
        return lines
    uncertain = line.uncertainty(HIVE_KG)
    lines.append(
        f"scale {line.scale:.6g} ± {line.scale_error:.2g}, offset {line.offset:.5g} ± {line.offset_error:.2g} kg "
        f"(standard errors); about the line ± {line.noise:.3f} kg"
    )
    return [*lines, f"a hive of {HIVE_KG:g} kg is right to ± {uncertain:.2f} kg (95 %)"]


def _result(line: "Line", known: "DeviceSettings | None", path: Path | None) -> None:
    """Print the two lines, or write them."""
    if path is not None and known is not None:
        from hivemon.toml_edit import change_device

        change_device(path, known.topic, known.pointer, {"unit": "kg", "scale": line.scale, "offset": line.offset})
        screen.say(f"Wrote scale and offset into the [[device]] {known.topic} of {path}.")
        if known.hive:
            screen.say(f"Tell the logbook: hivemon log add {known.hive} scale-reset")
        return
    screen.say('For the [[device]] in hivemon.toml, or the "scale" of a node\'s settings:')
    screen.say('  unit = "kg"')
    screen.say(f"  scale = {line.scale!r}")
    screen.say(f"  offset = {line.offset!r}")

"""`hivemon setup`: a few questions (or options), and a commented hivemon.toml."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from hivemon.cli import screen
from hivemon.errors import HivemonError, InputError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.cli.configuration import Answers

T = TypeVar("T")


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(setup)


def setup(
    output: Annotated[Path, typer.Option("--output", "-o", help="The file to write.")] = Path("hivemon.toml"),
    yard: Annotated[str | None, typer.Option("--yard", help="What you call the place.")] = None,
    latitude: Annotated[float | None, typer.Option("--latitude", help="Degrees, north positive: 51.2.")] = None,
    longitude: Annotated[float | None, typer.Option("--longitude", help="Degrees, east positive: 3.4.")] = None,
    timezone: Annotated[str | None, typer.Option("--timezone", help="As in Europe/Brussels.")] = None,
    hives: Annotated[str | None, typer.Option("--hives", help="Their ids, with commas: o1,o2.")] = None,
    brood_boxes: Annotated[int | None, typer.Option("--brood-boxes", min=1, max=6, help="Of each hive.")] = None,
    weight: Annotated[str | None, typer.Option("--weight", help="kg or lb.")] = None,
    temperature: Annotated[str | None, typer.Option("--temperature", help="C or F.")] = None,
    broker: Annotated[
        str | None,
        typer.Option("--broker", help="Your own MQTT broker's name or address; without it, the one inside hivemon."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
) -> None:
    """Write a hivemon.toml from a few answers.

    Asks what it is not told as options; in a script it needs at least the yard, its place and zone, and the hives.
    """
    from hivemon.cli import configuration as form

    if output.exists() and not force:
        raise UsageError(f"{output} is there already", hint="name another with --output, or replace it with --force")
    ask = sys.stdin.isatty()
    answers = form.Answers(
        yard=_answer(yard, "--yard", "What do you call the place where the hives stand?", form.a_name, ask=ask),
        latitude=_answer(
            latitude, "--latitude", "Its latitude in degrees, north positive (51.2)?", form.latitude, ask=ask
        ),
        longitude=_answer(longitude, "--longitude", "Its longitude, east positive (3.4)?", form.longitude, ask=ask),
        timezone=_answer(timezone, "--timezone", "Its time zone?", form.zone, form.own_zone(), ask=ask),
        hives=_answer(hives, "--hives", "Short ids for your hives, with commas (o1,o2,o3)?", form.ids, ask=ask),
        brood_boxes=_answer(brood_boxes, "--brood-boxes", "Brood boxes of each hive?", form.boxes, "1", ask=ask),
        weight=_answer(weight, "--weight", "Weights in kg or lb?", form.weight_unit, "kg", ask=ask),
        temperature=_answer(temperature, "--temperature", "Temperatures in C or F?", form.heat_unit, "C", ask=ask),
        broker=_answer(
            broker, "--broker", "Your own MQTT broker (Enter: the one inside hivemon)?", form.host, "", ask=ask
        ),
    )
    _write(output, form.text_of(answers), answers)


def _answer(
    given: object,
    option: str,
    question: str,
    check: "Callable[[str], T]",
    default: str | None = None,
    *,
    ask: bool,
) -> "T":
    """Return the checked answer: the option's, else a person's, else the default. Raises UsageError without any."""
    if given is not None:
        try:
            return check(str(given))
        except HivemonError as error:
            raise UsageError(f"{option}: {error}", hint=error.hint) from error
    if not ask:
        if default is None:
            raise UsageError(f"{option} is missing", hint="there is nobody to ask here: give every answer as an option")
        return check(default)
    while True:
        try:
            return check(typer.prompt(question, default=default, show_default=bool(default)))
        except HivemonError as error:
            screen.say(f"  {error}; {error.hint}")


def _write(output: Path, text: str, answers: "Answers") -> None:
    """Check the text as `load` will, write it whole or not at all, and say what comes next."""
    from hivemon.config import parse
    from hivemon.files import write_whole

    parse(text, where=str(output))
    try:
        output.parent.mkdir(parents=True, exist_ok=True)
        write_whole(output, text.encode())
    except OSError as error:
        raise InputError(f"cannot write {output}: {error.strerror}", hint="name another place with --output") from error
    yard = answers.yard_id
    screen.say(f"Wrote {output}: yard {answers.yard} ({yard}), {len(answers.hives)} hives.")
    if not answers.broker:
        screen.tell(
            "hivemon's own broker hears this machine alone; see bind under [embedded] for nodes on your network."
        )
    screen.say(f"Point each node at the topic hives/{yard}/<hive>, for example hives/{yard}/{answers.hives[0]}, then:")
    screen.say(f"  hivemon run --config {output}")
    screen.say(f"  hivemon overnight --config {output}     the next morning")

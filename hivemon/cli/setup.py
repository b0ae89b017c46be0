"""`hivemon setup`: a few questions (or options), a commented hivemon.toml, and the sensors that publish already."""

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
    broker_port: Annotated[int | None, typer.Option("--broker-port", min=1, max=65535, help="Of your broker.")] = None,
    broker_tls: Annotated[
        bool | None, typer.Option("--broker-tls/--no-broker-tls", help="Encrypted or not; yes unless it is here.")
    ] = None,
    broker_user: Annotated[str | None, typer.Option("--broker-user", help="hivemon's own name at your broker.")] = None,
    broker_password_file: Annotated[
        str | None,
        typer.Option("--broker-password-file", help="Holds its password; or set HIVEMON_BROKER_PASSWORD."),
    ] = None,
    network: Annotated[
        bool | None,
        typer.Option("--network/--this-machine", help="Whom hivemon's own broker hears. It knows no passwords."),
    ] = None,
    listen: Annotated[
        float | None,
        typer.Option("--listen", min=0, max=86400, help="Seconds to listen for sensors that publish already."),
    ] = None,
    sensors: Annotated[
        bool,
        typer.Option("--sensors", help="Keep the file that is there; only listen, and add the sensors found to it."),
    ] = False,
    maps: Annotated[
        list[str] | None,
        typer.Option(
            "--map", help="What a number is: TOPIC=HIVE,QUANTITY,UNIT or TOPIC#/POINTER=...; may be repeated."
        ),
    ] = None,
    take: Annotated[
        str, typer.Option("--take", help="In a script, proposals to write: sure, likely, all or none.")
    ] = "sure",
    force: Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")] = False,
) -> None:
    """Write a hivemon.toml, and find the sensors.

    Asks what it is not told as options; in a script it needs at least the yard, its place and zone, and the hives.
    With --listen, or when you say so, it hears what is published, proposes what each number is and how sure that is,
    writes what you take, and shows how the hives look.
    """
    from hivemon.cli import configuration as form
    from hivemon.cli.finding import LEVELS, find_devices

    if take not in LEVELS:
        raise UsageError(f"--take {take}: not known", hint=f"one of {', '.join(LEVELS)}")
    ask = sys.stdin.isatty()
    if sensors:
        find_devices(output, yard, 60.0 if listen is None else listen, maps or [], take, ask=ask)
        return
    if output.exists() and not force:
        hint = "name another with --output, replace it with --force, or add sensors to it with --sensors"
        raise UsageError(f"{output} is there already", hint=hint)
    if not ask:
        _all_there({"--yard": yard, "--latitude": latitude, "--longitude": longitude, "--hives": hives})
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
        port=broker_port,
        tls=broker_tls,
        user=broker_user or "",
        password_file=broker_password_file or "",
    )
    if not answers.broker:
        told = None if network is None else "yes" if network else "no"
        answers = answers._replace(network=_answer(told, "--network", _NETWORK, form.yes_or_no, "no", ask=ask))
    _write(output, form.text_of(answers), answers)
    seconds = _answer(listen, "--listen", _LISTEN, form.seconds, "30" if ask else "0", ask=ask)
    if seconds:
        find_devices(output, None, seconds, maps or [], take, ask=ask)
    _next(output, answers)


def _all_there(given: dict[str, object]) -> None:
    """Name everything that a script has left out at once. The time zone has a default: this machine's."""
    missing = [option for option, value in given.items() if value is None]
    if missing:
        what = f"{', '.join(missing)} {'is' if len(missing) == 1 else 'are'} missing"
        raise UsageError(what, hint="there is nobody to ask here: give every answer as an option")


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
    screen.say(f"Wrote {output}: yard {answers.yard} ({answers.yard_id}), {len(answers.hives)} hives.")


def _next(output: Path, answers: "Answers") -> None:
    """Say what comes next."""
    if not answers.broker and not answers.network:
        screen.tell(
            "hivemon's own broker hears this machine alone; see bind under [embedded] for nodes on your network."
        )
    first = f"hives/{answers.yard_id}/{answers.hives[0]}"
    screen.say(f"Nodes that speak SenML publish to hives/{answers.yard_id}/<hive>, for example {first}. Then:")
    screen.say(f"  hivemon setup --sensors -o {output}     finds sensors that speak otherwise, whenever they are on")
    screen.say(f"  hivemon run --config {output}")
    screen.say(f"  hivemon overnight --config {output}     the next morning")


_NETWORK = "Do sensors reach this machine over your network (its broker then listens there, without passwords)?"
_LISTEN = "Seconds to listen for sensors that publish already (0: not now)?"

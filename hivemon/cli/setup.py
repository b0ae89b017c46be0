"""`hivemon setup`: a few questions (or options), a commented hivemon.toml, and the sensors that publish already."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.cli import screen
from hivemon.cli.asking import Given, ask_all, ask_seconds
from hivemon.errors import InputError, UsageError

if TYPE_CHECKING:
    from hivemon.cli.configuration import Answers


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(setup)


OutputOption = Annotated[Path, typer.Option("--output", "-o", help="The file to write.")]
YardOption = Annotated[str | None, typer.Option("--yard", help="What you call the place.")]
LatitudeOption = Annotated[float | None, typer.Option("--latitude", help="Degrees, north positive: 51.2.")]
LongitudeOption = Annotated[float | None, typer.Option("--longitude", help="Degrees, east positive: 3.4.")]
TimezoneOption = Annotated[str | None, typer.Option("--timezone", help="As in Europe/Brussels.")]
HivesOption = Annotated[str | None, typer.Option("--hives", help="Their ids, with commas: o1,o2.")]
BroodBoxesOption = Annotated[int | None, typer.Option("--brood-boxes", min=1, max=6, help="Of each hive.")]
WeightOption = Annotated[str | None, typer.Option("--weight", help="kg or lb.")]
TemperatureOption = Annotated[str | None, typer.Option("--temperature", help="C or F.")]
BrokerOption = Annotated[
    str | None,
    typer.Option("--broker", help="Your own MQTT broker's name or address; without it, the one inside hivemon."),
]
BrokerPortOption = Annotated[int | None, typer.Option("--broker-port", min=1, max=65535, help="Of your broker.")]
BrokerTlsOption = Annotated[
    bool | None, typer.Option("--broker-tls/--no-broker-tls", help="Encrypted or not; yes unless it is here.")
]
BrokerUserOption = Annotated[str | None, typer.Option("--broker-user", help="hivemon's own name at your broker.")]
BrokerPasswordFileOption = Annotated[
    str | None,
    typer.Option("--broker-password-file", help="Holds its password; or set HIVEMON_BROKER_PASSWORD."),
]
NetworkOption = Annotated[
    bool | None,
    typer.Option("--network/--this-machine", help="Whom hivemon's own broker hears. It knows no passwords."),
]
ListenOption = Annotated[
    float | None,
    typer.Option("--listen", min=0, max=86400, help="Seconds to listen for sensors that publish already."),
]
SensorsOption = Annotated[
    bool,
    typer.Option("--sensors", help="Keep the file that is there; only listen, and add the sensors found to it."),
]
MapsOption = Annotated[
    list[str] | None,
    typer.Option("--map", help="What a number is: TOPIC=HIVE,QUANTITY,UNIT or TOPIC#/POINTER=...; may be repeated."),
]
TakeOption = Annotated[str, typer.Option("--take", help="In a script, proposals to write: sure, likely, all or none.")]
ForceOption = Annotated[bool, typer.Option("--force", help="Replace the file if it is there.")]


def setup(
    output: OutputOption = Path("hivemon.toml"),
    yard: YardOption = None,
    latitude: LatitudeOption = None,
    longitude: LongitudeOption = None,
    timezone: TimezoneOption = None,
    hives: HivesOption = None,
    brood_boxes: BroodBoxesOption = None,
    weight: WeightOption = None,
    temperature: TemperatureOption = None,
    broker: BrokerOption = None,
    broker_port: BrokerPortOption = None,
    broker_tls: BrokerTlsOption = None,
    broker_user: BrokerUserOption = None,
    broker_password_file: BrokerPasswordFileOption = None,
    network: NetworkOption = None,
    listen: ListenOption = None,
    sensors: SensorsOption = False,
    maps: MapsOption = None,
    take: TakeOption = "sure",
    force: ForceOption = False,
) -> None:
    """Write a hivemon.toml, and find the sensors.

    Asks what it is not told as options; in a script it needs at least the yard, its place and zone, and the hives.
    With --listen, or when you say so, it hears what is published, proposes what each number is and how sure that is,
    writes what you take, and shows how the hives look.
    """
    from hivemon.cli.configuration import text_of
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
    given = Given(
        yard,
        latitude,
        longitude,
        timezone,
        hives,
        brood_boxes,
        weight,
        temperature,
        broker,
        network,
        broker_port,
        broker_tls,
        broker_user,
        broker_password_file,
    )
    answers = ask_all(given, ask=ask)
    _write(output, text_of(answers), answers)
    seconds = ask_seconds(listen, ask=ask)
    if seconds:
        find_devices(output, None, seconds, maps or [], take, ask=ask)
    _next(output, answers)


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
    names = ", ".join(answers.hives)
    hives = f"hive {names}" if len(answers.hives) == 1 else f"{len(answers.hives)} hives ({names})"
    screen.say(f"Wrote {output}: yard {answers.yard} ({answers.yard_id}), {hives}.")


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

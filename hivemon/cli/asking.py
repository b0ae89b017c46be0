"""The questions of `hivemon setup`: each answered by an option, else by a person, else by its default."""

from typing import TYPE_CHECKING, NamedTuple, TypeVar

import typer

from hivemon.cli import screen
from hivemon.errors import HivemonError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

    from hivemon.cli.configuration import Answers

T = TypeVar("T")


class Given(NamedTuple):
    """What the options said; None where they said nothing."""

    yard: str | None
    latitude: float | None
    longitude: float | None
    timezone: str | None
    hives: str | None
    brood_boxes: int | None
    weight: str | None
    temperature: str | None
    broker: str | None
    network: bool | None
    port: int | None
    tls: bool | None
    user: str | None
    password_file: str | None


def ask_all(given: Given, *, ask: bool) -> "Answers":
    """Return all answers; raises UsageError where an option is wrong, or missing with nobody to `ask`."""
    from hivemon.cli import configuration as form

    if not ask:
        _all_there({f"--{name}": getattr(given, name) for name in ("yard", "latitude", "longitude", "hives")})

    def answer(
        name: str, question: str, check: "Callable[[str], T]", default: str | None = None, told: object = None
    ) -> "T":
        value = getattr(given, name) if told is None else told
        return _answer(value, f"--{name.replace('_', '-')}", question, check, default, ask=ask)

    answers = form.Answers(
        yard=answer("yard", "What do you call the place where the hives stand?", form.a_name),
        latitude=answer("latitude", "Its latitude in degrees, north positive (51.2)?", form.latitude),
        longitude=answer("longitude", "Its longitude, east positive (3.4)?", form.longitude),
        timezone=answer("timezone", "Its time zone?", form.zone, form.own_zone()),
        hives=answer("hives", "A short id for each hive, with commas (o1,o2,o3)?", form.ids),
        brood_boxes=answer("brood_boxes", "Brood boxes of each hive?", form.boxes, "1"),
        weight=answer("weight", "Weights in kg or lb?", form.weight_unit, "kg"),
        temperature=answer("temperature", "Temperatures in C or F?", form.heat_unit, "C"),
        broker=answer("broker", "Your own MQTT broker (Enter: the one inside hivemon)?", form.host, ""),
        port=given.port,
        tls=given.tls,
        user=given.user or "",
        password_file=given.password_file or "",
    )
    if answers.broker:
        return answers
    told = None if given.network is None else "yes" if given.network else "no"
    return answers._replace(network=answer("network", NETWORK, form.yes_or_no, "no", told))


def ask_seconds(given: float | None, *, ask: bool) -> float:
    """Return how long to listen for sensors; in a script 0 unless told."""
    from hivemon.cli.configuration import seconds

    return _answer(given, "--listen", LISTEN, seconds, "30" if ask else "0", ask=ask)


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


NETWORK = "Do sensors reach this machine over your network (its broker then listens there, without passwords)?"
LISTEN = "Seconds to listen for sensors that publish already (0: not now)?"

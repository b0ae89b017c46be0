"""How to write down what was done: the command as it is typed."""

from __future__ import annotations

from hivemon.advice.words import say

_BEES, _MITES, _DAYS = 300, 4, 42
"""Examples: half a cup of bees, mites in it, and the days that strips stay in."""


def write(hive: str, entry: str) -> str:
    """Return the step of writing something down; `entry`: what follows the hive's id in `hivemon log add`."""
    return say("Write it in the logbook, on the page or like this: {command}.", command=_command(hive, entry))


def write_found(hive: str) -> str:
    """Return the step of writing down that a swarm was found."""
    return say("If you find it, write that down: {command}.", command=_command(hive, "swarm-seen"))


def write_eggs(hive: str) -> str:
    """Return the step of writing down whether there are eggs."""
    return say(
        'Write down what you saw, on the page or like this: {command} (or "{none}").',
        command=_command(hive, f'inspect --note "{say("eggs")}"'),
        none=say("no eggs"),
    )


def write_mites(hive: str) -> str:
    """Return the step of writing down a count."""
    return say(
        "Write down each count, on the page or like this, for {mites} mites on {bees} bees: {command}.",
        mites=f"{_MITES}",
        bees=f"{_BEES}",
        command=_command(hive, f"mite-wash --mites {_MITES} --bees {_BEES}"),
    )


def write_treatment(hive: str) -> str:
    """Return the step of writing down a treatment."""
    return say(
        "Write it down, on the page or like this, for strips of {days} days: {command}.",
        days=f"{_DAYS}",
        command=_command(hive, f"treat --note days={_DAYS}"),
    )


def _command(hive: str, entry: str) -> str:
    return f"`hivemon log add {hive} {entry}`"

"""Options that several commands share, and how the configuration and the store are found."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hivemon.errors import ConfigError, UsageError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from hivemon.config import HiveSettings, Settings, YardSettings
    from hivemon.model import HiveDay
    from hivemon.store import Store

MOST_NAMED = 12
"""Hives named in an error."""

ConfigOption = Annotated[
    Path | None,
    typer.Option(
        "--config",
        "-c",
        envvar="HIVEMON_CONFIG",
        help="The configuration. Default: ./hivemon.toml, then ~/.config/hivemon/hivemon.toml.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="JSON for other programs: kg, °C, times in UTC.")]
YardOption = Annotated[str | None, typer.Option("--yard", help="Only this yard.")]
HiveOption = Annotated[str | None, typer.Option("--hive", help="Only this hive, by its id or name.")]
SinceOption = Annotated[
    str | None,
    typer.Option("--since", help="Only from then on: 2026-06-12, '2026-06-12 14:00', or days back as 7d."),
]


def find_config(given: Path | None) -> Path:
    """Return the configuration to use; raises ConfigError when none is named and none stands in the usual places."""
    if given is not None:
        return given
    base = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    usual = [Path("hivemon.toml"), base / "hivemon" / "hivemon.toml"]
    for candidate in usual:
        if candidate.exists():
            return candidate
    raise ConfigError(
        f"no configuration: neither ./{usual[0]} nor {usual[1]} is there",
        hint="run `hivemon setup` to write one, or name one with --config; `hivemon demo` needs none",
    )


def load_settings(given: Path | None) -> "Settings":
    """Find, read and check the configuration."""
    from hivemon.config import load

    return load(find_config(given))


def open_store(settings: "Settings", *, read_only: bool = True, make: bool = False) -> "Store":
    """Open the store the configuration names. Only a command that brings something to keep makes one (`make`)."""
    from hivemon.errors import StoreError
    from hivemon.store import Store

    path = Path(settings.store.path)
    if not make and not path.exists():
        raise StoreError(
            f"nothing is kept yet: there is no store at {path}",
            hint="`hivemon run` makes it and listens for sensors, `hivemon import` makes it from files you have",
        )
    return Store.open(path, read_only=read_only)


def wanted_yards(settings: "Settings", yard: str | None) -> "list[YardSettings]":
    """Return the yards to show: all, or the one named; raises UsageError when it is not configured."""
    if yard is None:
        return list(settings.yard)
    found = [candidate for candidate in settings.yard if candidate.id == yard]
    if not found:
        known = ", ".join(candidate.id for candidate in settings.yard)
        raise UsageError(f"there is no yard {yard!r}", hint=f"known yards: {known}")
    return found


def hive_meant(settings: "Settings", store: "Store | None", said: str) -> tuple[str, str]:
    """Return yard and id of the hive a person means, by its id or its name; raises UsageError naming the nearest.

    Hives are those configured and (with a store) those adopted.
    """
    yards = {adopted.hive: adopted.yard for adopted in (store.adopted() if store is not None else [])}
    yards |= {configured.id: configured.yard for configured in settings.hive}
    if said in yards:
        return yards[said], said
    called: dict[str, list[str]] = {}
    for name, hive in [*((hive, hive) for hive in yards), *((one.name, one.id) for one in settings.hive if one.name)]:
        bearers = called.setdefault(_plain(name), [])
        if hive not in bearers:
            bearers.append(hive)
    found = called.get(_plain(said), [])
    if len(found) > 1:
        raise UsageError(f"{said!r} may be any of {_some(found)}", hint="give the id of the one you mean")
    if not found:
        near = [hive for name in _near(_plain(said), called) for hive in called[name]]
        hint = f"did you mean {_some(map(repr, near))}?" if near else f"known hives: {_some(sorted(yards)) or 'none'}"
        raise UsageError(f"there is no hive {said!r}", hint=hint)
    return yards[found[0]], found[0]


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _near(word: str, known: "Iterable[str]") -> list[str]:
    """Return the one word that is much like this one; none where there is none, or two are as like it."""
    import difflib

    found = difflib.get_close_matches(word, known, n=2, cutoff=0.75)
    likeness = [difflib.SequenceMatcher(None, name, word).ratio() for name in found]
    return [] if len(found) > 1 and likeness[0] == likeness[1] else found[:1]


def _some(names: "Iterable[str]") -> str:
    """Return the first names with commas; of a thousand hives not all."""
    every = list(names)
    more = f" and {len(every) - MOST_NAMED:,} more" if len(every) > MOST_NAMED else ""
    return ", ".join(every[:MOST_NAMED]) + more


def hives_with_days(settings: "Settings", yard: str, days: "list[HiveDay]") -> "list[HiveSettings]":
    """Return the configured hives of a yard, then the adopted ones that have hive days, by id."""
    configured = settings.hives_of(yard)
    known = {hive.id for hive in configured}
    adopted = sorted({day.hive for day in days} - known)
    return [*configured, *(settings.find_hive(hive, yard) for hive in adopted)]
